package car

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
)

var summer = time.FixedZone("", 3600)

func draft() Draft {
	return Draft{
		Folder: "measured", At: time.Date(2026, 5, 16, 8, 35, 12, 999, summer), By: "SQ", What: "Wing, 5 cycles!",
		Body: []byte("measured:\n  wing: {close_time: {value: 0.29 s, cycles: 5}}\n"),
	}
}

func TestWrite(t *testing.T) {
	dir := t.TempDir()
	path, err := Write(dir, schema.Bundled, draft())
	if err != nil {
		t.Fatal(err)
	}
	if !regexp.MustCompile(`^measured/20260516T073512Z-SQ-wing-5-cycles-[0-9a-f]{6}\.yaml$`).MatchString(path) {
		t.Error(path)
	}
	data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(path)))
	if err != nil {
		t.Fatal(err)
	}
	if want := "at: 2026-05-16T08:35:12+01:00\nby: SQ\nmeasured:\n  wing: {close_time: {value: 0.29 s, cycles: 5}}\n"; string(data) != want {
		t.Errorf("%s", data)
	}
	if sum := digest(data)[:6]; !strings.Contains(path, sum) {
		t.Errorf("%s does not carry %s", path, sum)
	}
	again, err := Write(dir, schema.Bundled, draft())
	if err != nil || again != path {
		t.Errorf("the same record again: %s, %v", again, err)
	}
	if names := list(t, filepath.Join(dir, "measured")); len(names) != 1 {
		t.Error(names)
	}
	f, faults := Open(dir)
	if len(faults) != 2 || f.Roots(f.AsOf)["measured"].Get("wing.close_time.cycles").Int != 5 { // no car.yaml, no people.yaml
		t.Error(faults)
	}
}

func list(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// What cannot be a record is refused with its reasons, and nothing is left behind.
func TestWriteRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Draft)
		want   string
	}{
		"folder":   {func(d *Draft) { d.Folder = "measurd" }, "is no folder of records"},
		"initials": {func(d *Draft) { d.By = "S/Q" }, "are no initials"},
		"no time":  {func(d *Draft) { d.At = time.Time{} }, "has no time"},
		"unit":     {func(d *Draft) { d.Body = []byte("measured: {wing: {bottle: 172 mm}}") }, "a gauge pressure is wanted"},
		"key":      {func(d *Draft) { d.Body = []byte("measured: {wing: {botle: 172 bar}}") }, `did you mean "bottle"`},
		"no body":  {func(d *Draft) { d.Body = nil }, "`measured` is missing"},
		"twice at": {func(d *Draft) { d.Body = append([]byte("at: 2026-05-16T08:00Z\n"), d.Body...) }, "already written"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			d := draft()
			c.change(&d)
			if path, err := Write(dir, schema.Bundled, d); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%q, %v", path, err)
			}
			if names := list(t, dir); len(names) != 0 {
				t.Errorf("left behind: %v", names)
			}
		})
	}
}

func TestWriteNeverOverAnother(t *testing.T) {
	dir := t.TempDir()
	path, err := Write(dir, schema.Bundled, draft())
	if err != nil {
		t.Fatal(err)
	}
	full := filepath.Join(dir, filepath.FromSlash(path))
	if err := os.WriteFile(full, []byte("someone else's"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Write(dir, schema.Bundled, draft()); err == nil || !strings.Contains(err.Error(), "another record has this name") {
		t.Error(err)
	}
	if data, _ := os.ReadFile(full); string(data) != "someone else's" {
		t.Error("it was written over")
	}
	if names := list(t, filepath.Dir(full)); len(names) != 1 {
		t.Errorf("left behind: %v", names)
	}
}

// A folder that cannot be written gives one line with the reason, and no half record.
func TestWriteIntoWhatCannotBeWritten(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "measured"), nil, 0o644); err != nil { // a file in the folder's place
		t.Fatal(err)
	}
	if _, err := Write(dir, schema.Bundled, draft()); err == nil || strings.Contains(err.Error(), dir) || strings.Contains(err.Error(), "\n") {
		t.Error(err)
	}
	if runtime.GOOS == "windows" || os.Geteuid() == 0 {
		return // rights do not stop this user
	}
	dir = t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "measured"), 0o555); err != nil {
		t.Fatal(err)
	}
	if _, err := Write(dir, schema.Bundled, draft()); err == nil {
		t.Error("written into a folder without the right")
	}
}

