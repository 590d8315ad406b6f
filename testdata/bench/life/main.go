// Life compares the life sheet of 400 parts over 2,000 run sheets with merely reading and
// parsing the files: whole processes, nothing cached, interleaved pairs, medians. Run it in
// the folder above: go run ./life
package main

import (
	"crypto/sha256"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"github.com/paintmark/paintmark/testdata/bench/pairs"
)

// The size of the comparison.
const (
	runs  = 2000
	parts = 400
	turns = 11
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

func run() error {
	dir, err := os.MkdirTemp("", "bench")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	car := filepath.Join(dir, "car")
	files, err := generate(car)
	if err != nil {
		return err
	}
	ours, bare := pairs.Program(filepath.Join(dir, "paintmark")), pairs.Program(filepath.Join(dir, "reading"))
	if err := pairs.Build("../..", ours, "./cmd/paintmark"); err != nil {
		return err
	}
	if err := pairs.Build(".", bare, "./reading"); err != nil {
		return err
	}
	if err := agree(ours, bare, car, files); err != nil {
		return err
	}
	fmt.Printf("%d run sheets, %d parts, %d files, %d pairs, %s/%s, %d processors\n", runs, parts, files, turns, runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	return pairs.Compare(turns, pairs.Command{Name: "life", Path: ours, Args: []string{"life", "--format", "csv", car}}, pairs.Command{Name: "reading", Path: bare, Args: []string{car}}, 5)
}

// agree makes sure that both read every file, and that the sheet holds what the runs add up to.
func agree(ours, bare, car string, files int) error {
	out, err := exec.Command(bare, car).Output()
	if err != nil {
		return err
	}
	if got := strings.TrimSpace(string(out)); got != fmt.Sprint(files) {
		return fmt.Errorf("reading read %s files of %d", got, files)
	}
	out, err = exec.Command(ours, "life", "--format", "csv", car).Output()
	if err != nil {
		return err
	}
	// P-001 sat in its place from the first run to the last, 2.5 km each.
	if want := fmt.Sprintf("P-001,part,place.001,,true,false,life,distance,km,%d,%d,", 100+runs*5/2, 100+runs*5/2); !strings.Contains(string(out), want) {
		return fmt.Errorf("the sheet does not hold %q", want)
	}
	return nil
}

// generate writes a car of 400 parts, half of them inside the others, that are swapped now and
// then, and its run sheets.
func generate(dir string) (files int, err error) {
	write := func(name, text string) {
		if err == nil {
			err = os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755)
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644)
		}
		files++
	}
	// A record's name says when it was, by whom, what, and what is in it.
	record := func(folder string, at time.Time, what, text string) {
		sum := sha256.Sum256([]byte(text))
		write(fmt.Sprintf("%s/%s-HW-%s-%x.yaml", folder, at.Format("20060102T150405Z"), what, sum[:3]), text)
	}
	write("car.yaml", "car: {name: Bench, chassis: B-1, number: \"1\"}\n")
	write("people.yaml", "people: [{initials: HW, name: Hanne Wulfram, hats: [lead-engineer]}]\n")
	write("meters.yaml", `meters:
  distance: {unit: km, count: log.integral(speed)}
  engine_hours: {unit: h, count: log.total(rpm > rpm(500.0))}
  shifts: {unit: "1", by_hand: true}
  launches: {unit: "1", by_hand: true}
`)
	write("channels.yaml", `logger: {serial: L-1, car: B-1, clock: none}
channels:
  - {name: speed, in_log: V, unit: m/s, rate: 10 Hz, range: 0 m/s..100 m/s}
  - {name: rpm, in_log: N, unit: rpm, rate: 10 Hz, range: 0 rpm..9000 rpm}
`)
	var register, places strings.Builder
	register.WriteString("parts:\n")
	places.WriteString("positions:\n")
	start := time.Date(2020, 1, 1, 8, 0, 0, 0, time.UTC)
	stamp := func(t time.Time) string { return t.Format("2006-01-02T15:04:05Z") }
	for i := 1; i <= parts; i++ {
		inside := ""
		if i <= parts/2 {
			inside = fmt.Sprintf(", children: [P-%03d]", i+parts/2)
		}
		fmt.Fprintf(&register, "  - {serial: P-%03d, kind: part, no_go_part: false, limits: [{meter: distance, life: 9000 km}, {meter: shifts, life: 90000}], inspect: [{what: look, every: {engine_hours: 500 h}, last: {at: 2019-12-01, used: {engine_hours: 10 h}}}], at_register: {as: counted, used: {distance: 100 km, shifts: 200, engine_hours: 10 h}}%s}\n", i, inside)
	}
	// A hundred places; parts 101 to 200 are spares.
	for i := 1; i <= parts/4; i++ {
		fmt.Fprintf(&places, "  - {position: place.%03d, needs: part}\n", i)
		at := start.Add(time.Duration(i) * time.Second)
		record("fitted", at, fmt.Sprintf("in-%d", i), fmt.Sprintf("at: %s\nby: HW\nfitted: {serial: P-%03d, position: place.%03d}\n", stamp(at), i, i))
	}
	write("parts.yaml", register.String())
	write("positions.yaml", places.String())
	for no := 1; no <= runs; no++ {
		at := start.Add(time.Duration(no) * time.Hour)
		record("runs", at, fmt.Sprintf("run-%d", no), fmt.Sprintf(`at: %s
by: HW
run:
  no: %d
  kind: test
  started: %s
  driver: HW
  setup: S%d
  fuel: {out: 9.0 kg, in: 7.1 kg}
  weather: {air: 12 °C, road: 15 °C, station_pressure: 976 hPa, road_state: dry}
  result: {time: 65.06 s, finished: true}
  meters: {distance: 2.5 km, engine_hours: 0.025 h, shifts: 42, launches: 2}
  values: {wing_return: 0.27 s, shift_pressure: 115 bar}
  said: all in order
`, stamp(at), no, stamp(at.Add(-6*time.Minute)), no/20))
		if no%20 == 0 { // a spare in, the other out, and next time back
			place := 2 + no/20%(parts/4-1)
			out, in := place, place+parts/4
			if no/20 > parts/4-1 {
				out, in = in, out
			}
			for k, body := range []string{fmt.Sprintf("removed: {serial: P-%03d, from: place.%03d}", out, place), fmt.Sprintf("fitted: {serial: P-%03d, position: place.%03d}", in, place)} {
				t := at.Add(time.Duration(10+k) * time.Minute)
				record("fitted", t, fmt.Sprintf("swap-%d", no+k), fmt.Sprintf("at: %s\nby: HW\n%s\n", stamp(t), body))
			}
		}
	}
	return files, err
}
