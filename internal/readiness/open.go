package readiness

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// opened is a car folder with its rules, before anything is measured.
type opened struct {
	dir    string
	files  fs.FS // of dir
	folder *car.Folder
	graph  *kernel.Graph // shared by all packs: one pass over the log answers every rule
	parsed *pack.Parsed
	packs  []*pack.Pack
	inputs []check.File
	faults []check.ToolFault
}

// openFolder reads a car folder and the packs it uses. What could not be read is a fault; the
// rest is there all the same.
func openFolder(dir string) *opened {
	folder, faults := car.Open(dir)
	return withPacks(dir, folder, faults)
}

// withPacks is openFolder of a folder that has been read.
func withPacks(dir string, folder *car.Folder, faults source.Faults) *opened {
	o := newOpened(dir, folder, faults)
	o.take(o.parse()())
	return o
}

// newOpened is a folder that has been read, and none of its packs.
func newOpened(dir string, folder *car.Folder, faults source.Faults) *opened {
	o := &opened{dir: dir, files: os.DirFS(dir), folder: folder, graph: kernel.NewGraph(), parsed: pack.Parse(nil)}
	o.fault(faults, nil)
	return o
}

// compiled is what packs come to.
type compiled struct {
	packs   []*pack.Pack
	faults  source.Faults
	systems func(source.Pos) []string // what a fault keeps from being looked at
}

// parse reads the packs that the folder uses, and gives what compiles them. That may be done beside anything else, until
// its outcome is taken in.
func (o *opened) parse() (compile func() compiled) {
	folder := o.folder
	for _, f := range folder.Files {
		o.inputs = append(o.inputs, check.File(f))
	}
	_, _ = o.input("paintmark.yaml") // it may be missing; whoever reads it says what is wrong with it
	types, err := folder.Types()
	if err != nil {
		o.fault(source.Faults{{What: "the schemas do not load: " + err.Error(), Remedy: "look at the folder's own schemas"}}, nil)
		return func() compiled { return compiled{} }
	}
	scope := expr.Scope{Roots: types, Channels: map[string]expr.Channel{}, Graph: o.graph}
	for _, c := range folder.Channels {
		scope.Channels[c.Name] = exprChannel(&c)
	}
	for _, d := range folder.Derived {
		scope.Derived = append(scope.Derived, expr.Derived{Name: d.Name, Text: d.Text})
	}
	var overrides []pack.Override
	for _, v := range folder.Overrides {
		plugin, pk := named(folder.Plugins, v.Pack.Text), named(folder.Packs, v.Pack.Text)
		if plugin && !pk {
			continue
		}
		overrides = append(overrides, pack.Override{Pack: v.Pack.Text, Limit: v.Limit.Text, Node: v.Node, Where: v.Limit.Pos, Shared: plugin})
	}
	files := o.packFiles()
	parsed := pack.Parse(files)
	o.parsed = parsed
	return func() compiled {
		packs, faults := parsed.Compile(scope, overrides)
		return compiled{packs, faults, systemsOf(files)}
	}
}

// take takes compiled packs in.
func (o *opened) take(c compiled) {
	o.packs = c.packs
	o.fault(c.faults, c.systems)
}

// named says that a name is among those in use.
func named(in []car.Text, name string) bool {
	return slices.ContainsFunc(in, func(t car.Text) bool { return t.Text == name })
}

func exprChannel(c *car.Channel) expr.Channel {
	switch {
	case c.YesNo:
		return expr.Channel{Shape: expr.YesNo}
	case c.Count:
		return expr.Channel{Shape: expr.Count}
	}
	return expr.Channel{Unit: c.Type}
}

// fault takes in faults of the inputs. systems says what a fault at a place keeps from being
// looked at; nil: everything.
func (o *opened) fault(faults source.Faults, systems func(source.Pos) []string) {
	for _, f := range faults {
		tf := check.ToolFault{Fault: f}
		if systems != nil {
			tf.Systems = systems(f.Pos)
		}
		o.faults = append(o.faults, tf)
	}
}

// packFiles reads the packs that limits.yaml names: bundled ones by name, the team's own
// by their file.
func (o *opened) packFiles() []pack.File {
	var out []pack.File
	if len(o.folder.Packs) == 0 && o.folder.Document("limits") != nil {
		o.fault(source.Faults{{Pos: source.Pos{File: "limits.yaml"}, What: "no packs in use: nothing would be looked at", Remedy: "name at least one under packs; bundled are " + strings.Join(pack.Bundled(), ", ")}}, nil)
	}
	if o.folder.Document("limits") == nil {
		o.fault(source.Faults{{Pos: source.Pos{File: "limits.yaml"}, What: "missing: it names the packs in use, and without any nothing would be looked at", Remedy: "write it: packs: [" + strings.Join(pack.Bundled(), ", ") + "]"}}, nil)
	}
	seen := map[string]bool{}
	for _, p := range o.folder.Packs {
		if seen[p.Text] {
			o.fault(source.Faults{{Pos: p.Pos, What: p.Text + " is named twice", Remedy: "take one out"}}, nil)
			continue
		}
		seen[p.Text] = true
		file, err := o.packFile(p.Text)
		if err != nil {
			remedy := "bundled packs are " + strings.Join(pack.Bundled(), ", ") + "; your own are written packs/<file>.yaml"
			if n := source.Nearest(p.Text, pack.Bundled()); n != "" {
				remedy = "did you mean " + n
			}
			o.fault(source.Faults{{Pos: p.Pos, What: "the pack " + p.Text + " cannot be read: " + reason(err), Remedy: remedy}}, nil)
			continue
		}
		out = append(out, file)
	}
	return out
}

