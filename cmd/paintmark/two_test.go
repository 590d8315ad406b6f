package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"sync"
	"testing"

	"github.com/paintmark/paintmark/internal/car"
)

// process runs a whole process of the program in a folder.
func process(dir string, args ...string) (stdout string, code int, err error) {
	program, err := os.Executable()
	if err != nil {
		return "", 0, err
	}
	var out, said bytes.Buffer
	cmd := exec.Command(program, args...)
	cmd.Dir, cmd.Stdout, cmd.Stderr = dir, &out, &said
	cmd.Env = append(os.Environ(), "PAINTMARK_RUN_MAIN=1")
	err = cmd.Run()
	if failed, ok := err.(*exec.ExitError); ok {
		return out.String() + said.String(), failed.ExitCode(), nil
	}
	return out.String(), 0, err
}

// Many processes write into one folder at once, all by one person, who numbers the faults and
// jobs: every record is there, whole, and no number is taken twice.
func TestWritersSideBySide(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "car")
	if err := os.CopyFS(dir, os.DirFS(filepath.Join(house, "testdata", "cars", "tern-3"))); err != nil {
		t.Fatal(err)
	}
	before, faults := car.Open(dir)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	const each = 6
	var all sync.WaitGroup
	for i := range each {
		for _, args := range [][]string{
			{"note", "wing.bottle", fmt.Sprintf("%dbar", 160+i)},
			{"fault", "report", fmt.Sprintf("words %d", i), "--said-by", "TB"},
			{"job", "open", "sensors", fmt.Sprintf("work %d", i), "--opens", "nothing", "--before", "next event"},
		} {
			all.Go(func() {
				said, code, err := process(dir, append(args, "--by", "SQ", "--at", "2026-05-16T10:00+01:00")...)
				if err != nil || code != 0 {
					t.Errorf("%v: exit code %d, %v: %s", args, code, err, said)
				}
			})
		}
	}
	all.Wait()
	after, faults := car.Open(dir)
	if len(faults) > 0 {
		t.Error(faults)
	}
	if got, want := len(after.Records)-len(before.Records), 3*each; got != want {
		t.Errorf("%d records are there, of %d that were written", got, want)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*", ".new-*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// Two people write on two laptops from the same evening on, and git joins what they wrote: the
// car is the one that came of doing all of it on one laptop, to the byte of what is said of it.
// So is the one that `bring` joins.
func TestTwoLaptops(t *testing.T) {
	if testing.Short() {
		t.Skip("runs some fifty whole commands")
	}
	git, err := exec.LookPath("git")
	if err != nil {
		t.Skip("git is not here")
	}
	top := t.TempDir()
	one, left, right, carried := filepath.Join(top, "one"), filepath.Join(top, "left"), filepath.Join(top, "right"), filepath.Join(top, "carried")
	for _, dir := range []string{one, left, carried} {
		if err := os.CopyFS(dir, os.DirFS(filepath.Join(house, "testdata", "cars", "tern-3"))); err != nil {
			t.Fatal(err)
		}
	}
	in := func(dir string, args ...string) {
		t.Helper()
		cmd := exec.Command(git, append([]string{"-c", "user.name=HW", "-c", "user.email=hw@ashgill.example", "-c", "init.defaultBranch=car", "-c", "commit.gpgsign=false"}, args...)...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "GIT_CONFIG_GLOBAL="+os.DevNull, "GIT_CONFIG_NOSYSTEM=1")
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("git %v: %v\n%s", args, err, out)
		}
	}
	in(left, "init", "-q")
	in(left, "add", ".")
	in(left, "commit", "-qm", "evening")
	in(top, "clone", "-q", left, right)

	write := func(dir string, line []string) {
		t.Helper()
		if said, code, err := process(dir, line...); err != nil || code != 0 {
			t.Fatalf("%s: %v: exit code %d, %v: %s", filepath.Base(dir), line, code, err, said)
		}
	}
	at := func(clock string, args ...string) []string { return append(args, "--at", "2026-05-16T"+clock+"+01:00") }
	// In the order of the clock; the two laptops write in the same minutes, and once the same second.
	work := []struct {
		dir  string
		line []string
	}{
		{left, at("10:00", "fault", "report", "wing late", "--said-by", "TB", "--by", "HW")},
		{right, at("10:00", "fault", "report", "wing late", "--said-by", "TB", "--by", "PO")},
		{left, at("10:01", "job", "open", "wing", "slow", "--by", "HW", "--owner", "SQ")},
		{right, at("10:02", "note", "brakes.pad", "16.7mm", "16.6mm", "14.9mm", "14.8mm", "--by", "PO")},
		{left, at("10:02", "note", "wing.bottle", "160bar", "--by", "SQ")},
		{right, at("10:02", "note", "wing.bottle", "160bar", "--by", "PO")},
		{left, at("10:03", "sign", "--job", "HW-36", "--by", "SQ", "--saw", "clip in")},
		{right, at("10:04", "life", "swap", "GB-01", "GB-02", "--in", "gearbox", "--by", "PO")},
		{right, at("10:05", "note", "wing.bottle", "158bar", "--by", "PO")},
		{left, at("10:05", "weather", "wet", "rain", "9°C", "road=10°C", "975hPa", "--by", "SQ")},
		{left, at("10:07", "note", "wing.close_time", "0.29s", "supply=9.1bar", "cycles=5", "--by", "SQ")},
	}
	for _, w := range work {
		write(w.dir, w.line)
		write(one, w.line)
	}
	for _, dir := range []string{left, right} {
		in(dir, "add", ".")
		in(dir, "commit", "-qm", "records")
	}
	write(carried, []string{"bring", right})
	write(carried, []string{"bring", left})
	in(left, "pull", "-q", "--no-rebase", "--no-edit", right, "car")
	in(right, "pull", "-q", "--no-rebase", "--no-edit", left, "car")

	want := recordsOf(t, one)
	for _, dir := range []string{left, right, carried} {
		if got := recordsOf(t, dir); got != want {
			t.Errorf("%s has other records than one laptop:\n%s\nwant\n%s", filepath.Base(dir), got, want)
		}
		for _, args := range [][]string{{"check", "--all"}, {"check", "--format", "json"}, {"life", "--all"}, {"life", "--format", "json"}, {"life", "GB-02"}, {"life", "--plan"}} {
			here, code, err := process(dir, args...)
			there, _, err2 := process(one, args...)
			if err != nil || err2 != nil || code == exitFault || here != there || len(here) < 200 {
				t.Errorf("%s: %v differs from one laptop (exit code %d, %v, %v):\n%s\nwant\n%s", filepath.Base(dir), args, code, err, err2, here, there)
			}
		}
	}
}

// recordsOf lists the files below the folders of a car.
func recordsOf(t *testing.T, dir string) string {
	t.Helper()
	var files []string
	err := fs.WalkDir(os.DirFS(dir), ".", func(name string, d fs.DirEntry, err error) error {
		if err == nil && d.IsDir() && strings.HasPrefix(d.Name(), ".") && name != "." {
			return fs.SkipDir
		}
		if err == nil && !d.IsDir() && strings.Contains(name, "/") {
			files = append(files, name)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	sort.Strings(files)
	return strings.Join(files, "\n")
}
