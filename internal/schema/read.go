package schema

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/source"
)

const unknown = "unknown"

// numberForm is a number as JSON writes it: no sign +, no leading zero, no hex.
var numberForm = source.Form(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][+-]?[0-9]+)?$`)

// Read gives the typed value of a node, in SI, with the place of everything that was
// written, and every fault of it at once: wrong dimension, kind or unit, unknown keys and
// words with the nearest right one, days and moments written in another way. Where the
// type is a whole document, what else its schema asks for (keys that must be there, least
// and greatest numbers) is looked at too. A part of a document may leave out anything.
//
// The value holds all that could be understood; what was refused is unknown in it.
func Read(node *source.Node, t *Type) (*Value, source.Faults) {
	r := &reader{}
	v := r.value(node, t)
	if t.rest != nil {
		r.faults = append(r.faults, t.rest.look(v)...)
	}
	return v, r.faults.Sorted()
}

// ReadShown is Read for what an example shows: it may also give what the program would work
// out, and nothing has to be there.
func ReadShown(node *source.Node, t *Type) (*Value, source.Faults) {
	r := &reader{shown: true}
	v := r.value(node, t)
	return v, r.faults.Sorted()
}

type reader struct {
	faults source.Faults
	shown  bool
}

// refuse adds a fault and gives the value nothing can be done with.
func (r *reader) refuse(t *Type, pos source.Pos, what, remedy string) *Value {
	r.faults.Add(pos, what, remedy)
	return &Value{Type: t, Pos: pos, Unknown: true, faulty: true}
}

func (r *reader) value(n *source.Node, t *Type) *Value {
	if n.Kind == source.Scalar && n.Text == unknown {
		if t.firm && !r.shown {
			return r.refuse(t, n.Pos, fmt.Sprintf("%s cannot be unknown as a whole", place(t.Name)), "write unknown at each value that is not known")
		}
		return &Value{Type: t, Pos: n.Pos, Unknown: true, Text: unknown}
	}
	if n.Empty() {
		return r.refuse(t, n.Pos, fmt.Sprintf("%s has no value", place(t.Name)), "write it, write unknown, or delete the key")
	}
	switch t.Kind {
	case Object:
		return r.object(n, t)
	case Map:
		return r.mapping(n, t)
	case List:
		return r.list(n, t)
	case Curve:
		return r.curve(n, t)
	}
	if n.Kind != source.Scalar {
		return r.refuse(t, n.Pos, fmt.Sprintf("%s is one value, not a %s", place(t.Name), shape(n)), shouldBe(t))
	}
	return r.scalar(n, t)
}

func shape(n *source.Node) string {
	switch {
	case n.Kind == source.List:
		return "list"
	case n.Kind == source.Map:
		return "map"
	default:
		return "single value"
	}
}

// shouldBe is the remedy for a value of the wrong shape.
func shouldBe(t *Type) string {
	switch t.Kind {
	case Quantity:
		return "write a number and its unit"
	case Number, Integer:
		return "write a number"
	case Text:
		return "write it as text"
	case Enum:
		return "write one of " + strings.Join(t.Enum, ", ")
	case YesNo:
		return "write true or false"
	case Date:
		return "write year-month-day, as 2026-05-16"
	case Instant:
		return "write it as 2026-05-16T08:50+01:00"
	case Curve:
		return "write pairs, as [[1000 rpm, 1.6 bar], [7600 rpm, 5.8 bar]]"
	case List:
		return "write each element after a dash, or all in [ ]"
	default:
		return "write keys and values"
	}
}

func (r *reader) object(n *source.Node, t *Type) *Value {
	if n.Kind != source.Map {
		return r.refuse(t, n.Pos, fmt.Sprintf("%s has keys of its own, this is a %s", place(t.Name), shape(n)), "its keys: "+few(t.Order))
	}
	v := &Value{Type: t, Pos: n.Pos, Fields: make(map[string]*Value, len(n.Entries)), Keys: make([]string, 0, len(n.Entries))}
	for _, e := range n.Entries {
		key := e.Key.Text
		ft := t.Fields[key]
		if ft == nil {
			r.unknownKey(n, e.Key, t.Name, t.Order, v)
			continue
		}
		if ft.Derived && !r.shown {
			r.faults.Add(e.Key.Pos, join(t.Name, key)+" is worked out by the program", "delete the line")
			continue
		}
		v.Fields[key] = r.value(e.Value, ft)
		v.Keys = append(v.Keys, key)
	}
	return v
}

// unknownKey refuses a key, with the nearest right one. That one then counts as
// written, so that it is not called missing as well.
func (r *reader) unknownKey(n, key *source.Node, name string, known []string, v *Value) {
	remedy := n.CommaHint()
	near := source.Nearest(key.Text, known)
	switch {
	case remedy != "":
	case near != "":
		remedy = fmt.Sprintf("did you mean %q", near)
		if v.Fields[near] == nil && n.Get(near) == nil {
			v.Fields[near] = &Value{Type: v.Type.field(near), Pos: key.Pos, Unknown: true, faulty: true}
			v.Keys = append(v.Keys, near)
		}
	default:
		remedy = "keys here: " + few(known)
	}
	r.faults.Add(key.Pos, fmt.Sprintf("%s has no key %q", place(name), key.Text), remedy)
}

func (t *Type) field(key string) *Type {
	if t.Kind == Map {
		return t.Elem
	}
	return t.Fields[key]
}

// few lists words, but not a screen full of them.
func few(words []string) string {
	const most = 12
	if len(words) > most {
		return strings.Join(words[:most], ", ") + fmt.Sprintf(" and %d more", len(words)-most)
	}
	return strings.Join(words, ", ")
}

func (r *reader) mapping(n *source.Node, t *Type) *Value {
	if n.Kind != source.Map {
		return r.refuse(t, n.Pos, fmt.Sprintf("%s has keys of its own, this is a %s", place(t.Name), shape(n)), "write name: value for each")
	}
	v := &Value{Type: t, Pos: n.Pos, Fields: make(map[string]*Value, len(n.Entries)), Keys: make([]string, 0, len(n.Entries))}
	for _, e := range n.Entries {
		if t.keys != nil && !slices.Contains(t.keys, e.Key.Text) {
			r.unknownKey(n, e.Key, t.Name, t.keys, v)
			continue
		}
		if hint := n.CommaHint(); hint != "" && e.Value.Empty() {
			r.faults.Add(e.Key.Pos, fmt.Sprintf("%q has no value", e.Key.Text), hint)
			continue
		}
		v.Fields[e.Key.Text] = r.value(e.Value, t.Elem)
		v.Keys = append(v.Keys, e.Key.Text)
	}
	return v
}

func (r *reader) list(n *source.Node, t *Type) *Value {
	if n.Kind != source.List {
		return r.refuse(t, n.Pos, fmt.Sprintf("%s is a list, this is a %s", place(t.Name), shape(n)), shouldBe(t))
	}
	v := &Value{Type: t, Pos: n.Pos, Items: make([]*Value, 0, len(n.Items))}
	before := len(r.faults)
	for _, i := range n.Items {
		v.Items = append(v.Items, r.value(i, t.Elem))
	}
	switch hint := n.CommaHint(); {
	case hint == "":
	case len(r.faults) > before:
		// One wrong comma makes two wrong items: say what is behind them, once.
		r.faults = append(r.faults[:before:before], source.Fault{Pos: r.faults[before].Pos, What: r.faults[before].What, Remedy: hint})
	case t.Elem.Kind == Number:
		r.faults.Add(n.Pos, fmt.Sprintf("in %s a comma may stand for a decimal point", place(t.Name)), hint+", or put a space after the comma")
	}
	if t.Key != "" {
		r.repeated(v, t)
	}
	return v
}

// repeated refuses two elements of one name.
func (r *reader) repeated(v *Value, t *Type) {
	first := make(map[string]source.Pos, len(v.Items))
	for _, i := range v.Items {
		k := i.Fields[t.Key]
		if k == nil || k.Unknown {
			continue
		}
		if pos, twice := first[k.Text]; twice {
			r.faults.Add(k.Pos, fmt.Sprintf("%s %q stands twice in %s, first in line %d", t.Key, k.Text, place(t.Name), pos.Line), "keep one of the two")
			k.faulty = true
			continue
		}
		first[k.Text] = k.Pos
	}
}

func (r *reader) curve(n *source.Node, t *Type) *Value {
	form := shouldBe(t)
	if n.Kind != source.List {
		return r.refuse(t, n.Pos, fmt.Sprintf("%s is a curve, this is a %s", place(t.Name), shape(n)), form)
	}
	v := &Value{Type: t, Pos: n.Pos, Points: make([]Point, 0, len(n.Items))}
	if len(n.Items) < 2 {
		return r.refuse(t, n.Pos, fmt.Sprintf("%s has fewer than two points", place(t.Name)), form)
	}
	good := true
	for _, i := range n.Items {
		if i.Kind != source.List || len(i.Items) != 2 || i.Items[0].Kind != source.Scalar || i.Items[1].Kind != source.Scalar {
			remedy := i.CommaHint()
			if remedy == "" {
				remedy = form
			}
			r.faults.Add(i.Pos, "a point of a curve is a pair [x, y]", remedy)
			good = false
			continue
		}
		x, errX := parseQuantity(i.Items[0].Text, t.XUnit)
		y, errY := parseQuantity(i.Items[1].Text, t.Unit)
		for k, err := range []error{errX, errY} {
			if err != nil {
				r.say(i.Items[k].Pos, err)
				good = false
			}
		}
		if good && len(v.Points) > 0 && x <= v.Points[len(v.Points)-1].X {
			r.faults.Add(i.Items[0].Pos, "the points of a curve go from low to high", "put them in order, each x once")
			good = false
		}
		v.Points = append(v.Points, Point{X: x, Y: y})
	}
	if !good {
		return &Value{Type: t, Pos: n.Pos, Unknown: true, faulty: true}
	}
	return v
}

func (r *reader) say(pos source.Pos, err error) {
	what, remedy := parts(err)
	r.faults.Add(pos, what, remedy)
}

func (r *reader) scalar(n *source.Node, t *Type) *Value {
	v := &Value{Type: t, Pos: n.Pos, Text: n.Text}
	var err error
	switch t.Kind {
	case Quantity:
		v.Low, err = parseQuantity(n.Text, t.Unit)
		v.High = v.Low
	case Number:
		v.Low, err = number(n, t)
		v.High = v.Low
	case Integer:
		v.Int, err = integer(n, t)
		v.Low, v.High = float64(v.Int), float64(v.Int)
	case YesNo:
		v.Bool = n.Text == "true"
		if !v.Bool && n.Text != "false" || n.Style != source.Plain {
			err = mistake("%s is true or false, this is %s", shouldBe(t), place(t.Name), quote(n.Text))
			if n.Text == "true" || n.Text == "false" {
				err = mistake("%s is true or false, this is a text", "take the quotes away", place(t.Name))
			}
		}
	case Date:
		v.Time, err = ParseDay(n.Text)
	case Instant:
		v.Time, err = ParseInstant(n.Text)
	case Enum:
		err = word(n.Text, t)
	case Text:
		err = text(n, t)
	}
	if err != nil {
		r.say(n.Pos, err)
		v.Unknown, v.faulty = true, true
	}
	return v
}

func number(n *source.Node, t *Type) (float64, error) {
	if n.Style != source.Plain && numberForm().MatchString(n.Text) {
		return 0, mistake("%s is a number, this is a text", "take the quotes away", place(t.Name))
	}
	if !numberForm().MatchString(n.Text) {
		return 0, mistake("%s is a bare number, this is %s", numberRemedy(n.Text), place(t.Name), quote(n.Text))
	}
	f, err := strconv.ParseFloat(n.Text, 64)
	if err != nil || math.IsInf(f, 0) {
		return 0, mistake("%s is too large a number", "write it within 1e308", quote(n.Text))
	}
	return f + 0, nil // never -0
}

var decimalComma = source.Form(`^-?[0-9]+,[0-9]+$`)

func numberRemedy(s string) string {
	switch {
	case decimalComma().MatchString(s):
		return "write " + strings.Replace(s, ",", ".", 1)
	case strings.HasPrefix(s, "+"):
		return "leave the + away"
	default:
		return "write digits with a decimal point, without a unit"
	}
}

func integer(n *source.Node, t *Type) (int64, error) {
	if n.Style != source.Plain && numberForm().MatchString(n.Text) {
		return 0, mistake("%s is a whole number, this is a text", "take the quotes away", place(t.Name))
	}
	if i, err := strconv.ParseInt(n.Text, 10, 64); err == nil && numberForm().MatchString(n.Text) {
		return i, nil
	}
	return 0, mistake("%s is a whole number, this is %s", "write digits only", place(t.Name), quote(n.Text))
}

func word(s string, t *Type) error {
	if slices.Contains(t.Enum, s) {
		return nil
	}
	what := fmt.Sprintf("%s cannot be %s", place(t.Name), quote(s))
	if near := source.Nearest(s, t.Enum); near != "" {
		return mistake("%s", fmt.Sprintf("did you mean %q (of %s)", near, few(t.Enum)), what)
	}
	return mistake("%s", "write one of "+few(t.Enum), what)
}

// text takes what was written. In free words a ` #` cuts the line where nobody sees it.
func text(n *source.Node, t *Type) error {
	if c := n.Comment; len(c) > 1 && c[1] != ' ' && c[1] != '\t' && c[1] != '#' {
		return mistake("` #` starts a remark here and cuts off %s", "put the words in quotes", quote(c))
	}
	if strings.TrimSpace(n.Text) == "" {
		return mistake("%s is an empty text", "write it, write unknown, or delete the key", place(t.Name))
	}
	if t.Measure {
		return measure(n.Text)
	}
	return nil
}

// measure takes a number, a quantity in any unit, or a calendar span.
func measure(s string) error {
	if numberForm().MatchString(s) || spanForm().MatchString(s) {
		return nil
	}
	return anyQuantity(s)
}
