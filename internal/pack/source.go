package pack

import (
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
)

// source reads where a limit or rule comes from.
func (f *form) source(n *source.Node) check.Source {
	keys := f.fields(n, "source", "kind", "text", "confirmed")
	var s check.Source
	if keys == nil {
		return s
	}
	if keys["kind"] == nil {
		f.fault(n.Pos, "source has no kind", "write regulation, supplier, test or practice")
	} else {
		s.Kind = f.word(keys["kind"], "kind", sourceKinds)
	}
	if t := keys["text"]; t != nil {
		s.Text = f.text(t, "text")
	}
	if s.Text == "" && s.Kind != "" && s.Kind != "practice" {
		f.fault(n.Pos, "source of kind "+s.Kind+" does not say which", "add `text:` with the book and article, sheet or test")
	}
	if c := keys["confirmed"]; c != nil {
		s.Confirmed = f.text(c, "confirmed")
		if s.Confirmed != "" && !confirmed().MatchString(s.Confirmed) {
			f.fault(c.Pos, quoted(s.Confirmed)+" is not a confirmation", "write date and initials, such as 2026-03-02 by PO")
		}
	}
	return s
}

var (
	sourceKinds = []string{"regulation", "supplier", "test", "practice"}
	confirmed   = source.Form(`^\d{4}-\d{2}-\d{2} by [A-Z]{1,4}$`)
)
