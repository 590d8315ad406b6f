package readiness

import (
	"math"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/pluginhost"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// result is a plugin's result as all results are: with its figures in the check's unit, its
// limit's source, and where the values it rests on are written.
func (c *Car) result(k *pluginCheck, f *pluginv1.Result, log int) check.Result {
	r := check.Result{Card: &k.card, Position: f.GetPosition(), Outcome: pluginhost.Outcome(f.GetOutcome()), Note: f.GetMessage(), Where: k.card.Where}
	of := func(si float64) float64 {
		if k.unit.Symbol == "" {
			return si
		}
		return k.unit.Of(si)
	}
	if at := f.GetAt(); at != nil {
		r.At = &check.At{Time: at.GetTime(), Within: at.GetWithin()}
	}
	if m := f.GetMeasured(); m != nil {
		r.Measured = &check.Measured{Value: of(middle(m.GetLow(), m.GetHigh())), Low: of(m.GetLow()), High: of(m.GetHigh()), Unit: k.unit.Symbol}
	}
	if b := f.GetLimit(); b != nil {
		l := check.Limit{Unit: k.unit.Symbol, Outcome: pluginhost.Outcome(b.GetMeans()), Source: k.card.Source, Where: k.card.Where}
		switch {
		case math.IsInf(b.GetLow(), -1):
			l.Kind, l.Value = "max", of(b.GetHigh())
		case math.IsInf(b.GetHigh(), 1):
			l.Kind, l.Value = "min", of(b.GetLow())
		default:
			l.Kind, l.Value, l.Upper = "a to b", of(b.GetLow()), of(b.GetHigh())
		}
		if named, ok := k.limits[b.GetName()]; ok {
			l.Source, l.Where = named.source, named.where
		} else if b.GetSource() != nil {
			l.Source = pluginhost.Source(b.GetSource())
		}
		r.Limit = &l
		if m := f.GetMeasured(); m != nil && r.Outcome != check.NoData {
			at := middle(m.GetLow(), m.GetHigh())
			margin := min(at-b.GetLow(), b.GetHigh()-at)
			if k.unit.Symbol != "" {
				margin = k.unit.AsDifference().Of(margin)
			}
			r.Margin = &margin
		}
	}
	for _, s := range f.GetUnseen() {
		r.Unseen = append(r.Unseen, check.Unseen{Channel: s.GetChannel(), From: s.GetFrom(), To: s.GetTo(), Why: s.GetWhy()})
	}
	if r.Measured != nil {
		r.Message = pack.Words(*r.Measured, r.Limit, r.At)
	}
	for _, words := range []string{f.GetMessage(), eitherWay(f)} {
		if words != "" {
			r.Message = strings.TrimPrefix(r.Message+"; "+words, "; ")
		}
	}
	r.Note = strings.Trim(f.GetMessage()+"; "+eitherWay(f), "; ")
	for _, path := range f.GetInputs() {
		if v := c.document(path); v != nil && !v.Unknown {
			r.Inputs = append(r.Inputs, check.Input{Path: path, Value: v.Text, Where: v.Pos})
		}
	}
	switch {
	case log >= 0:
		r.From = c.evidence.Logs[log].From
	case len(r.Inputs) > 0:
		r.From = check.From{Kind: "document"}
		if record := c.document(r.Inputs[0].Path).Record; record != "" {
			r.From = check.From{Kind: "record", Record: record}
		}
		if r.Inputs[0].Where.Line > 0 {
			r.Where = r.Inputs[0].Where
		}
	}
	return r
}

// eitherWay says that something was missing and that it does not matter.
func eitherWay(f *pluginv1.Result) string {
	o := pluginhost.Outcome(f.GetOutcome())
	if len(f.GetDespite()) == 0 || o != check.Pass && o != check.Warn && o != check.Fail {
		return ""
	}
	var names []string
	for _, s := range f.GetUnseen() {
		if !slices.Contains(names, s.GetChannel()) {
			names = append(names, s.GetChannel())
		}
	}
	if len(names) == 0 {
		return ""
	}
	slices.Sort(names)
	return "holds either way, " + strings.Join(names, ", ") + " unseen"
}

// middle is the middle of two bounds, or the one that is finite.
func middle(low, high float64) float64 {
	switch {
	case low == high, math.IsInf(high, 1):
		return low
	case math.IsInf(low, -1):
		return high
	}
	return low + (high-low)/2
}
