package main

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// recordCommands write every kind of record there is, and the one document that a command edits,
// in an order in which each of them can be. OTHER is another copy of the folder.
var recordCommands = [][]string{
	{"in", "57", "logs/t3-057.csv.gz", "--by", "SQ", "--driver", "TB", "--session", "P1", "--meter", "heat_cycles=1", "--said", "wing late", "--at", "2026-05-16T09:48+01:00"},
	{"note", "brakes.pad", "16.7mm", "16.6mm", "14.9mm", "14.8mm", "--by", "TB", "--at", "2026-05-16T10:00+01:00"},
	{"fault", "report", "push at the hairpin", "--said-by", "TB", "--by", "HW", "--at", "2026-05-16T10:01+01:00"},
	{"fault", "clear", "HW-35", "tyres cold", "--by", "HW", "--at", "2026-05-16T10:02+01:00"},
	{"job", "open", "wing", "slow, 0.47 s", "--by", "HW", "--owner", "SQ", "--at", "2026-05-16T10:03+01:00"},
	{"sign", "--job", "HW-36", "--by", "SQ", "--saw", "clip in", "--at", "2026-05-16T10:04+01:00"},
	{"sign", "--job", "HW-36", "--second", "--by", "PO", "--saw", "mark, clip", "--at", "2026-05-16T10:05+01:00"},
	{"job", "close", "HW-36", "silencer new", "--by", "SQ", "--proof", "wing-five-cycles,wing-fail-safe-proof", "--complete", "--at", "2026-05-16T10:06+01:00"},
	{"setup", "bars.rear", "P3", "--revision", "S15", "--by", "HW", "--at", "2026-05-16T10:07+01:00"},
	{"done", "bars.rear", "--by", "PO", "--at", "2026-05-16T10:08+01:00"},
	{"weather", "wet", "rain", "9°C", "road=10°C", "975hPa", "--by", "SQ", "--at", "2026-05-16T10:09+01:00"},
	{"baseline", "--by", "SQ", "--at", "2026-05-16T10:10+01:00"},
	{"accept", "gearbox.oil-temp", "--by", "HW", "--with", "PO", "--not-beyond", "128°C", "--runs", "2", "--at", "2026-05-16T10:11+01:00"},
	{"lockout", "wing", "--by", "SQ", "--second", "PO", "--state", "high downforce", "--pinned", "--at", "2026-05-16T10:12+01:00"},
	{"life", "swap", "GB-01", "GB-02", "--in", "gearbox", "--by", "PO", "--at", "2026-05-16T13:00+01:00"},
	{"life", "remove", "GS-02", "--by", "PO", "--at", "2026-05-16T14:30+01:00"},
	{"life", "remove", "GS-04", "--by", "PO", "--at", "2026-05-16T14:31+01:00"},
	{"life", "assemble", "GS-04", "--into", "GB-02", "--by", "PO", "--at", "2026-05-16T14:32+01:00"},
	{"life", "inspect", "GS-04", "crack test", "--result", "fit", "--method", "dye", "--by", "PO", "--at", "2026-05-16T14:40+01:00"},
	{"life", "overhaul", "E-07", "--by", "SQ", "--at", "2026-05-16T14:50+01:00"},
	{"life", "retire", "GB-01", "--by", "PO", "--why", "cracked", "--at", "2026-05-16T15:00+01:00"},
	{"life", "send", "GS-02", "--to", "the other car", "--by", "PO", "--at", "2026-05-16T15:20+01:00"},
	{"life", "receive", "fitted/20260516T142000Z-PO-gs-02-left-@.yaml", "--by", "PO", "--at", "2026-05-16T15:25+01:00"},
	{"life", "remove", "DRY-3", "--by", "TB", "--at", "2026-05-16T15:29+01:00"},
	{"life", "fit", "DRY-2", "--in", "tyres", "--by", "TB", "--at", "2026-05-16T15:30+01:00"},
	{"life", "correct", "fitted/20260516T143000Z-TB-dry-2-in-@.yaml", "--by", "TB", "--why", "it was WET-1", "--at", "2026-05-16T15:31+01:00"},
	{"life", "recount", "--run", "57", "--by", "SQ", "--at", "2026-05-16T15:32+01:00"},
	{"bring", "OTHER"},
}

