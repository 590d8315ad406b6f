package runlog

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
)

// A file that grows shorter while it is read is refused, wherever the reading has come to.
func TestFileGrowsShorter(t *testing.T) {
	text := append([]byte("Time,a\n"), bytes.Repeat([]byte("0.001,12.5\n"), 60_000)...)
	const size = 16 << 10
	opts := Options{Name: "run.csv", MaxBytes: MaxBytes, block: size}
	for _, when := range []string{"before it is cut", "after it is cut"} {
		path := filepath.Join(t.TempDir(), "run.csv")
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		file, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer file.Close()
		log, bad := openText(file, opts)
		if bad != nil {
			t.Fatal(bad)
		}
		defer log.unmap()
		l, bad := detect(log, opts.Name)
		if bad != nil {
			t.Fatal(bad)
		}
		shorten := func() {
			if err := os.Truncate(path, int64(len(text)/2)); err != nil {
				t.Fatal(err)
			}
		}
		if when == "before it is cut" {
			shorten()
		}
		bad = log.cut(context.Background(), l.delim, opts)
		if when == "after it is cut" {
			if bad != nil {
				t.Fatal(bad)
			}
			shorten()
			bad = newStore(l, log).fill(context.Background(), opts)
		}
		if bad == nil || bad.what != changed().what {
			t.Errorf("%s: %v", when, bad)
		}
	}
}