// Two laptops on one stick, or two people at one: every record lands, whole.
func TestWriteSideBySide(t *testing.T) {
	dir := t.TempDir()
	var all sync.WaitGroup
	for i := range 16 {
		all.Go(func() {
			d := draft()
			d.Body = fmt.Appendf(nil, "measured: {wing: {bottle: %d bar}}", 100+i/2) // each twice
			if _, err := Write(dir, schema.Bundled, d); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if names := list(t, filepath.Join(dir, "measured")); len(names) != 8 {
		t.Error(names)
	}
}

// What a crash between writing and naming leaves is not read.
func TestHalfWrittenFilesAreNotRead(t *testing.T) {
	f := open(t, "measured/.new-123.yaml | at: 2026-")
	if len(f.Records) != 0 {
		t.Error(f.Records[0].File)
	}
}

// A document is changed whole or not at all, and only a document.
func TestEdit(t *testing.T) {
	dir := t.TempDir()
	for _, text := range []string{"setup: {revision: S14}\n", "setup: {revision: S15}\n"} {
		if err := Edit(dir, "setup.yaml", []byte(text)); err != nil {
			t.Fatal(err)
		}
		if data, err := os.ReadFile(filepath.Join(dir, "setup.yaml")); err != nil || string(data) != text {
			t.Errorf("%q, %v", data, err)
		}
	}
	for _, name := range []string{"setup.yml", "../car.yaml", "measured/a.yaml", "paintmark.yaml"} {
		if err := Edit(dir, name, nil); err == nil || !strings.Contains(err.Error(), "is no document") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if names := list(t, dir); len(names) != 1 {
		t.Errorf("left behind: %v", names)
	}
	if err := os.Remove(filepath.Join(dir, "setup.yaml")); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(dir, "setup.yaml", "in the way"), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := Edit(dir, "setup.yaml", nil); err == nil || !strings.Contains(err.Error(), "setup.yaml was not changed") || strings.Contains(err.Error(), dir) {
		t.Error(err)
	}
	if names := list(t, dir); len(names) != 1 {
		t.Errorf("left behind: %v", names)
	}
}

// Whoever has the folder takes away what a crash left; the next one waits and is told so.
func TestLock(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{".new-1", "measured/.new-2.yaml", "measured/.kept", "packs/.new-3"} {
		if err := os.MkdirAll(filepath.Join(dir, filepath.Dir(name)), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.FromSlash(name)), []byte("at: 2026-"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	unlock, err := Lock(dir, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(append(list(t, dir), list(t, filepath.Join(dir, "measured"))...), " "); got != ".writing measured packs .kept" {
		t.Error(got)
	}
	told, have := make(chan bool, 1), make(chan bool)
	go func() {
		next, err := Lock(dir, func() { told <- true })
		if err != nil {
			t.Error(err)
		} else {
			next()
		}
		have <- true
	}()
	<-told
	select {
	case <-have:
		t.Error("two have the folder")
	default:
	}
	unlock()
	<-have
}

// Line ends that git changed on the way are no edit, and the record is the same one.
func TestLineEnds(t *testing.T) {
	here, there := t.TempDir(), t.TempDir()
	file, err := Write(here, schema.Bundled, draft())
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(here, filepath.FromSlash(file)))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(there, "measured"), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(there, filepath.FromSlash(file)), []byte(strings.ReplaceAll(string(data), "\n", "\r\n")), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, faults := Open(there); strings.Contains(faults.Error(), "edited") {
		t.Error(faults)
	}
	if brought, err := Bring(here, os.DirFS(there)); err != nil || len(brought) > 0 {
		t.Error(brought, err)
	}
}
