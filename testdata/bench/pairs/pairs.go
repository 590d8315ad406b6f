// Package pairs builds two programs and times them in turn, so that a machine that does other
// things at the same time slows both alike.
package pairs

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"time"
)

// Command is a program with what it is called with.
type Command struct {
	Name string // for the table
	Path string
	Args []string
	// Verdict: the exit code is an answer, not an error.
	Verdict bool
}

// Build builds a package into a program.
func Build(dir, out, pkg string) error {
	cmd := exec.Command("go", "build", "-o", out, pkg)
	cmd.Dir, cmd.Stderr = dir, os.Stderr
	return cmd.Run()
}

// Program is a program's file name on this system.
func Program(path string) string {
	if runtime.GOOS == "windows" {
		return path + ".exe"
	}
	return path
}

// Compare runs two whole processes in turn, n times each, and prints both medians and their
// ratio beside the one allowed.
func Compare(n int, a, b Command, allowed float64) error {
	var took [2][]time.Duration
	for range n {
		for i, c := range []Command{a, b} {
			start := time.Now()
			err := exec.Command(c.Path, c.Args...).Run()
			took[i] = append(took[i], time.Since(start))
			if failed := new(exec.ExitError); err != nil && (!c.Verdict || !errors.As(err, &failed)) {
				return fmt.Errorf("%s: %w", c.Name, err)
			}
		}
	}
	for i, c := range []Command{a, b} {
		slices.Sort(took[i])
		fmt.Printf("%-8s median %v, least %v\n", c.Name, took[i][n/2], took[i][0])
	}
	fmt.Printf("ratio of medians %.2f (may be %g)\n", float64(took[0][n/2])/float64(took[1][n/2]), allowed)
	return nil
}
