package readiness

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/source"
	"github.com/paintmark/paintmark/internal/units"
)

// BaselineValue is a value of a run that the next runs are held against.
type BaselineValue struct {
	Key  string // of the baseline: wing_close, noise.oil_pressure
	Text string // as a baseline record has it, "" where the run does not give it
	Why  string // why it does not
}

// fromLog says how a baseline value is taken from the log of a run. Of a curve the expression
// is asked at each engine speed, written $at.
var fromLog = []struct {
	key, unit, text string
	curve           bool
}{
	{key: "wing_close", unit: "s", text: "log.response(!wing_command, wing_angle > car.wing.angle_closed - deg(1.5))"},
	{key: "pump_duty", unit: "%", text: "log.total(hyd_pump_on && rpm > rpm(500.0)) / log.total(rpm > rpm(500.0))"},
	{key: "oil_pressure", unit: "bar", curve: true, text: "log.quantile(oil_pressure, 0.5, under_load && oil_temp > degC(80.0) && abs(rpm - rpm($at)) < rpm(250.0))"},
}

// eitherSide is how far to either side of its engine speed, rpm, a point of a curve is taken from.
const eitherSide = 250

// fromMeasured says which measured value is a baseline value.
var fromMeasured = []struct{ key, path string }{{"bite_point", "clutch.bite_point"}, {"pedal_travel", "brakes.pedal_travel"}}

// Baseline takes the values that the logs of the newest run and what was measured give for a
// baseline. What the car does not have, or the run did not show, says why.
func (c *Car) Baseline(ctx context.Context) ([]BaselineValue, source.Faults) {
	types, err := c.folder.Types()
	if err != nil {
		return nil, source.Faults{{What: "the schemas do not load: " + err.Error(), Remedy: "look at the folder's own schemas"}}
	}
	scope := expr.Scope{Roots: types, Channels: map[string]expr.Channel{}, Graph: c.graph}
	for i := range c.folder.Channels {
		scope.Channels[c.folder.Channels[i].Name] = exprChannel(&c.folder.Channels[i])
	}
	for _, d := range c.folder.Derived {
		scope.Derived = append(scope.Derived, expr.Derived{Name: d.Name, Text: d.Text})
	}
	env, faults := expr.NewEnv(scope)
	if len(faults) > 0 {
		return nil, faults
	}
	var out []BaselineValue
	for _, b := range fromLog {
		v := BaselineValue{Key: b.key}
		if !b.curve {
			var x float64
			if x, v.Why = c.ofRun(ctx, env, b.text, b.unit); v.Why == "" {
				v.Text = short(x) + " " + b.unit
			}
			out = append(out, v)
			continue
		}
		var points []string
		point := func(at int, x float64) {
			points = append(points, fmt.Sprintf("[%d rpm, %s %s]", at, short(x), b.unit))
		}
		var last float64
		for at := 2 * eitherSide; at <= 15000; at += 2 * eitherSide {
			x, why := c.ofRun(ctx, env, strings.ReplaceAll(b.text, "$at", strconv.Itoa(at)+".0"), b.unit)
			if why != "" && len(points) > 0 {
				point(at-eitherSide, last) // where the run went no further
				break
			} else if why != "" {
				v.Why = why
				continue
			}
			if len(points) == 0 {
				point(at-eitherSide, x)
			}
			point(at, x)
			last = x
		}
		if len(points) > 2 {
			v.Text, v.Why = "["+strings.Join(points, ", ")+"]", ""
		}
		out = append(out, v)
	}
	measured := c.evidence.Roots["measured"]
	for _, b := range fromMeasured {
		v := BaselineValue{Key: b.key, Text: known(measured.Get(b.path))}
		if v.Text == "" {
			v.Why = "measured." + b.path + " is not known"
		}
		out = append(out, v)
	}
	return append(out, c.ofChannels()...), nil
}

// surely is how narrow the bounds of a value must be, as a share of it, for its middle to be
// something to hold others against. How finely the log tells time is most of it.
const surely = 0.2

const noRunLog = "the log of the run is not at hand"

// ofRun evaluates an expression over the run's log; why says what it lacks, "" for nothing.
func (c *Car) ofRun(ctx context.Context, env *expr.Env, text, unit string) (value float64, why string) {
	x, faults := env.Compile(&source.Node{Kind: source.Scalar, Text: text, Pos: source.Pos{File: "baseline", Line: 1, Column: 1}}, expr.Value)
	if len(faults) > 0 {
		return 0, "this car does not log it: " + faults[0].What
	}
	for i, l := range c.evidence.Logs {
		if l.Kind != "run" {
			continue
		}
		in := expr.Inputs{Roots: c.evidence.Roots, Log: l.Answers}
		c.runners[i].Want(x.Want(ctx, in)...)
		ans := x.Eval(ctx, in)
		u, err := units.Lookup(unit)
		switch {
		case ans.Fault != nil:
			return 0, ans.Fault.What
		case err != nil:
			return 0, err.Error()
		case ans.Open || ans.Empty || math.IsInf(ans.High, 0) || math.IsNaN(ans.Low):
			for _, g := range ans.Gaps {
				return 0, words(g.Path, g.Why)
			}
			return 0, "it did not happen in this run"
		case ans.High-ans.Low > surely*math.Abs(ans.Low):
			return 0, fmt.Sprintf("known only between %s and %s %s", short(u.Of(ans.Low)), short(u.Of(ans.High)), unit)
		}
		return u.Of((ans.Low + ans.High) / 2), ""
	}
	return 0, noRunLog
}

// short is a value to three figures, as many as a baseline is good for.
func short(x float64) string { return strconv.FormatFloat(round(x, 3), 'f', -1, 64) }

func round(x float64, figures int) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', figures-1, 64), 64)
	if err != nil {
		return x
	}
	return y
}
