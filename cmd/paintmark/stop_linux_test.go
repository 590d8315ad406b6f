package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Ctrl-C while a log is read, and while its columns are kept, ends the program with one line and
// leaves nothing half written behind; the next run says what one without a cache says.
func TestStoppedWhileReading(t *testing.T) {
	if testing.Short() {
		t.Skip("reads a long log several times")
	}
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	top := t.TempDir()
	dir, log, cache, temp := filepath.Join(top, "car"), filepath.Join(top, "long.csv"), filepath.Join(top, "cache"), filepath.Join(top, "temp")
	startCar(t, dir)
	writeLongLog(t, log)
	if err := os.Mkdir(temp, 0o755); err != nil {
		t.Fatal(err)
	}
	before := filesOf(t, dir)

	// check runs a check of the long log; where at is not nil, Ctrl-C is pressed once it says so.
	check := func(at func(pid int) bool, more ...string) (code int, said, complained string) {
		t.Helper()
		cmd := exec.Command(program, append([]string{"check", dir, "--log", log}, more...)...)
		cmd.Env = append(os.Environ(), "PAINTMARK_RUN_MAIN=1", "XDG_CACHE_HOME="+cache, "TMPDIR="+temp)
		var stdout, stderr bytes.Buffer
		cmd.Stdout, cmd.Stderr = &stdout, &stderr
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		over := make(chan struct{})
		go func() {
			_ = cmd.Wait()
			close(over)
		}()
		for waiting := at != nil; waiting; {
			select {
			case <-over:
				waiting = false
			case <-time.After(time.Millisecond / 4):
				if at(cmd.Process.Pid) {
					_ = cmd.Process.Signal(os.Interrupt)
					waiting = false
				}
			}
		}
		<-over
		return cmd.ProcessState.ExitCode(), stdout.String(), stderr.String()
	}
	halfWritten := func() (found []string) {
		for _, place := range []string{cache, temp} {
			_ = filepath.WalkDir(place, func(path string, d fs.DirEntry, err error) error {
				if err == nil && path != place && (place == temp || strings.HasPrefix(d.Name(), ".")) {
					found = append(found, path)
				}
				return nil
			})
		}
		return found
	}
	for when, at := range map[string]func(pid int) bool{
		"read": func(pid int) bool {
			open, _ := filepath.Glob(fmt.Sprintf("/proc/%d/fd/*", pid))
			for _, fd := range open {
				if file, _ := os.Readlink(fd); file == log {
					return true
				}
			}
			return false
		},
		"kept": func(int) bool {
			files, _ := filepath.Glob(filepath.Join(cache, "*", "*", "*", "*.arrow"))
			return len(files) > 0
		},
	} {
		code, said, complained := check(at)
		for try := 0; said != "" && try < 5; try++ { // it was faster than this test
			if err := os.RemoveAll(cache); err != nil {
				t.Fatal(err)
			}
			code, said, complained = check(at)
		}
		if code != exitFault || said != "" || complained != "paintmark: stopped before the car was looked over; paintmark check looks it over\n" {
			t.Errorf("stopped while the log is %s: exit code %d\n%s%s", when, code, said, complained)
		}
		if left := halfWritten(); len(left) > 0 {
			t.Errorf("stopped while the log is %s, it left %v", when, left)
		}
		if now := filesOf(t, dir); !maps.Equal(now, before) {
			t.Errorf("stopped while the log is %s, it changed %v", when, differing(now, before))
		}
	}
	wantCode, want, _ := check(nil, "--no-cache")
	if code, said, _ := check(nil); code != wantCode || said != want || want == "" {
		t.Errorf("after it was stopped: exit code %d, want %d\n%s\nwant\n%s", code, wantCode, said, want)
	}
}

// writeLongLog writes the log of run 57 several times over, one after the other.
func writeLongLog(t *testing.T, path string) {
	t.Helper()
	packed, err := os.Open(filepath.Join(house, "testdata", "cars", "tern-3", "logs", "t3-057.csv.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer packed.Close()
	unpacked, err := gzip.NewReader(packed)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(unpacked)
	if err != nil {
		t.Fatal(err)
	}
	head, rows, _ := bytes.Cut(text, []byte("\n0.000,"))
	lines := bytes.Split(bytes.TrimSpace(append([]byte("0.000,"), rows...)), []byte("\n"))
	long := append(head, '\n')
	for n := range 2 * len(lines) {
		_, cells, _ := bytes.Cut(lines[n%len(lines)], []byte(","))
		long = append(fmt.Appendf(long, "%.3f,", float64(n)/1000), cells...)
		long = append(long, '\n')
	}
	if err := os.WriteFile(path, long, 0o600); err != nil {
		t.Fatal(err)
	}
}
