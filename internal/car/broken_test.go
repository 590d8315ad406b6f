package car

import (
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/rogpeppe/go-internal/txtar"

	"github.com/paintmark/paintmark/internal/source"
)

var update = flag.Bool("update", false, "write what is refused into testdata/broken, to be read before it is kept")

const broken = "../../testdata/broken/documents"

var wantLine = regexp.MustCompile(`^\s*# want (\d+): (.*)$`)

// Every archive is a broken car folder. Before each line with a fault stands
//
//	# want <column>: <what is wrong>; <remedy>
//
// and, for a fault of a whole file, `want <file>: ...` at the top. No other fault may come.
func TestBroken(t *testing.T) {
	archives, err := filepath.Glob(broken + "/*.txtar")
	if err != nil || len(archives) < 30 {
		t.Fatal(len(archives), err)
	}
	for _, path := range archives {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txtar"), func(t *testing.T) {
			a, err := txtar.ParseFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if *update {
				strip(a)
			}
			_, faults := OpenFS(folderOf(a))
			if *update {
				annotate(a, faults)
				// Faults that name other places name them as they then stand.
				_, faults = OpenFS(folderOf(a))
				bare(a, faults)
				strip(a)
				annotate(a, faults)
				if err := os.WriteFile(path, txtar.Format(a), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			if got, want := lines(faults), wanted(a); got != want {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
		})
	}
}

// folderOf is the archive's folder, with a car and a team where it has none.
func folderOf(a *txtar.Archive) fs.FS {
	fsys := fstest.MapFS{
		"car.yaml":    {Data: []byte("car: {chassis: AY-1}\n")},
		"people.yaml": {Data: []byte("people: [{initials: HW, name: Hanne Wulfram, hats: [lead-engineer]}]\n")},
	}
	for _, f := range a.Files {
		fsys[f.Name] = &fstest.MapFile{Data: f.Data}
	}
	return fsys
}

func lines(faults source.Faults) string {
	var out []string
	for _, f := range faults {
		out = append(out, f.Error())
	}
	return strings.Join(out, "\n")
}

func wanted(a *txtar.Archive) string {
	var faults source.Faults
	for l := range strings.Lines(string(a.Comment)) {
		if file, what, ok := strings.Cut(strings.TrimPrefix(l, "want "), ": "); ok && strings.HasPrefix(l, "want ") {
			faults.Add(source.Pos{File: file}, strings.TrimSpace(what), "")
		}
	}
	for _, f := range a.Files {
		var open []source.Fault
		no := 0
		for l := range strings.Lines(string(f.Data)) {
			no++
			m := wantLine.FindStringSubmatch(strings.TrimRight(l, "\n"))
			if m != nil {
				column, _ := strconv.Atoi(m[1])
				open = append(open, source.Fault{Pos: source.Pos{File: f.Name, Column: column}, What: m[2]})
				continue
			}
			for _, o := range open {
				o.Pos.Line = no
				faults = append(faults, o)
			}
			open = nil
		}
	}
	return lines(faults.Sorted())
}

// strip takes the wants of an earlier look out.
func strip(a *txtar.Archive) {
	keep := func(data []byte, drop func(string) bool) []byte {
		var b strings.Builder
		for l := range strings.Lines(string(data)) {
			if !drop(l) {
				b.WriteString(l)
			}
		}
		return []byte(b.String())
	}
	a.Comment = keep(a.Comment, func(l string) bool { return strings.HasPrefix(l, "want ") })
	for i := range a.Files {
		a.Files[i].Data = keep(a.Files[i].Data, func(l string) bool { return wantLine.MatchString(strings.TrimRight(l, "\n")) })
	}
}

// bare moves faults to where they stand without the wants.
func bare(a *txtar.Archive, faults source.Faults) {
	for i := range faults {
		for _, f := range a.Files {
			if f.Name != faults[i].Pos.File {
				continue
			}
			no, wants := 0, 0
			for l := range strings.Lines(string(f.Data)) {
				if no++; no >= faults[i].Pos.Line {
					break
				}
				if wantLine.MatchString(strings.TrimRight(l, "\n")) {
					wants++
				}
			}
			faults[i].Pos.Line -= wants
		}
	}
}

func annotate(a *txtar.Archive, faults source.Faults) {
	for _, f := range faults {
		if f.Pos.Line == 0 || f.Pos.File == "people.yaml" && !has(a, f.Pos.File) {
			a.Comment = append(a.Comment, "want "+f.Error()+"\n"...)
		}
	}
	for i := range a.Files {
		var b strings.Builder
		no := 0
		for l := range strings.Lines(string(a.Files[i].Data)) {
			no++
			for _, f := range faults {
				if f.Pos.File == a.Files[i].Name && f.Pos.Line == no {
					text := strings.TrimPrefix(f.Error(), f.Pos.String()+": ")
					fmt.Fprintf(&b, "%s# want %d: %s\n", l[:len(l)-len(strings.TrimLeft(l, " "))], f.Pos.Column, text)
				}
			}
			b.WriteString(l)
		}
		a.Files[i].Data = []byte(b.String())
	}
}

func has(a *txtar.Archive, file string) bool {
	for _, f := range a.Files {
		if f.Name == file {
			return true
		}
	}
	return false
}
