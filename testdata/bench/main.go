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

	"github.com/paintmark/paintmark/testdata/bench/pairs"
)

const turns = 21

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
	ours, bare := pairs.Program(filepath.Join(dir, "paintmark")), pairs.Program(filepath.Join(dir, "bare"))
	if err := pairs.Build("../..", ours, "./cmd/paintmark"); err != nil {
		return err
	}
	if err := pairs.Build(".", bare, "./bare"); err != nil {
		return err
	}
	if err := agree(ours, bare, car); err != nil {
		return err
	}
	fmt.Printf("%d rules over %d fields, %d pairs, %s/%s, %d processors\n", rules, fields, turns, runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	return pairs.Compare(turns, pairs.Command{Name: "check", Path: ours, Args: []string{"check", car}, Verdict: true}, pairs.Command{Name: "bare", Path: bare, Args: []string{car}}, 1.25)
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