func (o *opened) packFile(name string) (pack.File, error) {
	if !strings.HasSuffix(name, ".yaml") {
		if f, ok := pack.BundledFile(name); ok {
			o.note(f.Name, f.Data)
			return f, nil
		}
		return pack.File{}, errors.New("there is no bundled pack of that name")
	}
	clean := path.Clean(name)
	if !filepath.IsLocal(filepath.FromSlash(clean)) {
		return pack.File{}, errors.New("it is outside the car folder")
	}
	data, err := o.input(clean)
	return pack.File{Name: clean, Data: data}, err
}

// input reads a file of the folder, which makes it one of the report's inputs.
func (o *opened) input(name string) ([]byte, error) {
	data, err := fs.ReadFile(o.files, name)
	if err != nil {
		return nil, err
	}
	o.note(name, data)
	return data, nil
}

// note puts a file among the report's inputs.
func (o *opened) note(name string, data []byte) {
	sum := sha256.Sum256(data)
	o.inputs = append(o.inputs, check.File{Path: name, SHA256: hex.EncodeToString(sum[:])})
}

// systemsOf tells from the place of a fault in a pack which system it keeps from being
// looked at: that of the rule it stands in. A fault outside all rules may touch any of
// the pack's.
func systemsOf(files []pack.File) func(source.Pos) []string {
	return func(pos source.Pos) []string {
		i := slices.IndexFunc(files, func(f pack.File) bool { return f.Name == pos.File })
		if i < 0 {
			return nil
		}
		root, _ := source.ParseYAML(files[i].Name, files[i].Data)
		list := root.Get("rules")
		if list == nil {
			return nil
		}
		var all []string
		in := ""
		for _, r := range list.Items {
			system := ""
			if s := r.Get("system"); s != nil {
				system = s.Text
			}
			if system == "" {
				continue
			}
			all = append(all, system)
			if r.Pos.Line <= pos.Line {
				in = system
			}
		}
		if in != "" && pos.Line > 0 {
			return []string{in}
		}
		slices.Sort(all)
		return slices.Compact(all)
	}
}

// hats lists the hats that somebody wears.
func hats(people *schema.Value) []string {
	var worn []string
	if people == nil || people.Unknown {
		return nil
	}
	for _, p := range people.Items {
		for _, h := range p.Get("hats").Items {
			worn = append(worn, h.Text)
		}
	}
	slices.Sort(worn)
	return slices.Compact(worn)
}

// zone is where the event is; every time is printed in it.
func zone(plan *schema.Value) *time.Location {
	text := known(plan.Get("event.time_zone"))
	t, err := time.Parse("Z07:00", text)
	if err != nil {
		return time.UTC
	}
	_, offset := t.Zone()
	return time.FixedZone(text, offset)
}

// known is a value's text, "" where it is a gap.
func known(v *schema.Value) string {
	if v == nil || v.Unknown {
		return ""
	}
	return v.Text
}

// sortFaults puts faults in order. What several say of one place is said once, with the most words.
func sortFaults(faults []check.ToolFault) []check.ToolFault {
	slices.SortStableFunc(faults, func(a, b check.ToolFault) int {
		return cmp.Or(strings.Compare(a.Pos.File, b.Pos.File), cmp.Compare(a.Pos.Line, b.Pos.Line),
			cmp.Compare(a.Pos.Column, b.Pos.Column), strings.Compare(a.What, b.What))
	})
	faults = slices.CompactFunc(faults, func(a, b check.ToolFault) bool { return a.Fault == b.Fault })
	return slices.DeleteFunc(slices.Clone(faults), func(f check.ToolFault) bool {
		return slices.ContainsFunc(faults, func(o check.ToolFault) bool {
			return o.Pos == f.Pos && f.Pos.Line > 0 && o.Remedy == f.Remedy && o.What != f.What && strings.HasSuffix(o.What, ": "+f.What) && covers(o.Systems, f.Systems)
		})
	})
}

// covers says that what some systems are not looked at for holds for others, too. None is all of them.
func covers(systems, others []string) bool {
	return len(systems) == 0 || len(others) > 0 && !slices.ContainsFunc(others, func(s string) bool { return !slices.Contains(systems, s) })
}
