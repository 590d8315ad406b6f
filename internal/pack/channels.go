package pack

import (
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// channelDraft is one channel a pack's rules may read: a logged one or a spell the
// car derives, such as under_load.
type channelDraft struct {
	name    string
	pos     source.Pos
	channel expr.Channel
}

// readChannels reads `channels`: name: yes-no | count | number | {quantity: .., reads: ..}.
// bad are the names of those it could not read.
func readChannels(f *form, n *source.Node) (out []channelDraft, bad []string) {
	if n.Kind != source.Map {
		f.fault(n.Pos, "channels is not a map of names", "write NAME: yes-no or NAME: {quantity: temperature}")
		return nil, nil
	}
	for _, e := range n.Entries {
		c := channelDraft{name: e.Key.Text, pos: e.Key.Pos}
		if !nameRule().MatchString(c.name) {
			f.fault(c.pos, quoted(c.name)+" is not a name for a channel", "small letters, figures and underscores, such as oil_pressure")
			continue
		}
		var ok bool
		if c.channel, ok = f.channel(e.Value, "channel "+quoted(c.name)); ok {
			out = append(out, c)
		} else {
			bad = append(bad, c.name)
		}
	}
	return out, bad
}

func (f *form) channel(n *source.Node, what string) (expr.Channel, bool) {
	if n != nil && n.Kind == source.Map {
		keys := f.fields(n, what, "quantity", "reads")
		if keys["quantity"] == nil {
			f.fault(n.Pos, what+" has no quantity", "write {quantity: pressure, reads: gauge}")
			return expr.Channel{}, false
		}
		name := f.text(keys["quantity"], "quantity")
		reads := ""
		if r := keys["reads"]; r != nil {
			if reads = f.word(r, "reads", []string{"gauge", "absolute", "difference"}); reads == "" {
				return expr.Channel{}, false
			}
		}
		switch {
		case name == "":
			return expr.Channel{}, false
		case name == "pressure" && reads == "":
			f.fault(n.Pos, what+" does not say what its pressure is over", "add reads: gauge, absolute or difference")
			return expr.Channel{}, false
		case reads == "difference":
			name += " difference"
		case reads != "":
			name = reads + " " + name
		}
		t, ok := schema.NamedQuantity(name)
		if !ok {
			f.fault(keys["quantity"].Pos, quoted(name)+" is not a quantity", nearest(name, schema.NamedQuantities()))
		}
		return expr.Channel{Shape: expr.Number, Unit: t}, ok
	}
	switch f.word(n, what, []string{"yes-no", "count", "number"}) {
	case "yes-no":
		return expr.Channel{Shape: expr.YesNo}, true
	case "count":
		return expr.Channel{Shape: expr.Count}, true
	case "number":
		return expr.Channel{Shape: expr.Number}, true
	}
	return expr.Channel{}, false
}

// undeclared finds names in a rule's expressions that only this car knows: a channel it
// logs or a spell it derives that the pack does not declare. On another car the rule
// would not even load.
func (f *form) undeclared(p *Pack, scope expr.Scope, r *ruleDraft) {
	for _, n := range r.expressions() {
		for i, line := range strings.Split(n.Text, "\n") {
			bare := literal().ReplaceAllStringFunc(line, func(s string) string { return strings.Repeat(" ", len(s)) })
			for _, at := range words().FindAllStringIndex(bare, -1) {
				word := bare[at[0]:at[1]]
				before, after := strings.TrimRight(bare[:at[0]], " "), strings.TrimLeft(bare[at[1]:], " ")
				if _, ok := p.channels[word]; ok || word == r.rule.eachName || strings.HasSuffix(before, ".") || strings.HasPrefix(after, "(") {
					continue
				}
				_, logged := scope.Channels[word]
				derived := slices.ContainsFunc(scope.Derived, func(d expr.Derived) bool { return d.Name == word })
				if logged || derived {
					f.fault(n.At(i+1, utf8.RuneCountInString(bare[:at[0]])), quoted(word)+" is known to this car but not declared by the pack", "add it to the pack's channels")
					r.bad = true
				}
			}
		}
	}
}

var literal = source.Form(`"[^"]*"|'[^']*'`)