// Killed before any system call that writes, a command that writes records leaves each of them
// whole or not there at all, and a document as it was or as it is to be; what it writes is on disk
// before it gets its name; and the next command sweeps up.
//
// Every command is stopped before each such call, where the folder is what a kill would leave, and
// looked at. With PAINTMARK_EVERY_KILL set, as CI does, each is then killed at every one of them in
// truth; else some are at one.
func TestKilledWhileWriting(t *testing.T) {
	if testing.Short() {
		t.Skip("traces some thirty whole commands")
	}
	every := os.Getenv("PAINTMARK_EVERY_KILL") != ""
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	run := func(t *testing.T, dir string, args []string, at func(writingCall) bool) (int, string) {
		t.Helper()
		cmd := exec.Command(program, args...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "PAINTMARK_RUN_MAIN=1", "GOMAXPROCS=1")
		out, err := os.CreateTemp(t.TempDir(), "out")
		if err != nil {
			t.Fatal(err)
		}
		defer out.Close()
		cmd.Stdout, cmd.Stderr = out, out
		code, err := traceWriting(cmd, dir, at)
		if errors.Is(err, errNoTrace) && !every {
			t.Skip(err)
		} else if err != nil {
			t.Fatal(err)
		}
		said, _ := os.ReadFile(out.Name())
		return code, string(said)
	}
	top, err := filepath.EvalSymlinks(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	car, other := filepath.Join(top, "car"), filepath.Join(top, "other")
	startCar(t, car)
	startCar(t, other)
	if code, said := run(t, other, []string{"note", "wing.bottle", "172bar", "--by", "SQ", "--at", "2026-05-16T16:00+01:00"}, keepOn); code != 0 {
		t.Fatal(said)
	}
	for n, args := range recordCommands {
		args = slices.Clone(args)
		for i, a := range args {
			args[i] = strings.Replace(a, "OTHER", other, 1)
			if strings.Contains(a, "@") {
				args[i] = theFile(t, car, strings.Replace(a, "@", "*", 1))
			}
		}
		if slices.Contains(args, "recount") { // there has to be something to count again
			countStandingOut(t, car)
		}
		before := filesOf(t, car)
		var states []map[string]string
		var calls []writingCall
		code, said := run(t, car, args, func(c writingCall) bool {
			calls = append(calls, c)
			states = append(states, filesOf(t, car))
			return true
		})
		if code == exitFault {
			t.Fatalf("%v: %s", args, said)
		}
		after := filesOf(t, car)
		if maps.Equal(before, after) || len(calls) < 3 {
			t.Fatalf("%v wrote nothing, or its calls were not seen: %v", args, calls)
		}
		for i, now := range states {
			wholeOrNot(t, fmt.Sprintf("%v before call %d, %v", args, i, calls[i]), now, before, after)
		}
		onDiskFirst(t, args, calls)
		if !every && n%4 != 0 {
			continue
		}
		t.Run(strings.Join(args[:2], " "), func(t *testing.T) {
			t.Parallel()
			again := filepath.Join(top, fmt.Sprint("again", n))
			startCar(t, again)
			for i := range calls {
				if !every && i != (n+3)%len(calls) {
					continue
				}
				setTo(t, again, before)
				seen := 0
				code, said := run(t, again, args, func(writingCall) bool { seen++; return seen <= i })
				if code != -1 {
					t.Errorf("not killed before call %d of %d: exit code %d, %s", i, len(calls), code, said)
					continue
				}
				now := filesOf(t, again)
				wholeOrNot(t, fmt.Sprintf("killed before call %d, %v", i, calls[i]), now, before, after)
				if every && i%3 != n%3 {
					continue
				}
				// What is not there yet, or begun, can be done again. A record that is there is there.
				if maps.Equal(now, before) || args[0] == "setup" {
					run(t, again, args, keepOn)
					if done := filesOf(t, again); !maps.Equal(done, after) && !(args[0] == "setup" && maps.Equal(now, after)) {
						t.Errorf("killed before call %d and done again, it did not come to the same: %v", i, differing(done, after))
					}
				} else {
					run(t, again, []string{"note", "wing.hinge_play", "0.2mm", "--by", "TB", "--at", "2026-05-16T17:00+01:00"}, keepOn)
				}
				if left, _ := filepath.Glob(filepath.Join(again, "*", ".new-*")); len(left) > 0 {
					t.Errorf("left behind: %v", left)
				}
			}
		})
	}
}

func keepOn(writingCall) bool { return true }

// startCar copies the car as it stands before run 57 was taken in.
func startCar(t *testing.T, dir string) {
	t.Helper()
	if err := os.CopyFS(dir, os.DirFS(filepath.Join(house, "testdata", "cars", "tern-3"))); err != nil {
		t.Fatal(err)
	}
	for _, after := range []string{"runs/*-run-57-*", "signed/20260516T085*", "measured/20260516T085*"} {
		files, _ := filepath.Glob(filepath.Join(dir, filepath.FromSlash(after)))
		if len(files) == 0 {
			t.Fatalf("no %s", after)
		}
		for _, f := range files {
			if err := os.Remove(f); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// countStandingOut changes the meter of distance.
func countStandingOut(t *testing.T, dir string) {
	t.Helper()
	file := filepath.Join(dir, "meters.yaml")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	changed := strings.Replace(string(text), "count: log.integral(speed)", "count: 'log.integral(speed, speed > kph(10.0))'", 1)
	if changed == string(text) {
		t.Fatal("meters.yaml counts distance in another way")
	}
	if err := os.WriteFile(file, []byte(changed), 0o644); err != nil {
		t.Fatal(err)
	}
}

// theFile is the one file of a folder that a pattern finds.
func theFile(t *testing.T, dir, pattern string) string {
	t.Helper()
	found, err := fs.Glob(os.DirFS(dir), pattern)
	if err != nil || len(found) != 1 {
		t.Fatalf("%s: %v %v", pattern, found, err)
	}
	return found[0]
}

// Every command that somebody puts initials to is among those that are killed.
func TestEveryRecordCommandIsKilled(t *testing.T) {
	var look func(c *cobra.Command)
	look = func(c *cobra.Command) {
		words := strings.Fields(c.CommandPath())[1:]
		killed := slices.ContainsFunc(recordCommands, func(args []string) bool { return slices.Equal(args[:min(len(words), len(args))], words) })
		if c.Flags().Lookup("by") != nil && !killed {
			t.Errorf("%v is missing", words)
		}
		for _, sub := range c.Commands() {
			look(sub)
		}
	}
	look(newRoot())
}

// filesOf gives every file of a folder that anything reads, with its content; logs by their size.
func filesOf(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasPrefix(d.Name(), ".") || strings.HasPrefix(name, "logs/") {
			return err
		}
		content, err := os.ReadFile(filepath.Join(dir, name))
		files[name] = string(content)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// setTo makes these the files of a folder, with no folder in it that held none.
func setTo(t *testing.T, dir string, files map[string]string) {
	t.Helper()
	now := filesOf(t, dir)
	for _, name := range differing(now, files) {
		content, there := files[name]
		file := filepath.Join(dir, name)
		err := os.MkdirAll(filepath.Dir(file), 0o755)
		switch {
		case err != nil:
		case there:
			err = os.WriteFile(file, []byte(content), 0o644)
		default:
			err = os.Remove(file)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	held := map[string]bool{"logs": true}
	for name := range files {
		held[strings.Split(name, "/")[0]] = true
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.IsDir() && !held[e.Name()] {
			if err := os.RemoveAll(filepath.Join(dir, e.Name())); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// wholeOrNot: every file is as it was or as it is to be, and none is gone.
func wholeOrNot(t *testing.T, when string, now, before, after map[string]string) {
	t.Helper()
	for name, content := range now {
		was, had := before[name]
		if is, has := after[name]; !(had && content == was) && !(has && content == is) {
			t.Errorf("%s: %s is neither what it was nor what it is to be:\n%s", when, name, content)
		}
	}
	for name := range before {
		if _, there := now[name]; !there {
			t.Errorf("%s: %s is gone", when, name)
		}
	}
}

func differing(a, b map[string]string) []string {
	var out []string
	for _, m := range []map[string]string{a, b} {
		for name := range m {
			_, inA := a[name]
			_, inB := b[name]
			if inA != inB || a[name] != b[name] {
				out = append(out, name)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// onDiskFirst: what gets a name was brought to disk since it was last written to, and then so was
// the folder with the name in it.
func onDiskFirst(t *testing.T, args []string, calls []writingCall) {
	t.Helper()
	onDisk, named := map[string]bool{}, ""
	for _, c := range calls {
		switch c.name {
		case "write", "truncate":
			onDisk[c.file] = false
		case "sync":
			onDisk[c.file] = true
			if c.file == named {
				named = ""
			}
		case "link", "rename":
			if !onDisk[c.file] {
				t.Errorf("%v: %s gets its name before it is on disk", args, filepath.Base(c.file))
			}
			named = filepath.Dir(c.file)
		}
	}
	if named != "" {
		t.Errorf("%v: the names in %s are not brought to disk", args, filepath.Base(named))
	}
}
