package car

import (
	"fmt"
	"strings"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// Override is one limit of a pack that this team sets itself.
type Override struct {
	Pack, Limit Text
	Node        *source.Node  // the whole line: value, source, why
	Value       *source.Node  // as written; the pack's own limit decides its type
	Source      *schema.Value // kind, text, confirmed; nil when not said
	Why         string
}

func (f *Folder) readLimits() {
	d := f.docs["limits"]
	if d == nil {
		return
	}
	f.Packs, f.Plugins = words(d.value.Fields["packs"]), words(d.value.Fields["plugins"])
	n := d.node.Get("limits")
	if n == nil || n.Kind != source.Map {
		return
	}
	for _, pack := range n.Entries {
		for _, limit := range pack.Value.Entries {
			o := Override{Pack: Text{pack.Key.Text, pack.Key.Pos}, Limit: Text{limit.Key.Text, limit.Key.Pos}, Node: limit.Value, Value: limit.Value.Get("value")}
			if v := d.value.Fields["limits"].Fields[pack.Key.Text]; v != nil && !v.Unknown && v.Fields[limit.Key.Text] != nil {
				o.Source, o.Why = v.Fields[limit.Key.Text].Fields["source"], text(v.Fields[limit.Key.Text].Fields["why"])
			}
			if o.Value != nil {
				f.Overrides = append(f.Overrides, o)
			}
		}
	}
}

// checkTrips: a trip sheet is named as its map, so that the map in use finds it.
func (f *Folder) checkTrips(faults *source.Faults) {
	for _, name := range sortedKeys(f.docs) {
		of, isTrips := strings.CutPrefix(name, "trips/")
		if !isTrips {
			continue
		}
		m := f.docs[name].value.Get("trips.map")
		if text(m) != "" && m.Text != of {
			faults.Add(m.Pos, fmt.Sprintf("this is the trip sheet of %s, but the file is named %s.yaml", m.Text, of), "name the file as the map")
		}
	}
}
