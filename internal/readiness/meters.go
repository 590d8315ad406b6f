package readiness

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/life"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/internal/units"
)

// Counted is what the logs of one run came to by one meter.
type Counted struct {
	Meter string
	// Low and High are in the meter's Unit; they differ where samples were missing, and High is
	// infinite where nothing bounds it.
	Low, High float64
	Unit      string // "" for a bare number
	Unseen    string // what was missing, "" for nothing
	// Open are the turning points that a damage meter left open, Pa.
	Open []float64
	// By is the digest of the meter's definition, 12 hex digits: two runs counted by different
	// definitions do not add up.
	By string
}

// Meters counts every meter of meters.yaml that is counted from a log, over the logs of the
// run that this car was opened on. Meters counted by hand or by the plan are left out.
func (c *Car) Meters(ctx context.Context) ([]Counted, source.Faults) {
	var logs []meterLog
	for _, l := range c.logs {
		if l.kind != pack.Pairs {
			logs = append(logs, newMeterLog(l.kind, c.graph, l.data))
		}
	}
	set, faults := newMeters(c.folder, c.graph)
	counted, more := set.count(ctx, c.evidence.Roots, logs)
	return counted, append(faults, more...)
}

// newMeterLog counts readings at their face and spells as sampled: what a run adds is uncertain
// where samples were missing, not because a sensor reads within something.
func newMeterLog(kind string, graph *kernel.Graph, log *kernel.Log) meterLog {
	return meterLog{kind, kernel.NewRunner(graph, log, kernel.Options{AsRead: true})}
}

// meterLog is one log of a run, as meters ask it.
type meterLog struct {
	kind   string
	runner *kernel.Runner
}

// meters are the compiled definitions of meters.yaml.
type meters struct{ list []*meter }

type meter struct {
	car.Meter
	by     string
	x      *expr.Expr // of a damage meter: the greatest of what it follows, whose operand is wanted
	unit   units.Unit
	plain  bool
	damage func([]trade.Cycle) float64
}

// newMeters compiles the definitions. One that is broken is a fault and counts nothing.
func newMeters(f *car.Folder, graph *kernel.Graph) (*meters, source.Faults) {
	set := &meters{}
	types, err := f.Types()
	if err != nil {
		return set, source.Faults{{What: "the schemas do not load: " + err.Error(), Remedy: "look at the folder's own schemas"}}
	}
	scope := expr.Scope{Roots: types, Channels: map[string]expr.Channel{}, Graph: graph}
	for i := range f.Channels {
		scope.Channels[f.Channels[i].Name] = exprChannel(&f.Channels[i])
	}
	for _, d := range f.Derived {
		scope.Derived = append(scope.Derived, expr.Derived{Name: d.Name, Text: d.Text})
	}
	env, faults := expr.NewEnv(scope)
	for _, m := range f.Meters {
		if m.Count == nil {
			continue
		}
		own := &meter{Meter: m, plain: m.Unit == "" || m.Unit == "1"}
		text := m.Count
		definition := f.Document("meters").Fields["meters"].Fields[m.Name]
		own.by = digestOf(definition)
		if inner, ok := damageOf(text); ok {
			curve := definition.Fields["curve"]
			if curve == nil {
				faults.Add(text.Pos, m.Name+" has no stress-life line", "write it under curve:")
				continue
			}
			own.damage = life.Curve(curve, &faults)
			if own.damage == nil {
				continue
			}
			text = inner
		}
		x, more := env.Compile(text, expr.Value)
		faults = append(faults, more...)
		if x == nil || len(more) > 0 {
			continue
		}
		own.x = x
		if more := own.fits(); len(more) > 0 {
			faults = append(faults, more...)
			continue
		}
		set.list = append(set.list, own)
	}
	return set, faults
}

// digestOf is the digest of all that decides what a meter counts.
func digestOf(definition *schema.Value) string {
	var b strings.Builder
	for _, k := range []string{"count", "unit", "includes", "curve"} {
		if v := definition.Fields[k]; v != nil {
			text, err := schema.JSON(v)
			if err != nil {
				text = []byte(v.Text)
			}
			fmt.Fprintf(&b, "%s %s\n", k, strings.Join(strings.Fields(string(text)), " "))
		}
	}
	sum := sha256.Sum256([]byte(b.String()))
	return hex.EncodeToString(sum[:6])
}

