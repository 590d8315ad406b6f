package main

import (
	"compress/gzip"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"github.com/paintmark/paintmark/internal/runlog"
)

// Processes that look at one log at the same time share the cache of its columns, also one that
// is too small for the logs in it: each says what it says without a cache, and nothing
// half written is left.
func TestCacheOfTwoProcesses(t *testing.T) {
	top := t.TempDir()
	dir, cache := filepath.Join(top, "car"), filepath.Join(top, "cache")
	if err := os.CopyFS(dir, os.DirFS(filepath.Join(house, "testdata", "cars", "tern-3"))); err != nil {
		t.Fatal(err)
	}
	// The same log again in other bytes: another log to the cache.
	open := filepath.Join(top, "t3-057.csv")
	if err := unzip(filepath.Join(dir, "logs", "t3-057.csv.gz"), open); err != nil {
		t.Fatal(err)
	}
	if testing.Short() {
		t.Skip("starts eight processes")
	}
	looks := [][]string{{"check", "--part", "wing"}, {"check", "--part", "wing", "--log", open}}
	var want []string
	for _, look := range looks {
		said, code, err := process(dir, append(look, "--no-cache")...)
		if err != nil || code == exitFault || len(said) < 500 {
			t.Fatalf("%v: exit code %d, %v: %s", look, code, err, said)
		}
		want = append(want, said)
	}
	settings, err := os.ReadFile(filepath.Join(dir, "paintmark.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, round := range []struct {
		size  string
		looks []int
		kept  []int // whose columns are there afterwards; nil: whoever was last
	}{{"1 GiB", []int{0, 0}, []int{0}}, {"1 MiB", []int{1, 1}, []int{1}}, {"1 MiB", []int{0, 1}, nil}} {
		said := fmt.Sprintf("cache: {folder: %q, size: %s}\n", cache, round.size)
		if err := os.WriteFile(filepath.Join(dir, "paintmark.yaml"), append(settings, said...), 0o600); err != nil {
			t.Fatal(err)
		}
		var all sync.WaitGroup
		for _, i := range round.looks {
			all.Go(func() {
				if said, code, err := process(dir, looks[i]...); err != nil || said != want[i] {
					t.Errorf("%s, %v: exit code %d, %v:\n%s\nwithout a cache\n%s", round.size, looks[i], code, err, said, want[i])
				}
			})
		}
		all.Wait()
		left, _ := filepath.Glob(filepath.Join(cache, "*", ".unfinished-*"))
		more, _ := filepath.Glob(filepath.Join(cache, "*", "*", ".unfinished-*"))
		if left = append(left, more...); len(left) > 0 {
			t.Errorf("%s: left behind: %v", round.size, left)
		}
		for i, path := range []string{filepath.Join(dir, "logs", "t3-057.csv.gz"), open} {
			sum, err := runlog.Digest(path)
			if err != nil {
				t.Fatal(err)
			}
			columns, _ := filepath.Glob(filepath.Join(cache, "reader-*", sum, "column-*"))
			if there := len(columns) > 0; round.kept != nil && there != slices.Contains(round.kept, i) {
				t.Errorf("%s: %d columns of log %d are kept", round.size, len(columns), i)
			}
		}
	}
}

func unzip(from, to string) error {
	packed, err := os.Open(from)
	if err != nil {
		return err
	}
	defer packed.Close() //nolint:errcheck // it was only read
	r, err := gzip.NewReader(packed)
	if err != nil {
		return err
	}
	text, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	return os.WriteFile(to, text, 0o600)
}
