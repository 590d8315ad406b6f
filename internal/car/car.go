// Package car reads a car folder: the documents people edit and the records that are
// written once, all faults of all files at once, and folds the records into what is
// true now. It writes records whole or not at all. It knows nothing of rules or logs.
package car

import (
	"cmp"
	"io/fs"
	"os"
	"slices"
	"sync"
	"time"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Folder is one car as its folder tells it. It is not changed after Open.
type Folder struct {
	// Files lists every file that was read, by path.
	Files []File
	// AsOf is the time of the newest record; zero while there is none.
	AsOf time.Time
	// Records holds every record, oldest first; equal times by file name.
	Records []*Record

	Logger    Logger
	Channels  []Channel  // in the order written
	Derived   []Derived  // in the order written
	Meters    []Meter    // in the order written
	Positions []Position // in the order written
	// Of limits.yaml, in the order written.
	Packs     []Text
	Plugins   []Text
	Overrides []Override

	set    *schema.Set
	docs   map[string]*document // by schema name; trips by "trips/<map>"
	byFile map[string]*Record

	inSI sync.Map // baselines with their channels' values in SI, by the baseline
}

// File is one file of the folder.
type File struct {
	Path   string // relative, with forward slashes
	SHA256 string // of its bytes, hex
}

// Text is a word with its place.
type Text struct {
	Text string
	Pos  source.Pos
}

// Open reads a car folder. The folder is given back with everything that could be
// understood even when there are faults; with any fault it must not be judged by.
// Faults are sorted by file and place; file names are relative, with forward slashes. A
// record that is not as it was written is among them.
func Open(dir string) (*Folder, source.Faults) {
	f, faults := OpenFS(os.DirFS(dir))
	f.checkEdited(&faults)
	return f, faults.Sorted()
}

// OpenFS is Open for any file system. It takes records by what they say, whatever their names.
func OpenFS(fsys fs.FS) (*Folder, source.Faults) {
	f := &Folder{set: &schema.Set{}, docs: map[string]*document{}, byFile: map[string]*Record{}}
	r := &loader{folder: f, fsys: fsys}
	r.load()
	if f.docs["car"] == nil && !r.unreadable["car.yaml"] {
		r.faults.Add(source.Pos{File: "car.yaml"}, "there is no car.yaml in this folder", "give the folder of a car, or write one with `new`")
	}
	f.readChannels(&r.faults)
	f.readDerived(&r.faults)
	f.readMeters(&r.faults)
	f.readPositions()
	f.checkRegister(&r.faults)
	f.readLimits(&r.faults)
	f.checkRecords(&r.faults)
	f.checkNames(&r.faults)
	f.checkTrips(&r.faults)
	return f, r.faults.Sorted()
}

// Types gives the type of every name that expressions may use, a team's own fields included.
func (f *Folder) Types() (map[string]*schema.Type, error) { return f.set.Roots() }

// Set is the schemas in use, a team's own included.
func (f *Folder) Set() *schema.Set { return f.set }

// Of lists the records of one kind, oldest first, those that were put right since left out.
func (f *Folder) Of(kind string) []*Record {
	var out []*Record
	for _, r := range f.Records {
		if r.Kind == kind && r.Replaced == nil {
			out = append(out, r)
		}
	}
	return out
}

// Record finds a record by its file, as Value.Record names it; nil if there is none.
func (f *Folder) Record(file string) *Record { return f.byFile[file] }

// Runs lists the run sheets by run number.
func (f *Folder) Runs() []*Record {
	runs := f.Of("run")
	slices.SortStableFunc(runs, func(a, b *Record) int { return cmp.Compare(a.no(), b.no()) })
	return runs
}

// NewestRun is the highest run number with a sheet at a time, 0 if there is none.
func (f *Folder) NewestRun(at time.Time) int {
	no := 0
	for _, r := range f.Runs() {
		if !r.At.After(at) && r.Body.Fields["parts"] == nil { // a part on a bench is no run of the car
			no = max(no, r.no())
		}
	}
	return no
}

// root is the value of a document's own top-level key, a gap when it was not written.
func (f *Folder) root(name string) *schema.Value {
	if d := f.docs[name]; d != nil && d.value != nil {
		if v := d.value.Fields[name]; v != nil {
			return v
		}
	}
	t, err := f.set.Root(name)
	if err != nil {
		panic(err) // a bundled schema that does not load is found by its test
	}
	return schema.Unknown(t, source.Pos{File: name + ".yaml"})
}

// Document is the typed value of a whole document by its schema's name ("channels",
// "trips/M6-98"); nil if the folder has none.
func (f *Folder) Document(name string) *schema.Value {
	if d := f.docs[name]; d != nil {
		return d.value
	}
	return nil
}
