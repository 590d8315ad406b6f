package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"github.com/paintmark/paintmark/testdata/bench/pairs"
)

// buildPaintmark makes the program that checkCar names.
func buildPaintmark(dir string) error {
	return pairs.Build("../..", pairs.Program(filepath.Join(dir, "paintmark")), "./cmd/paintmark")
}

// checkCar is a folder of a car that looks at the log with the rules, in a pack of its own.
func checkCar(dir string) (paintmark, car string, err error) {
	paintmark, car = pairs.Program(filepath.Join(dir, "paintmark")), filepath.Join(dir, "car")
	if err := os.RemoveAll(car); err != nil { // of an earlier comparison
		return "", "", err
	}
	if out, err := exec.Command(paintmark, "new", car).CombinedOutput(); err != nil {
		return "", "", fmt.Errorf("%w: %s", err, out)
	}
	if err := os.Mkdir(filepath.Join(car, "packs"), 0o700); err != nil {
		return "", "", err
	}
	for name, text := range map[string]string{
		"limits.yaml":     "packs: [packs/many.yaml]\n",
		"channels.yaml":   channelsText(),
		"packs/many.yaml": packText(manyRules),
		"paintmark.yaml":  "cache: {folder: ../columns}\n",
	} {
		if err := os.WriteFile(filepath.Join(car, name), []byte(text), 0o600); err != nil {
			return "", "", err
		}
	}
	return paintmark, car, nil
}

func channelsText() string {
	var b strings.Builder
	b.WriteString("logger: {serial: unknown, car: unknown, clock: utc, run_counter: unknown}\nchannels:\n")
	for i := 1; i < columns; i++ {
		far, unit := 2*scaleOf(i), unitOf(i)
		fmt.Fprintf(&b, "  - {name: c%d, in_log: c%d, unit: %q, %s rate: 1000 Hz, range: -%g %s..%g %s, system: engine}\n", i, i, unit, reads(i), far, unit, far, unit)
	}
	return b.String()
}

func reads(i int) string {
	if unitOf(i) == "bar" {
		return "reads: gauge,"
	}
	return ""
}

func packText(n int) string {
	var b strings.Builder
	b.WriteString("pack: many\nversion: 0.1.0\ntitle: Many rules over one log\nchannels:\n")
	for i := 1; i < columns; i++ {
		fmt.Fprintf(&b, "  c%d: {%s quantity: %s}\n", i, reads(i), [...]string{"rotation", "pressure", "temperature", "speed", "share"}[i%5])
	}
	b.WriteString("rules:\n")
	for i, r := range theRules(n) {
		measure, unit, most := r.measure()
		fmt.Fprintf(&b, "  - {id: many.r%d, item: Rule %d, system: engine, seen: %q, measure: %q, unit: %q, fail: {above: %q}, accept: {fail: nobody, no-data: nobody}, do: Look, source: {kind: practice}, examples: [\n", i, i, r.seen(), measure, unit, most)
		for _, e := range [][3]string{
			{r.held(r.a, 0.2), r.held(r.b, 0.3), "pass"}, {r.held(r.a, 3), r.held(r.b, 0.3), "fail"}, {"missing", r.held(r.b, 0.3), "no data"},
		} {
			fmt.Fprintf(&b, "      {shown: {log: {c%d: [[0 s, %s], [2000 s, %s]], c%d: [[0 s, %s], [2000 s, %s]]}}, answer: %s},\n", r.a, e[0], e[0], r.b, e[1], e[1], e[2])
		}
		b.WriteString("    ]}\n")
	}
	return b.String()
}

// held is a value of a column for an example.
func (r logRule) held(column int, share float64) string {
	if column == r.b && r.kind == 3 {
		share = 0.5
	}
	return fmt.Sprintf("%g %s", share*scaleOf(column), unitOf(column))
}

// number is a share of a column's swing in CEL.
func number(column int, share float64) string {
	return fmt.Sprintf("%s(%.4f)", [...]string{"rpm", "bar", "degC", "kph", "percent"}[column%5], share*scaleOf(column))
}

// seen is what must have happened for the rule to say anything: that the channel was there.
func (r logRule) seen() string {
	return fmt.Sprintf("log.total(c%d > %s) >= s(1.0)", r.a, number(r.a, -3))
}

// measure is the rule as an author writes it, with the most it may come to.
func (r logRule) measure() (text, unit, most string) {
	a, b := fmt.Sprint("c", r.a), fmt.Sprint("c", r.b)
	half := number(r.b, 0.4)
	switch r.kind {
	case 0:
		return "log.max(" + a + ")", unitOf(r.a), number(r.a, 2)
	case 1:
		return fmt.Sprintf("log.total(%s > %s && %s < %s)", a, number(r.a, 0.6), b, half), "s", "s(1000.0)"
	case 2:
		return fmt.Sprintf("log.longest(%s > %s)", a, number(r.a, 0.9)), "s", "s(10.0)"
	case 3:
		return fmt.Sprintf("log.max(%s, %s > %s)", a, b, half), unitOf(r.a), number(r.a, 2)
	default:
		return fmt.Sprintf("log.mean(%s, %s < %s)", a, b, half), unitOf(r.a), number(r.a, 2)
	}
}

// wholeCheck looks at the log with the rules, as a whole process.
func wholeCheck(dir string) (string, error) {
	paintmark, car, err := checkCar(dir)
	if err != nil {
		return "", err
	}
	look := func() ([]byte, error) {
		c := exec.Command(paintmark, "check", car, "--log", filepath.Join(dir, csvName))
		out, err := c.Output()
		var exit *exec.ExitError
		if errors.As(err, &exit) && exit.ExitCode() == 2 { // other codes are answers
			return out, fmt.Errorf("%w: %s", err, out)
		}
		return out, nil
	}
	if _, err := look(); err != nil { // warm its cache
		return "", err
	}
	start := time.Now()
	_, err = look()
	worked = time.Since(start)
	return "", err
}

// kernelsAndStarts is the rules alone, and the program started three times to say its version.
func kernelsAndStarts(dir string) (string, error) {
	if _, err := rulesOurs(dir, manyRules); err != nil {
		return "", err
	}
	alone := worked
	paintmark, _, err := checkCar(dir)
	if err != nil {
		return "", err
	}
	start := time.Now()
	for range 3 {
		if err := exec.Command(paintmark, "version").Run(); err != nil {
			return "", err
		}
	}
	worked = alone + time.Since(start)
	return "", nil
}
