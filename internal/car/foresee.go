package car

import (
	"bytes"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Foresee opens the folder as it would be once records were written, writing nothing. The
// error says why a draft is no record at all; faults are those that the folder would have
// then and does not have now: an impossible history names its other record.
func Foresee(fsys fs.FS, now source.Faults, set *schema.Set, drafts ...Draft) (*Folder, source.Faults, error) {
	files := map[string][]byte{}
	for _, d := range drafts {
		content, name, err := d.file(set)
		if err != nil {
			return nil, nil, err
		}
		files[path.Join(d.Folder, name)] = content
	}
	f, faults := ForeseeFiles(fsys, now, files)
	return f, faults, nil
}

// ForeseeFiles is Foresee for whole files, by their paths; a document that is there is
// taken to be written over.
func ForeseeFiles(fsys fs.FS, now source.Faults, files map[string][]byte) (*Folder, source.Faults) {
	f, faults := OpenFS(overlay{fsys, files})
	return f, New(faults, now)
}

// New are the faults that were not there before.
func New(faults, before source.Faults) source.Faults {
	return slices.DeleteFunc(slices.Clone(faults), func(f source.Fault) bool { return slices.Contains(before, f) })
}

// overlay is a file system with files added or written over.
type overlay struct {
	fs.FS
	added map[string][]byte
}

func (o overlay) ReadFile(name string) ([]byte, error) {
	if data, ok := o.added[name]; ok {
		return slices.Clone(data), nil
	}
	return fs.ReadFile(o.FS, name)
}

func (o overlay) Open(name string) (fs.File, error) {
	if data, ok := o.added[name]; ok {
		return &addedFile{addedEntry{name: path.Base(name), size: int64(len(data))}, bytes.NewReader(data)}, nil
	}
	return o.FS.Open(name)
}

func (o overlay) ReadDir(name string) ([]fs.DirEntry, error) {
	entries, err := fs.ReadDir(o.FS, name)
	for file, data := range o.added {
		dir, base := path.Split(file)
		e := addedEntry{name: base, size: int64(len(data))}
		switch dir = strings.TrimSuffix(dir, "/"); {
		case name == "." && dir != "":
			e = addedEntry{name: dir, dir: true}
		case name != dir:
			continue
		}
		if !slices.ContainsFunc(entries, func(old fs.DirEntry) bool { return old.Name() == e.name }) {
			entries = append(entries, e)
			err = nil // the folder will be made with its first record
		}
	}
	slices.SortFunc(entries, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	return entries, err
}

// addedEntry is a file or folder that is not there yet.
type addedEntry struct {
	name string
	dir  bool
	size int64
}

func (e addedEntry) Name() string               { return e.name }
func (e addedEntry) IsDir() bool                { return e.dir }
func (e addedEntry) Size() int64                { return e.size }
func (e addedEntry) ModTime() time.Time         { return time.Time{} }
func (e addedEntry) Sys() any                   { return nil }
func (e addedEntry) Info() (fs.FileInfo, error) { return e, nil }
func (e addedEntry) Type() fs.FileMode          { return e.Mode().Type() }

func (e addedEntry) Mode() fs.FileMode {
	if e.dir {
		return fs.ModeDir | 0o755
	}
	return 0o644
}

type addedFile struct {
	addedEntry
	*bytes.Reader
}

func (f *addedFile) Stat() (fs.FileInfo, error) { return f.addedEntry, nil }
func (f *addedFile) Close() error               { return nil }
func (f *addedFile) Size() int64                { return f.addedEntry.size }
