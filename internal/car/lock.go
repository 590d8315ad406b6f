package car

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/lockedfile"
)

// lockFile is held by whoever writes into the folder. It is empty and stays.
const lockFile = ".writing"

// Lock keeps every other program out that would write into a car folder, until unlock or the end
// of this process, however it ends. Whoever looks before writing (which numbers are taken, what is
// where) takes it before looking. It waits its turn; waiting, if not nil, is called when there is
// one to wait for. It also takes away what a crash left unfinished: nobody else is writing.
func Lock(dir string, waiting func()) (unlock func(), err error) {
	file := filepath.Join(dir, lockFile)
	type held struct {
		unlock func()
		err    error
	}
	done := make(chan held, 1)
	go func() {
		unlock, err := lockedfile.MutexAt(file).Lock()
		done <- held{unlock, err}
	}()
	var h held
	select {
	case h = <-done:
	case <-time.After(time.Second):
		if waiting != nil {
			waiting()
		}
		h = <-done
	}
	if errors.Is(h.err, errors.ErrUnsupported) {
		return func() {}, nil // a disk without locks: records are whole all the same
	}
	if h.err != nil {
		return nil, fmt.Errorf("cannot write into the car folder: %s", reason(h.err))
	}
	sweep(dir)
	return h.unlock, nil
}

// sweep takes away unfinished files. One that cannot go is in nobody's way.
func sweep(dir string) {
	folders := append([]string{".", sheets}, sortedKeys(recordFolders)...)
	for _, folder := range folders {
		entries, err := os.ReadDir(filepath.Join(dir, folder))
		if err != nil {
			continue
		}
		for _, e := range entries {
			if strings.HasPrefix(e.Name(), unfinished) {
				_ = os.Remove(filepath.Join(dir, folder, e.Name()))
			}
		}
	}
}

// plainEnds is content with the line ends a record is written with. Git on Windows may change
// them on the way; nobody edited anything by that.
func plainEnds(content []byte) []byte { return bytes.ReplaceAll(content, []byte("\r\n"), []byte("\n")) }
