package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	_ "time/tzdata" // zones for the processes below, also where the system has none
)

// TestSameInputsSameBytes runs whole processes: with one and with eight processors, from
// two folders, in two time zones. Nothing of that may be seen in a report.
func TestSameInputsSameBytes(t *testing.T) {
	runs := 100
	if testing.Short() {
		runs = 8
	}
	here := filepath.Join(house, "testdata", "cars", "tern-3")
	there := filepath.Join(t.TempDir(), "another place", "car")
	if err := os.CopyFS(there, os.DirFS(here)); err != nil {
		t.Fatal(err)
	}
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	first := map[string][]byte{}
	one := func(i int) error {
		dir := []string{here, there}[i/2%2]
		args := [][]string{{"check", "--format", "json", dir}, {"check", "--all", dir}, {"why", "wing.close-time", dir}}[i%3]
		cmd := exec.Command(program, args...)
		cmd.Env = append(os.Environ(), "PAINTMARK_RUN_MAIN=1", fmt.Sprint("GOMAXPROCS=", []int{1, 8}[i%2]), "TZ="+[]string{"Asia/Tokyo", "America/Lima"}[i/4%2])
		out, err := cmd.Output()
		if failed, ok := err.(*exec.ExitError); err != nil && (!ok || failed.ExitCode() > exitPart) {
			return fmt.Errorf("%v: %w", args, err)
		}
		if len(out) < 500 {
			return fmt.Errorf("%v printed only %q", args, out)
		}
		mu.Lock()
		defer mu.Unlock()
		if before, ok := first[args[0]+args[1]]; !ok {
			first[args[0]+args[1]] = out
		} else if !bytes.Equal(before, out) {
			return fmt.Errorf("run %d of %v differs from the first:\n%s", i, args, out)
		}
		return nil
	}
	next := make(chan int)
	var workers sync.WaitGroup
	for range 2 {
		workers.Go(func() {
			for i := range next {
				if err := one(i); err != nil {
					t.Error(err)
				}
			}
		})
	}
	for i := range runs {
		next <- i
	}
	close(next)
	workers.Wait()
}
