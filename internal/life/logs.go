package life

import (
	"path"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
)

// LogsAtHand tells the sheet which files lie in the log folder: a log that no run sheet names
// is a run that is in nobody's life. Without it the question is left out, as where the logs
// are on another computer.
func (s *Sheet) LogsAtHand(f *car.Folder, files []string) {
	if s.Value.Unknown {
		return
	}
	field := s.Value.Type.Fields["logs_not_brought_in"]
	named := map[string]bool{}
	for _, r := range f.Runs() {
		for _, l := range items(r.Body.Fields["logs"]) {
			named[path.Base(text(l.Fields["file"]))] = true
		}
	}
	list := &schema.Value{Type: field, Pos: s.Value.Pos, Items: []*schema.Value{}}
	for _, name := range files {
		if isLog(name) && !named[name] {
			list.Items = append(list.Items, &schema.Value{Type: field.Elem, Pos: s.Value.Pos, Text: name})
		}
	}
	s.Value.Fields["logs_not_brought_in"] = list
	s.Value.Keys = append(s.Value.Keys, "logs_not_brought_in")
}

// isLog tells a log by its name.
func isLog(name string) bool {
	name = strings.TrimSuffix(strings.TrimSuffix(strings.ToLower(name), ".gz"), ".zip")
	return !strings.HasPrefix(name, ".") && slices.Contains([]string{".csv", ".txt", ".tsv"}, path.Ext(name))
}
