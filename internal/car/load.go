package car

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"sync"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// document is one edited file.
type document struct {
	node  *source.Node
	value *schema.Value
}

// recordFolders gives each folder of records its schema.
var recordFolders = map[string]string{
	"runs": "run", "measured": "measured", "fitted": "fitted", "jobs": "job", "faults": "fault", "signed": "signed",
	"done": "done", "deviations": "deviation", "lockouts": "lockout", "weather": "weather", "baselines": "baseline",
	"releases": "release",
}

// otherFolders may hold YAML that is not read here.
var otherFolders = []string{"packs", "logs", "schemas", "trips", sheets}

type loader struct {
	folder     *Folder
	fsys       fs.FS
	faults     source.Faults
	unreadable map[string]bool
}

// job is one file to be read.
type job struct {
	path, schema string
	record       bool

	node   *source.Node
	value  *schema.Value
	file   File
	seal   string // of a record
	faults source.Faults
	broken bool // could not be read as YAML
}

func (l *loader) load() {
	l.unreadable = map[string]bool{}
	jobs, extensions := l.find()
	for _, p := range extensions {
		data, err := fs.ReadFile(l.fsys, p)
		if err != nil {
			l.faults.Add(source.Pos{File: p}, "cannot be read: "+reason(err), "look at the file and its rights")
			continue
		}
		l.faults = append(l.faults, l.folder.set.Extend(p, data)...)
		l.folder.Files = append(l.folder.Files, File{p, digest(data)})
	}
	var all sync.WaitGroup
	next := make(chan *job)
	for range 4 {
		all.Go(func() {
			for j := range next {
				l.read(j)
			}
		})
	}
	for _, j := range jobs {
		next <- j
	}
	close(next)
	all.Wait()
	for _, j := range jobs {
		l.take(j)
	}
	l.folder.sortRecords()
	slices.SortFunc(l.folder.Files, func(a, b File) int { return strings.Compare(a.Path, b.Path) })
}

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// find lists what is to be read, and says which names look like a slip.
func (l *loader) find() (jobs []*job, extensions []string) {
	entries, err := fs.ReadDir(l.fsys, ".")
	if err != nil {
		l.faults.Add(source.Pos{File: "."}, "the car folder cannot be read: "+reason(err), "give the folder that holds car.yaml")
		return nil, nil
	}
	for _, e := range entries {
		name := e.Name()
		switch {
		case strings.HasPrefix(name, "."):
		case e.IsDir():
			j, x := l.findIn(name)
			jobs, extensions = append(jobs, j...), append(extensions, x...)
		case name == "paintmark.yaml":
		case strings.HasSuffix(name, ".yaml"):
			doc := strings.TrimSuffix(name, ".yaml")
			if !slices.Contains(schema.Documents, doc) || doc == "trips" {
				l.notOurs(name, "a document", documentFiles())
				continue
			}
			jobs = append(jobs, &job{path: name, schema: doc})
		case strings.HasSuffix(name, ".yml"):
			l.faults.Add(source.Pos{File: name}, "ends in .yml and is not read", "name it "+strings.TrimSuffix(name, ".yml")+".yaml")
		}
	}
	return jobs, extensions
}

func documentFiles() []string {
	var files []string
	for _, d := range schema.Documents {
		if d != "trips" {
			files = append(files, d+".yaml")
		}
	}
	return files
}

// notOurs refuses a file nobody would read: a slip in its name would hide what it says.
func (l *loader) notOurs(name, what string, known []string) {
	remedy := "these are read: " + strings.Join(known, ", ")
	if n := source.Nearest(name, known); n != "" {
		remedy = fmt.Sprintf("did you mean %s", n)
	}
	l.faults.Add(source.Pos{File: name}, "is not the name of "+what+", and is not read", remedy)
}

func (l *loader) findIn(dir string) (jobs []*job, extensions []string) {
	kind, isRecords := recordFolders[dir]
	if !isRecords && !slices.Contains(otherFolders, dir) {
		known := append([]string(nil), otherFolders...)
		for d := range recordFolders {
			known = append(known, d)
		}
		slices.Sort(known)
		if n := source.Nearest(dir, known); n != "" {
			l.faults.Add(source.Pos{File: dir}, "is not a folder that is read", fmt.Sprintf("did you mean %s", n))
		}
		return nil, nil
	}
	if dir == "packs" || dir == "logs" {
		return nil, nil
	}
	entries, err := fs.ReadDir(l.fsys, dir)
	if err != nil {
		l.faults.Add(source.Pos{File: dir}, "cannot be read: "+reason(err), "look at the folder and its rights")
		return nil, nil
	}
	for _, e := range entries {
		p := path.Join(dir, e.Name())
		switch {
		case strings.HasPrefix(e.Name(), ".") || e.IsDir():
		case dir == "schemas" && strings.HasSuffix(p, ".schema.json"):
			extensions = append(extensions, p)
		case dir == "schemas":
		case strings.HasSuffix(p, ".yml"):
			l.faults.Add(source.Pos{File: p}, "ends in .yml and is not read", "name it "+strings.TrimSuffix(e.Name(), ".yml")+".yaml")
		case !strings.HasSuffix(p, ".yaml"):
		case dir == "trips":
			jobs = append(jobs, &job{path: p, schema: "trips"})
		case dir == sheets:
			jobs = append(jobs, &job{path: p, schema: "setup"})
		default:
			jobs = append(jobs, &job{path: p, schema: kind, record: true})
		}
	}
	return jobs, extensions
}

// reason is an error without the paths, of which the fault has the one that says something.
func reason(err error) string {
	for {
		switch e := err.(type) {
		case *fs.PathError:
			err = e.Err
		case *os.LinkError:
			err = e.Err
		default:
			return err.Error()
		}
	}
}

func (l *loader) read(j *job) {
	data, err := fs.ReadFile(l.fsys, j.path)
	if err != nil {
		j.broken = true
		j.faults.Add(source.Pos{File: j.path}, "cannot be read: "+reason(err), "look at the file and its rights")
		return
	}
	j.file = File{j.path, digest(data)}
	if j.record {
		j.seal = sealOf(data)
	}
	j.node, j.faults = parse(j.path, j.file.SHA256, data)
	if j.node == nil {
		j.broken = true
		return
	}
	t, err := l.folder.set.Document(j.schema)
	if err != nil {
		j.faults.Add(source.Pos{File: j.path}, err.Error(), "mend the schema")
		return
	}
	value, faults := schema.Read(j.node, t)
	j.value = value
	parsed := j.faults
	for _, f := range faults {
		// What YAML was refused at a place is why nothing can be read there.
		if !slices.ContainsFunc(parsed, func(p source.Fault) bool { return p.Pos == f.Pos }) {
			j.faults = append(j.faults, f)
		}
	}
}

// take files what was read under its name.
func (l *loader) take(j *job) {
	f := l.folder
	l.faults = append(l.faults, j.faults...)
	if j.file.Path != "" {
		f.Files = append(f.Files, j.file)
	}
	if j.broken || j.value == nil || j.value.Fields == nil {
		l.unreadable[j.path] = true
		return
	}
	switch {
	case j.record:
		f.addRecord(j, &l.faults)
	case j.schema == "trips" || strings.HasPrefix(j.path, sheets+"/"):
		f.docs[strings.TrimSuffix(j.path, ".yaml")] = &document{j.node, j.value}
	default:
		f.docs[j.schema] = &document{j.node, j.value}
	}
}
