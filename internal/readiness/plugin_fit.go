package readiness

import (
	"errors"
	"fmt"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/pluginhost"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// fit holds what a check asks for to what there is.
func (c *Car) fit(k *pluginCheck, applies func(text string) (*expr.Expr, error)) error {
	if p := c.parsed.PackOf(k.card.ID); p != "" {
		return fmt.Errorf("the pack %s has a rule of that name", p)
	}
	if u := k.card.Unit; u != "" && u != "1" {
		var err error
		if k.unit, err = units.Lookup(u); err != nil {
			return err
		}
	}
	if text := k.wire.GetApplies(); text != "" {
		var err error
		if k.applies, err = applies(text); err != nil {
			return fmt.Errorf("applies: %w", err)
		}
	}
	for _, path := range k.wire.GetNeeds().GetDocuments() {
		if c.document(path) == nil {
			return fmt.Errorf("it reads %s, which no document has", path)
		}
	}
	for _, n := range k.wire.GetNeeds().GetChannels() {
		if err := c.fitChannel(n); err != nil {
			return err
		}
	}
	for _, l := range k.wire.GetNeeds().GetLimits() {
		shown, err := unitOfLimit(l)
		if err != nil {
			return fmt.Errorf("the limit %s: %w", l.GetName(), err)
		}
		own := pluginLimit{si: l.GetValue(), source: pluginhost.Source(l.GetSource()), where: k.card.Where}
		if shown.Symbol != "" {
			own.si = shown.SI(l.GetValue())
		}
		for _, o := range c.folder.Overrides {
			if o.Pack.Text == k.plugin && o.Limit.Text == l.GetName() && !c.packHas(o) {
				if err := own.replace(l, shown, o.Node, k.card.NoGo() || k.card.Source.Kind == "regulation"); err != nil {
					return fmt.Errorf("%s: %w", o.Limit.Pos, err)
				}
				own.where = o.Limit.Pos
			}
		}
		k.limits[l.GetName()] = own
	}
	return nil
}

// conditions compiles what says to which cars checks of a plugin apply. Many say the same: each is compiled once.
func conditions(env *expr.Env, where source.Pos) func(text string) (*expr.Expr, error) {
	done := map[string]*expr.Expr{}
	return func(text string) (*expr.Expr, error) {
		if e := done[text]; e != nil || env == nil { // without one there is a fault already
			return e, nil
		}
		e, faults := env.Compile(&source.Node{Kind: source.Scalar, Pos: where, Text: text}, expr.Truth)
		if len(faults) > 0 {
			return nil, errors.New(faults[0].What)
		}
		done[text] = e
		return e, nil
	}
}

// unitOfLimit is the unit a limit is declared in; none for a bare number. K is a difference.
func unitOfLimit(l *pluginv1.Limit) (units.Unit, error) {
	if l.GetUnit() == "" || l.GetUnit() == "1" {
		return units.Unit{}, nil
	}
	u, err := units.Lookup(l.GetUnit())
	if u.Symbol == "K" {
		u = u.AsDifference()
	}
	return u, err
}

// replace puts the team's value in the place of the plugin's. In a no-go item or a regulation
// it may only be tightened.
func (l *pluginLimit) replace(of *pluginv1.Limit, shown units.Unit, node *source.Node, strict bool) error {
	value := node.Get("value")
	if value == nil {
		return nil // the schema of limits.yaml has said so
	}
	q, err := units.Parse(value.Text)
	if err == nil {
		q, err = units.Check(q, shown.Type)
	}
	if err != nil {
		return fmt.Errorf("the limit %s: %w", of.GetName(), err)
	}
	looser := of.GetTighten() == "up" && q.SI < l.si || of.GetTighten() == "down" && q.SI > l.si
	switch {
	case strict && of.GetTighten() == "":
		return fmt.Errorf("the limit %s may not be changed", of.GetName())
	case strict && looser:
		return fmt.Errorf("%s is looser than the plugin's limit %s, which may only be tightened, %s", value.Text, of.GetName(), of.GetTighten())
	}
	l.si = q.SI
	if s := node.Get("source"); s != nil {
		l.source = check.Source{}
		for field, to := range map[string]*string{"kind": &l.source.Kind, "text": &l.source.Text, "confirmed": &l.source.Confirmed} {
			if n := s.Get(field); n != nil {
				*to = n.Text
			}
		}
	}
	return nil
}

// fitChannel refuses a channel that is of another quantity than the check takes it for.
func (c *Car) fitChannel(n *pluginv1.ChannelNeed) error {
	ch := c.folder.Channel(n.GetName())
	if ch == nil {
		return nil // not declared: it is not in the log
	}
	is := exprChannel(ch)
	switch n.GetQuantity() {
	case "yes-no":
		if is.Shape == expr.YesNo {
			return nil
		}
	case "count":
		if is.Shape == expr.Count {
			return nil
		}
	default:
		name := n.GetQuantity()
		switch n.GetReads() {
		case "gauge", "absolute":
			name = n.GetReads() + " " + name
		case "difference":
			name += " difference"
		}
		want, ok := schema.NamedQuantity(name)
		if n.GetQuantity() == "number" {
			want, ok = units.Number, true
		}
		if !ok {
			return fmt.Errorf("there is no quantity %q", name)
		}
		if is.Shape == expr.Number && units.Compare(is.Unit, want) == nil {
			return nil
		}
	}
	return fmt.Errorf("it takes the channel %s for %s, which it is not", n.GetName(), strings.TrimSpace(n.GetReads()+" "+n.GetQuantity()))
}
