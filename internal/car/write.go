package car

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Draft is a record to be written.
type Draft struct {
	Folder string    // "measured", "fitted", ...
	At     time.Time // to the second; its zone is kept
	By     string    // initials
	What   string    // a few words for the file name
	Body   []byte    // YAML after at and by, quantities as they were typed
}

// Write writes a record whole or not at all, and never over another: it is checked
// against its schema, written beside its place, brought to disk, and only then given its
// name, <UTC>-<initials>-<what>-<6 hex of its content>.yaml. The path is relative to dir, with
// forward slashes. Writing the same record again changes nothing and gives the same path.
func Write(dir string, set *schema.Set, d Draft) (string, error) {
	content, name, err := d.file(set)
	if err != nil {
		return "", err
	}
	if err := put(dir, d.Folder, name, content); err != nil {
		return "", fmt.Errorf("%s was not written: %w", path.Join(d.Folder, name), err)
	}
	return path.Join(d.Folder, name), nil
}

// put places a record in its folder of the car folder, which may be its first.
func put(dir, folder, name string, content []byte) error {
	full := filepath.Join(dir, folder)
	if _, err := os.Stat(full); errors.Is(err, fs.ErrNotExist) {
		if err := os.MkdirAll(full, 0o777); err != nil {
			return errors.New(reason(err))
		}
		if err := syncFolder(dir); err != nil {
			return err
		}
	}
	return place(full, name, content)
}

var (
	initialsForm = source.Form(`^[\pL]{1,8}$`)
	notInName    = source.Form(`[^a-z0-9]+`)
)

// file gives a record's content and name, or every reason why it cannot be one.
func (d Draft) file(set *schema.Set) (content []byte, name string, err error) {
	kind, ok := recordFolders[d.Folder]
	if !ok {
		return nil, "", fmt.Errorf("%q is no folder of records; use one of %s", d.Folder, strings.Join(sortedKeys(recordFolders), ", "))
	}
	if !initialsForm().MatchString(d.By) {
		return nil, "", fmt.Errorf("%q are no initials; write letters only, as in people.yaml", d.By)
	}
	if d.At.IsZero() {
		return nil, "", errors.New("the record has no time; say when it was")
	}
	at := d.At.Truncate(time.Second)
	var b bytes.Buffer
	fmt.Fprintf(&b, "at: %s\nby: %s\n", at.Format(time.RFC3339), d.By)
	b.Write(bytes.TrimLeft(d.Body, "\n"))
	if !bytes.HasSuffix(b.Bytes(), []byte("\n")) {
		b.WriteByte('\n')
	}
	name = recordName(at, d.By, cmp.Or(whatWords(d.What), kind), sealOf(b.Bytes()))
	node, faults := source.ParseYAML(path.Join(d.Folder, name), b.Bytes())
	if len(faults) == 0 {
		var t *schema.Type
		if t, err = set.Document(kind); err != nil {
			return nil, "", err
		}
		_, faults = schema.Read(node, t)
	}
	return b.Bytes(), name, faults.Err()
}

// unfinished is how a file is named until it is whole and on disk. Nothing reads such a file; Lock
// takes away those that a crash left.
const unfinished = ".new-"

// place brings content to disk and then to its name, in that order.
func place(folder, name string, content []byte) error {
	final := filepath.Join(folder, name)
	if _, err := os.Stat(final); err == nil {
		return same(final, content)
	}
	tmp, err := stage(folder, content)
	if err != nil {
		return err
	}
	defer os.Remove(tmp)
	// A link never replaces a file. Where the disk knows none, as on a stick, the name
	// was looked up above and renaming is as near as one gets.
	if err := os.Link(tmp, final); errors.Is(err, fs.ErrExist) {
		return same(final, content)
	} else if err != nil {
		if err := os.Rename(tmp, final); err != nil {
			return errors.New(reason(err))
		}
	}
	return syncFolder(folder)
}

// stage brings content to disk under a name of its own, which the caller moves or removes.
func stage(folder string, content []byte) (string, error) {
	tmp, err := os.CreateTemp(folder, unfinished+"*")
	if err != nil {
		return "", errors.New(reason(err))
	}
	_, err = tmp.Write(content)
	if err == nil {
		err = tmp.Chmod(0o644)
	}
	if err == nil {
		err = tmp.Sync()
	}
	if e := tmp.Close(); err == nil {
		err = e
	}
	if err != nil {
		os.Remove(tmp.Name())
		return "", errors.New(reason(err))
	}
	return tmp.Name(), nil
}

// Edit gives a document of the folder (setup.yaml) new contents, whole or not at all: whoever
// reads it, and whoever comes after a crash, finds the old ones or the new ones.
func Edit(dir, name string, content []byte) error {
	if !slices.Contains(documentFiles(), name) {
		return fmt.Errorf("%s is no document; they are %s", name, strings.Join(documentFiles(), ", "))
	}
	tmp, err := stage(dir, content)
	if err == nil {
		if err = os.Rename(tmp, filepath.Join(dir, name)); err != nil {
			os.Remove(tmp)
		} else {
			err = syncFolder(dir)
		}
	}
	if err != nil {
		return fmt.Errorf("%s was not changed: %s", name, reason(err))
	}
	return nil
}

// same says that the record of this name is the very one to be written.
func same(final string, content []byte) error {
	if there, err := os.ReadFile(final); err != nil {
		return errors.New(reason(err))
	} else if !bytes.Equal(plainEnds(there), plainEnds(content)) {
		return errors.New("another record has this name; say what it is in other words")
	}
	return nil
}

// syncFolder brings the new name to disk; Windows does so by itself and cannot be asked.
func syncFolder(folder string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(folder)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}
