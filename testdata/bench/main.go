// Bench compares the commit check of 300 rules over a 400-field car with a bare cel-go
// program doing the same expressions: whole processes, nothing cached, 21 interleaved
// pairs, medians. Run it in this folder: go run .
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"time"
)

const pairs = 21

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
	if err := generate(car); err != nil {
		return err
	}
	ours, bare := filepath.Join(dir, "paintmark"), filepath.Join(dir, "bare")
	if runtime.GOOS == "windows" {
		ours, bare = ours+".exe", bare+".exe"
	}
	if err := build("../..", ours, "./cmd/paintmark"); err != nil {
		return err
	}
	if err := build(".", bare, "./bare"); err != nil {
		return err
	}
	if err := agree(ours, bare, car); err != nil {
		return err
	}
	var a, b []time.Duration
	for range pairs {
		a = append(a, clock(ours, "check", car))
		b = append(b, clock(bare, car))
	}
	slices.Sort(a)
	slices.Sort(b)
	x, y := a[pairs/2], b[pairs/2]
	fmt.Printf("%d rules over %d fields, %d pairs, %s/%s, %d processors\n", rules, fields, pairs, runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	fmt.Printf("check  median %v, least %v\nbare   median %v, least %v\nratio of medians %.2f (may be 1.25)\n", x, a[0], y, b[0], float64(x)/float64(y))
	return nil
}

func build(dir, out, pkg string) error {
	cmd := exec.Command("go", "build", "-o", out, pkg)
	cmd.Dir, cmd.Stderr = dir, os.Stderr
	return cmd.Run()
}

// agree refuses to compare two programs that do not answer alike.
func agree(ours, bare, car string) error {
	text, err := exec.Command(ours, "check", "--format", "json", car).Output()
	var failed *exec.ExitError
	if err != nil && !errors.As(err, &failed) {
		return err
	}
	var report struct {
		Counts map[string]int
		Faults []struct{ What string }
	}
	if err := json.Unmarshal(text, &report); err != nil {
		return fmt.Errorf("check: %w", err)
	}
	if len(report.Faults) > 0 {
		return fmt.Errorf("check has %d faults, the first: %s", len(report.Faults), report.Faults[0].What)
	}
	want, err := exec.Command(bare, car).Output()
	if err != nil {
		return fmt.Errorf("bare: %w", err)
	}
	if got := fmt.Sprintln(report.Counts["pass"], report.Counts["fail"]); got != string(want) {
		return fmt.Errorf("the two do not agree: check %sbare %s", got, want)
	}
	return nil
}

func clock(name string, args ...string) time.Duration {
	start := time.Now()
	_ = exec.Command(name, args...).Run() // the exit code is the verdict, not an error
	return time.Since(start)
}