// damageOf takes `log.damage(x, curve)` apart. What is left finds the greatest x, in the same
// columns, so that a fault of x points at its place.
func damageOf(text *source.Node) (*source.Node, bool) {
	const call = "log.damage("
	s := strings.TrimRight(text.Text, " \n")
	if !strings.HasPrefix(s, call) || !strings.HasSuffix(s, ")") {
		return nil, false
	}
	x, last := s[len(call):len(s)-1], strings.LastIndexByte(s[len(call):len(s)-1], ',')
	if last < 0 || strings.TrimSpace(x[last+1:]) != "curve" {
		return nil, false
	}
	inner := *text
	inner.Text = "log.max(" + strings.Repeat(" ", len(call)-len("log.max(")) + x[:last] + ")"
	return &inner, true
}

// fits refuses a meter that counts something else than its unit says.
func (m *meter) fits() (faults source.Faults) {
	got, want := m.x.Unit(), units.Number
	if m.damage != nil {
		want = units.Type{Dim: units.Dim{Length: -1, Mass: 1, Time: -2}}
	} else if !m.plain {
		u, err := units.Lookup(m.Unit)
		if err != nil {
			return nil // said when the folder was read
		}
		m.unit, want = u, u.Type
	}
	switch {
	case m.damage != nil && !m.plain:
		faults.Add(m.Count.Pos, m.Name+" counts damage, which has no unit", `write unit: "1"`)
	case got.Dim != want.Dim:
		faults.Add(m.Count.Pos, fmt.Sprintf("%s counts %s, and its unit is one of %s", m.Name, got, want), "write the unit of what it counts")
	}
	return faults
}

// count counts every meter over the logs it includes.
func (set *meters) count(ctx context.Context, roots map[string]*schema.Value, logs []meterLog) ([]Counted, source.Faults) {
	var out []Counted
	var faults source.Faults
	for i, l := range logs {
		for _, m := range set.list {
			if m.damage == nil && m.takes(l.kind) {
				logs[i].runner.Want(m.x.Want(ctx, expr.Inputs{Roots: roots, Log: expr.OnLog(l.runner)})...)
			}
		}
	}
	for _, m := range set.list {
		c := Counted{Meter: m.Name, By: m.by}
		if !m.plain {
			c.Unit = m.Unit
		}
		var history []float64
		var unseen []string
		for _, l := range logs {
			if !m.takes(l.kind) {
				continue
			}
			ans := m.x.Eval(ctx, expr.Inputs{Roots: roots, Log: expr.OnLog(l.runner)})
			if ans.Fault != nil {
				faults = append(faults, *ans.Fault)
				ans.Low, ans.High = 0, math.Inf(1)
			}
			for _, g := range ans.Gaps {
				if s := words(g.Path, g.Why); !slices.Contains(unseen, s) {
					unseen = append(unseen, s)
				}
			}
			if m.damage != nil {
				samples, whole := stresses(ctx, ans, l)
				history = append(history, samples...)
				if !whole {
					c.High = math.Inf(1)
				}
				continue
			}
			low, high := max(0, ans.Low), ans.High
			if math.IsNaN(low) || math.IsNaN(high) || ans.Empty {
				low, high = 0, math.Inf(1)
			}
			if !m.plain && !math.IsInf(high, 1) {
				high = m.unit.Of(high)
			}
			if !m.plain {
				low = m.unit.Of(low)
			}
			c.Low, c.High = c.Low+low, c.High+high
		}
		if m.damage != nil {
			var cycles []trade.Cycle
			cycles, c.Open = trade.ClosedCycles(history)
			d := m.damage(cycles)
			if math.IsNaN(d) { // a cycle off the line
				d, c.High = 0, math.Inf(1)
				unseen = append(unseen, "a cycle lies off the stress-life line")
			}
			c.Low, c.High = d, c.High+d
		}
		if c.Low != c.High {
			c.Unseen = strings.Join(unseen, "; ")
		}
		out = append(out, c)
	}
	return out, faults
}

func words(path, why string) string {
	if why == "" {
		return path
	}
	return path + ": " + why
}

// takes says that a meter counts logs of this kind.
func (m *meter) takes(kind string) bool {
	return len(m.Includes) == 0 || slices.Contains(m.Includes, kind)
}

// stresses are the samples of what a damage meter follows, in order; whole is false where
// some are missing.
func stresses(ctx context.Context, ans expr.Answer, l meterLog) (samples []float64, whole bool) {
	if len(ans.Calls) != 1 || len(ans.Calls[0].Operands) == 0 {
		return nil, false
	}
	samples, whole, err := l.runner.Samples(ctx, ans.Calls[0].Operands[0])
	return samples, whole && err == nil
}
