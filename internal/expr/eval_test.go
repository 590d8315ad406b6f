package expr

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// testInputs is a small car, filled in. Some of it is missing: car.wing.spring_force, the
// second corner's camber, measured.pad RL and RR, limits.time, plan.runs_left, car.ballast.
func testInputs(s Scope) Inputs {
	line := 0
	leaf := func(v schema.Value) *schema.Value {
		line++
		v.Pos = source.Pos{File: "car.yaml", Line: line, Column: 3}
		return &v
	}
	num := func(lo, hi float64) *schema.Value { return leaf(schema.Value{Low: lo, High: hi}) }
	text := func(s string) *schema.Value { return leaf(schema.Value{Text: s}) }
	yes := func(b bool) *schema.Value { return leaf(schema.Value{Bool: b}) }
	obj := func(fields map[string]*schema.Value, keys ...string) *schema.Value {
		return leaf(schema.Value{Fields: fields, Keys: keys})
	}
	type m = map[string]*schema.Value
	in := Inputs{Roots: m{
		"car": obj(m{
			"gearbox": obj(m{"shift": text("hydraulic"), "gears": leaf(schema.Value{Int: 6}), "ratios": leaf(schema.Value{Items: []*schema.Value{num(2.92, 2.92), num(2.21, 2.21)}})}),
			"pump_on": num(11.5e6, 11.5e6),
			"corners": leaf(schema.Value{Items: []*schema.Value{obj(m{"position": text("FL"), "camber": num(-0.06, -0.05), "axle": text("front")}), obj(m{"position": text("FR"), "axle": text("front")})}}),
			"wing":    obj(m{"close_by": text("spring")}),
			"name":    text("Tern 3"), "road": yes(false), "share": num(0.5, 0.5), "length": num(4.2, 4.2), "serial": leaf(schema.Value{Unknown: true}),
		}),
		"limits": obj(m{
			"pressure": num(10.5e6, 10.5e6), "oil_hot": num(393.15, 393.15), "rise": num(5, 5), "ratio": num(1.2, 1.2), "count": leaf(schema.Value{Int: 3}),
			"oil_line":    leaf(schema.Value{Points: []schema.Point{{X: 100, Y: 1e5}, {X: 800, Y: 5e5}}}),
			"shaft_life":  leaf(schema.Value{Points: []schema.Point{{X: 100, Y: 1e6}, {X: 400, Y: 1e3}}}),
			"oil_life":    leaf(schema.Value{Points: []schema.Point{{X: 5e4, Y: 1e6}, {X: 2e5, Y: 1e4}}}),
			"rising_life": leaf(schema.Value{Points: []schema.Point{{X: 100, Y: 1e3}, {X: 400, Y: 1e6}}}),
		}),
		"measured": obj(m{
			"pad": obj(m{"FL": num(0.017, 0.017), "FR": num(0.0165, 0.0165)}, "FL", "FR"), "station": num(97600, 97600),
			"taken": leaf(schema.Value{Time: time.Date(2026, 5, 14, 0, 0, 0, 0, time.UTC)}), "checked": yes(true),
		}),
		"plan": obj(m{"last_day": leaf(schema.Value{Time: time.Date(2026, 5, 16, 0, 0, 0, 0, time.UTC)})}),
	}}
	for name, v := range in.Roots {
		setTypes(v, s.Roots[name])
	}
	return in
}

func setTypes(v *schema.Value, t *schema.Type) {
	v.Type = t
	for name, f := range v.Fields {
		if t.Kind == schema.Map {
			setTypes(f, t.Elem)
		} else {
			setTypes(f, t.Fields[name])
		}
	}
	for _, item := range v.Items {
		setTypes(item, t.Elem)
	}
}

// words puts an answer into one line.
func words(x *Expr, a Answer) string {
	s := ""
	switch {
	case a.Fault != nil:
		return "fault " + a.Fault.Error()
	case a.Open:
		s = "open"
		if a.Empty {
			s += ", not exercised"
		}
		if a.NotFitted {
			s += ", not fitted"
		}
	case x.want == Truth:
		s = fmt.Sprint(a.Truth == True)
	case x.want == Value && a.Low == a.High:
		s = fmt.Sprintf("%.6g", a.Low)
	case x.want == Value:
		s = fmt.Sprintf("%.6g to %.6g", a.Low, a.High)
	case x.want == TextOf:
		s = a.Text
	default:
		s = fmt.Sprintf("%d elements", len(a.List))
	}
	for _, g := range a.Gaps {
		s += "; " + g.Path
		if g.Why != "" {
			s += " (" + g.Why + ")"
		}
	}
	return s
}

func TestDocuments(t *testing.T) {
	e := testEnv(t)
	in := testInputs(testScope())
	for _, c := range []struct {
		text string
		want Want
		is   string
	}{
		{"car.pump_on - limits.pressure", Value, "1e+06"},
		{"limits.oil_hot + kelvins(5.0)", Value, "398.15"},
		{"limits.oil_hot - degC(100.0)", Value, "20"},
		{"days(measured.taken, plan.last_day)", Value, "172800"},
		{"days(measured.taken, plan.last_day) < d(3)", Truth, "true"},
		{"plan.last_day > measured.taken", Truth, "true"},
		{"measured.pad['FL']", Value, "0.017"},
		{"measured.pad[car.corners[1].position]", Value, "0.0165"},
		{"measured.pad['RL']", Value, "open; measured.pad[RL]"},
		{"measured.pad['RL'] > mm(3.0) || measured.checked", Truth, "true"},
		{"measured.pad['RL'] > mm(3.0) && car.road", Truth, "false"},
		{"measured.pad['RL'] > mm(3.0) && measured.checked", Truth, "open; measured.pad[RL]"},
		{"'FL' in measured.pad", Truth, "true"},
		{"'RL' in measured.pad", Truth, "open; measured.pad[RL]"},
		{"size(measured.pad)", Value, "2"},
		{"{'a': 1}.all(k, k == 'a')", Truth, "true"},
		{"car.serial == 'x'", Truth, "open; car.serial"},
		{"car.serial + 'x'", TextOf, "open; car.serial"},
		{"plan.runs_left * 2.0", Value, "open; plan.runs_left"},
		{"plan.runs_left > 0.0 ? 1.0 : 2.0", Value, "open; plan.runs_left"},
		{"car.corners[0].camber", Value, "-0.06 to -0.05; car.corners[0].camber (known only between bounds)"},
		{"car.corners[0].camber < deg(-2.0)", Truth, "true"},
		{"car.corners[0].camber < deg(-3.0)", Truth, "open; car.corners[0].camber (known only between bounds)"},
		{"car.corners[0].camber == deg(-9.0)", Truth, "false"},
		{"car.corners[0].camber * 2.0", Value, "-0.12 to -0.1; car.corners[0].camber (known only between bounds)"},
		{"car.corners[1].camber", Value, "open; car.corners[1].camber"},
		{"car.corners[5].camber", Value, "open; car.corners[5].camber"},
		{"car.gearbox.ratios[5]", Value, "open; car.gearbox.ratios[5]"},
		{"car.gearbox.ratios[-1]", Value, "fault rules.yaml:1:1: index out of range: -1; elements count from 0"},
		{"[1.0, 2.0][2]", Value, "fault rules.yaml:1:1: index out of range: 2; elements count from 0"},
		{"car.corners.all(c, c.camber < deg(0.0))", Truth, "open; car.corners[1].camber"},
		{"car.corners.exists(c, c.camber < deg(0.0))", Truth, "true"},
		{"car.corners.all(c, c.position != '')", Truth, "true"},
		{"measured.notes.all(n, n == 'x')", Truth, "open; measured.notes"},
		{"measured.notes.exists(n, n == 'x')", Truth, "open; measured.notes"},
		{"size(car.corners)", Value, "2"},
		{"car.corners", ListOf, "2 elements"},
		{"car.corners.filter(c, c.position == 'FR')", ListOf, "1 elements"},
		{"car.corners.map(c, c.position)", ListOf, "2 elements"},
		{"measured.notes", ListOf, "open; measured.notes"},
		{"car.wing.locked", Truth, "false"},
		{"car.ballast > 3.0", Truth, "open, not fitted; car.ballast"},
		{"car.ballast > 3.0 || measured.checked", Truth, "true"},
		{"car.wing.spring_force", Value, "open; car.wing.spring_force"},
		{"car.gearbox.shift", TextOf, "hydraulic"},
		{"car.gearbox.gears / limits.count", Value, "2"},
		{"car.gearbox.gears / (limits.count - 3)", Value, "fault rules.yaml:1:1: a whole number is divided by zero; guard it: n != 0 ? a / n : b"},
		{"9223372036854775807 + limits.count", Value, "fault rules.yaml:1:1: a whole number is too large; use numbers with a decimal point"},
		{"car.road || car.name == 'x' || 7 / (limits.count - 3) > 1", Truth, "fault rules.yaml:1:32: a whole number is divided by zero; guard it: n != 0 ? a / n : b"},
		{"limits.ratio / (limits.ratio - limits.ratio)", Value, "open; limits.ratio / (limits.ratio - limits.ratio) (divided by zero, no number, or too large a one)"},
		{"3.0 / (limits.ratio - 1.2) > 3.0", Truth, "open; 3.0 / (limits.ratio - 1.2) (divided by zero, no number, or too large a one)"},
		{"sqrt(limits.ratio - 5.0)", Value, "open; sqrt(limits.ratio - 5.0) (divided by zero, no number, or too large a one)"},
		{"sqrt(limits.ratio - 5.0) < 3.0", Truth, "open; sqrt(limits.ratio - 5.0) (divided by zero, no number, or too large a one)"},
		{"at(limits.oil_line, rpm(2000.0)) > bar(1.0)", Truth, "true"},
		{"at(limits.oil_line, rpm(9000.0))", Value, "open; limits.oil_line (outside the points of the curve)"},
		{"air.density(measured.station, degC(11.0), percent(71.0))", Value, "1.19281"},
		{"gas.gauge_at(car.pump_on, measured.station, degC(20.0), degC(60.0))", Value, "1.30825e+07"},
		{"air.density(measured.station, degC(11.0), 3.0)", Value, "open; air.density(measured.station, degC(11.0), 3.0) (divided by zero, no number, or too large a one)"},
		{"least(car.pump_on, limits.pressure)", Value, "1.05e+07"},
		{"abs(car.corners[0].camber)", Value, "0.05 to 0.06; car.corners[0].camber (known only between bounds)"},
		{"bar(3)", Value, "300000"},
		{"car.corners.map(c, c.camber)[0]", Value, "-0.06 to -0.05; car.corners[0].camber (known only between bounds)"},
	} {
		x := compile(t, e, c.text, c.want)
		if got := words(x, x.Eval(context.Background(), in)); got != c.is {
			t.Errorf("%s: %s, not %s", c.text, got, c.is)
		}
	}
}

// What is missing is told with the place of the nearest thing that is written; a channel,
// with its place in the expression.
func TestGapsHavePlaces(t *testing.T) {
	s := testScope()
	e := testEnv(t)
	in := testInputs(s)
	pad := in.Roots["measured"].Fields["pad"]
	pad.Pos = source.Pos{File: "measured/a.yaml", Line: 7, Column: 5}
	in.Roots["car"].Fields["serial"].Pos = source.Pos{File: "car.yaml", Line: 70, Column: 11}
	x := compile(t, e, "measured.pad['RL'] > mm(3.0) && car.serial == 'x' && log.max(rpm) > rpm(3.0)", Truth)
	got := ""
	for _, g := range x.Eval(context.Background(), in).Gaps {
		got += g.Pos.String() + " " + g.Path + "\n"
	}
	if want := "car.yaml:70:11 car.serial\nmeasured/a.yaml:7:5 measured.pad[RL]\nrules.yaml:1:62 rpm\n"; got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	root, faults := source.ParseYAML("rules.yaml", []byte("holds: |\n  limits.ratio > 1.0 &&\n    7 / (limits.count - 3) > 1\n"))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	x, faults = e.Compile(root.Get("holds"), Truth)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if a := x.Eval(context.Background(), in); a.Fault == nil || a.Fault.Pos.String() != "rules.yaml:3:5" {
		t.Errorf("%v", a.Fault)
	}
}

// A whole document that is missing leaves the path in full, and an absent part that the car
// has not is no gap in the documents.
func TestAbsentParts(t *testing.T) {
	e := testEnv(t)
	in := testInputs(testScope())
	delete(in.Roots["car"].Fields, "wing")
	delete(in.Roots, "measured")
	for text, is := range map[string]string{
		"car.wing.close_by == 'spring'": "open, not fitted; car.wing.close_by",
		"car.wing.locked":               "false",
		"measured.pad['FL'] > mm(3.0)":  "open; measured.pad[FL]",
		"'FL' in measured.pad":          "open; measured.pad",
	} {
		x := compile(t, e, text, Truth)
		if got := words(x, x.Eval(context.Background(), in)); got != is {
			t.Errorf("%s: %s, not %s", text, got, is)
		}
	}
}

func TestReadsAreListed(t *testing.T) {
	e := testEnv(t)
	x := compile(t, e, "car.pump_on > limits.pressure + bar(7.0) && measured.pad[car.corners[0].position] > mm(3.0) || car.road", Truth)
	a := x.Eval(context.Background(), testInputs(testScope()))
	var paths []string
	for _, r := range a.Read {
		if r.Value == nil {
			t.Errorf("%s has no value", r.Path)
		}
		paths = append(paths, r.Path)
	}
	if got := strings.Join(paths, " "); !strings.Contains(got, "car.corners[0].position") || !strings.Contains(got, "measured.pad[FL]") || strings.Contains(got, "car.road") {
		t.Error(got)
	}
	if got := strings.Join(x.Paths(), " "); got != "car.corners car.pump_on car.road limits.pressure measured.pad" {
		t.Errorf("paths: %s", got)
	}
}

// testLog: 20 s in which rpm rises and falls, oil pressure sags, the oil sensor goes blind from 12 s to 15 s.
func testLog(t *testing.T) *kernel.Log {
	t.Helper()
	n := 200
	times := make([]float64, n)
	col := map[string][]float64{}
	put := func(name string, f func(s float64) float64) {
		for i := range n {
			times[i] = float64(i) / 10
			col[name] = append(col[name], f(times[i]))
		}
	}
	put("rpm", func(s float64) float64 { return 200 + 40*math.Min(s, 20-s) })
	put("oil_pressure", func(s float64) float64 {
		switch {
		case s >= 12 && s < 15:
			return math.NaN()
		case s >= 8 && s < 8.5:
			return 2e5
		}
		return 4e5
	})
	put("throttle", func(s float64) float64 {
		if s >= 5 && s < 18 {
			return 1
		}
		return 0
	})
	put("gear", func(s float64) float64 { return math.Floor(s/4) + 1 })
	put("shift_active", func(s float64) float64 {
		if math.Mod(s, 4) < 0.15 {
			return 1
		}
		return 0
	})
	put("wing_command", func(s float64) float64 { return 0 })
	l, err := kernel.FromRows(times, 0.1, 0.15, col)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestLogCalls(t *testing.T) {
	e := testEnv(t)
	in := testInputs(testScope())
	runner := kernel.NewRunner(e.Graph(), testLog(t), kernel.Options{})
	in.Log = OnLog(runner)
	for _, c := range []struct {
		text string
		want Want
		is   string
	}{
		{"log.max(rpm)", Value, "600"},
		{"log.max(gear)", Value, "5"},
		{"log.max(gear) == 5", Truth, "true"},
		{"log.count(shift_active)", Value, "5"},
		{"log.count(shift_active) >= limits.count", Truth, "true"},
		{"log.min(oil_pressure, rpm > rpm(5000.0))", Value, "200000"},
		{"log.min(oil_pressure) < bar(2.5)", Truth, "true"},
		{"log.min(oil_pressure) > bar(1.0)", Truth, "open; oil_pressure (no sample for longer than one stands)"},
		{"log.always(oil_pressure > bar(1.0), rpm < rpm(3000.0))", Truth, "true"},
		{"log.always(oil_pressure > bar(3.0))", Truth, "false"},
		{"log.always(oil_pressure > bar(1.0))", Truth, "open; oil_pressure (no sample for longer than one stands)"},
		{"log.always(oil_pressure > limits.pressure - bar(104.0) || rpm > rpm(2500.0))", Truth, "true"},
		{"log.ever(under_load)", Truth, "true"},
		{"log.total(under_load) > s(5.0)", Truth, "true"},
		{"log.min(over_line, under_load)", Value, "-Inf to -149143; oil_pressure (no sample for longer than one stands)"},
		{"log.min(oil_pressure, wing_command)", Value, "open, not exercised"},
		{"log.response(wing_command, shift_active)", Value, "open, not exercised"},
		{"log.max(oil_temp)", Value, "open; oil_temp (not logged)"},
		{"log.max(oil_temp) > degC(50.0) || log.max(rpm) > rpm(3000.0)", Truth, "true"},
		{"log.always(rpm > log.mean(rpm) * 0.3)", Truth, "true"},
		{"log.always(rpm > log.mean(rpm) * limits.ratio)", Truth, "false"},
		{"log.max(rpm * plan.runs_left)", Value, "open; plan.runs_left"},
		{"log.always(rpm > rpm(1.0) || oil_pressure > bar(3.0) * plan.runs_left)", Truth, "true"},
		{"log.max(throttle * car.corners[0].camber)", Value, "0"},
		{"log.min(throttle * car.corners[0].camber)", Value, "-0.06 to -0.05; car.corners[0].camber (known only between bounds)"},
		{"log.always(throttle * car.corners[0].camber < deg(3.0))", Truth, "true"},
		{"log.always(throttle * car.corners[0].camber > deg(-3.0))", Truth, "open; car.corners[0].camber (known only between bounds)"},
		{"log.max(rpm) > rpm(3000.0) && limits.time > s(1.0)", Truth, "open; limits.time"},
		{"log.max(delay(rpm, limits.time))", Value, "open; limits.time"},
		{"log.max(delay(rpm, -limits.ratio * s(1.0)))", Value, "fault rules.yaml:1:20: the time of delay() is negative"},
		{"log.quantile(rpm, limits.ratio)", Value, "fault rules.yaml:1:19: the share of log.quantile lies outside 0 to 1"},
		{"log.quantile(rpm, 0.5) > rpm(1000.0)", Truth, "true"},
		{"log.first(shift_active)", Truth, "true"},
		{"log.last(shift_active)", Truth, "false"},
		{"log.last(gear)", Value, "5"},
		{"log.max(at(limits.oil_line, rpm)) > bar(3.0)", Truth, "true"},
		// 200 to 600 and back to 204: half a cycle of amplitude 200, half of 198, by hand on the line
		// from 10^6 at 100 to 10^3 at 400.
		{"log.damage(rpm, limits.shaft_life)", Value, "3.08504e-05"},
		// Down by 2 bar and up again was seen; what came while it was not may have been anything.
		{"log.damage(oil_pressure, limits.oil_life)", Value, "5e-06 to +Inf; oil_pressure (no sample for longer than one stands)"},
		{"log.damage(oil_pressure, limits.oil_life) < 1.0", Truth, "open; oil_pressure (no sample for longer than one stands)"},
		{"log.damage(rpm, limits.rising_life)", Value, "fault rules.yaml:1:17: the curve of log.damage does not fall: a wider cycle must be stood less often"},
		{"log.ever(gear in [7, 8])", Truth, "false"},
		{"log.longest(held(rpm > rpm(4000.0), s(1.0))) > s(3.0)", Truth, "true"},
		{"log.max(slope(rpm)) > rpm(300.0) / s(1.0)", Truth, "true"},
		{"log.max(since(shift_active)) < s(5.0)", Truth, "true"},
		{"log.integral(rpm) > 0.0", Truth, "true"},
		{"car.corners.all(c, log.max(rpm) > rpm(100.0) && log.always(rpm > rpm(1.0) || c.position == 'x'))", Truth, "true"},
		{"log.total(shift_active ? gear > 2 : rpm > rpm(5000.0)) > s(1.0)", Truth, "true"},
		{"log.mean(rpm, throttle > percent(50.0)) > log.mean(rpm)", Truth, "true"},
	} {
		x := compile(t, e, c.text, c.want)
		a := x.Eval(context.Background(), in)
		if got := words(x, a); got != c.is {
			t.Errorf("%s: %s, not %s", c.text, got, c.is)
		}
		for _, call := range a.Calls {
			if call.Key == "" || !strings.HasPrefix(call.Text, "log.") || !call.OK || len(call.Operands) == 0 {
				t.Errorf("%s: call %+v", c.text, call)
			}
		}
	}
}

// Without a log every call says so, and the calls of a run sheet are found by their key.
func TestNoLogAndStoredAnswers(t *testing.T) {
	e := testEnv(t)
	in := testInputs(testScope())
	x := compile(t, e, "log.min(oil_pressure, under_load) > limits.pressure", Truth)
	a := x.Eval(context.Background(), in)
	if got := words(x, a); got != "open; oil_pressure (no log); throttle (no log); rpm (no log)" && got != "open; rpm (no log); throttle (no log); oil_pressure (no log)" {
		t.Error(got)
	}
	if len(a.Calls) != 1 || a.Calls[0].OK {
		t.Fatalf("%+v", a.Calls)
	}
	in.Log = stored{a.Calls[0].Key: {Low: 12e6, High: 12e6, At: 3}}
	if got := words(x, x.Eval(context.Background(), in)); got != "true" {
		t.Error(got)
	}
	if got := x.Calls(); len(got) != 1 || got[0].Text != "log.min(oil_pressure, under_load)" || !got[0].Conditional || got[0].Fold != kernel.Min {
		t.Errorf("%+v", got)
	}
	if aggs := x.Want(context.Background(), in); len(aggs) != 1 || aggs[0] != a.Calls[0].Agg {
		t.Errorf("wants %v", aggs)
	}
	nested := compile(t, e, "log.always(rpm > log.mean(rpm) * 0.3)", Truth)
	if aggs := nested.Want(context.Background(), in); len(aggs) != 1 {
		t.Errorf("wants %v", aggs)
	}
}

type stored map[string]kernel.Answer

func (s stored) Answer(_ context.Context, g *kernel.Graph, a kernel.Agg) (kernel.Answer, bool, error) {
	ans, ok := s[g.Key(a)]
	return ans, ok, nil
}

func TestExplain(t *testing.T) {
	e := testEnv(t)
	in := testInputs(testScope())
	in.Log = OnLog(kernel.NewRunner(e.Graph(), testLog(t), kernel.Options{}))
	x := compile(t, e, `(car.pump_on - limits.pressure) * 2.0 > bar(7.0) || log.min(oil_pressure - bar(0.5), rpm < rpm(3000.0) + limits.ratio * rpm(1.0)) < plan.runs_left * bar(1.0) && car.corners.all(c, c.position != "")`, Truth)
	var got []string
	for _, s := range x.Explain(context.Background(), in) {
		line := s.Text + " = "
		switch v := s.Value; {
		case v.Unknown:
			line += "?"
		case v.Type.Kind == schema.YesNo:
			line += fmt.Sprint(v.Bool)
		case v.Type.Kind == schema.Text:
			line += v.Text
		default:
			line += fmt.Sprintf("%.5g %s", v.Low, v.Type.Unit)
		}
		for _, c := range s.Samples {
			line += fmt.Sprintf(" [%s %.4g %v]", c.Channel, c.Low, c.Known)
		}
		got = append(got, line)
	}
	want := []string{
		"car.pump_on = 1.15e+07 gauge pressure",
		"limits.pressure = 1.05e+07 pressure",
		"car.pump_on - limits.pressure = 1e+06 gauge pressure",
		"(car.pump_on - limits.pressure) * 2.0 = 2e+06 gauge pressure",
		"(car.pump_on - limits.pressure) * 2.0 > bar(7.0) = true",
		"limits.ratio = 1.2 plain number",
		"limits.ratio * rpm(1.0) = 0.12566 speed of rotation",
		"rpm(3000.0) + limits.ratio * rpm(1.0) = 314.28 speed of rotation",
		"log.min(oil_pressure - bar(0.5), rpm < rpm(3000.0) + limits.ratio * rpm(1.0)) = 3.5e+05 gauge pressure [oil_pressure 4e+05 true] [rpm 200 true]",
		"plan.runs_left = ?",
		"plan.runs_left * bar(1.0) = ?",
		"log.min(oil_pressure - bar(0.5), rpm < rpm(3000.0) + limits.ratio * rpm(1.0)) < plan.runs_left * bar(1.0) = ?",
		`car.corners.all(c, c.position != "") = true`,
		`log.min(oil_pressure - bar(0.5), rpm < rpm(3000.0) + limits.ratio * rpm(1.0)) < plan.runs_left * bar(1.0) && car.corners.all(c, c.position != "") = ?`,
		x.Text() + " = true",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestFits(t *testing.T) {
	e := testEnv(t)
	for _, c := range []struct{ measure, limit, is string }{
		{"car.pump_on", "limits.pressure + bar(7.0)", ""},
		{"car.pump_on", "0.0", ""},
		{"limits.oil_hot", "0.0", "0 is no temperature: of which scale?; write degC(0.0)"},
		{"car.pump_on", "3.8", "a gauge pressure does not compare with a plain number; give the number a unit, as in bar(3.8)"},
		{"log.min(oil_pressure)", "measured.station", "a gauge pressure does not compare with an absolute one; going from one to the other takes the station pressure"},
	} {
		measure, limit := compile(t, e, c.measure, Value), compile(t, e, c.limit, Value)
		what, remedy := limit.Fits(measure)
		if remedy != "" {
			what += "; " + remedy
		}
		if what != c.is {
			t.Errorf("%s with limit %s: %q", c.measure, c.limit, what)
		}
	}
}

// An evaluation ends: by its count of steps, whatever the clock says, and when it is told to.
func TestEvaluationEnds(t *testing.T) {
	e := testEnv(t)
	list := "[" + strings.TrimSuffix(strings.Repeat("1,", 60), ",") + "]"
	x := compile(t, e, list+".all(a, "+list+".all(b, "+list+".all(c, "+list+".all(d, "+list+".all(f, a + b + c + d + f > 0)))))", Truth)
	a := x.Eval(context.Background(), Inputs{})
	if a.Fault == nil || a.Fault.What != "the expression takes too long to work out" {
		t.Errorf("%+v", a.Fault)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if a := x.Eval(ctx, Inputs{}); a.Fault == nil || a.Fault.What != "context canceled" {
		t.Errorf("%+v", a.Fault)
	}
}

// A text made to take time or memory is refused, or stopped at its count of steps.
func TestHostileTexts(t *testing.T) {
	many := strings.Repeat
	e := testEnv(t)
	in := testInputs(testScope())
	for _, c := range []struct{ text, is string }{
		{many("(", 9000), "the expression is nested too deep"},
		{many("[", 9000), "the expression is nested too deep"},
		{many("!", 9000) + "true", "true"},
		{many("1+", 4900) + "1 > 0", "the expression is nested too deep"},
		{"car" + many("[0]", 3000), "the expression is nested too deep"},
		{many("true?1:", 1400) + "2 > 1", "the expression is nested too deep"},
		{many("true&&", 1600) + "true", "true"},
		{many(`"`, 9999), "the expression cannot be read"},
		{many("@ ", 4999), "`@` means nothing in an expression"},
		{many("x", 20000), "the expression is too long"},
		{many("1<", 3000) + "1", "the expression is nested too deep"},
		{"1 in [" + many("2,", 4000) + "3]", "false"},
		{`"` + many("a", 9000) + `".matches("(a*)*(a*)*b")`, "false"},
		{"[" + many("1,", 1000) + "1].all(a,[" + many("1,", 1000) + "1].all(b, a == b))", "the expression takes too long to work out"},
		{"[" + many("1,", 1000) + "1].map(a,[" + many("1,", 1000) + "1].map(b, a)).size() > 0", "the expression takes too long to work out"},
		{many("[1,2,3].map(x, ", 20) + "1" + many(")", 20) + ".size() > 0", "the expression takes too long to work out"},
		{"['aaaa']" + many(".map(x,x+x)", 30) + ".size() > 0", "the text is too long"},
		{"[[1]]" + many(".map(x,x+x)", 30) + ".size() > 0", "the expression takes too long to work out"},
	} {
		x, faults := e.Compile(plain(c.text), Truth)
		got := ""
		switch {
		case len(faults) > 0:
			got = faults[0].What
		default:
			a := x.Eval(context.Background(), in)
			if got = words(x, a); a.Fault != nil {
				got = a.Fault.What
			}
			x.Explain(context.Background(), in)
		}
		if got != c.is {
			t.Errorf("%.40s...: %s, not %s", c.text, got, c.is)
		}
	}
}

func TestConcurrentCompileAndEval(t *testing.T) {
	e := testEnv(t)
	in := testInputs(testScope())
	in.Log = OnLog(kernel.NewRunner(e.Graph(), testLog(t), kernel.Options{}))
	texts := append(benchTexts(), "log.min(oil_pressure, under_load) > limits.pressure", "car.corners.all(c, c.position != '')")
	done := make(chan string)
	for range 4 {
		go func() {
			var b strings.Builder
			for _, s := range texts {
				x, faults := e.With(map[string]*schema.Type{"corner": testScope().Roots["car"].Fields["corners"].Elem}).Compile(plain(s), Truth)
				if len(faults) > 0 {
					b.WriteString(faults.Error())
					continue
				}
				b.WriteString(words(x, x.Eval(context.Background(), in)))
			}
			done <- b.String()
		}()
	}
	first := <-done
	for range 3 {
		if other := <-done; other != first {
			t.Fatal("two goroutines had different answers")
		}
	}
}

func FuzzCompileAndEval(f *testing.F) {
	for _, s := range append(benchTexts()[:10],
		"log.min(oil_pressure - at(limits.oil_line, rpm), under_load)", "car.corners.all(c, c.camber < deg(0.0))", `{"a": 1.0}["b"] > 2.0`, "log.ever(gear in [1, 2] || slope(rpm) > 3.0)",
		"log.quantile(rpm, 0.5)", "log.response(wing_command, held(shift_active, s(0.1)))", "timestamp('x') > plan.last_day", "[1, 2].map(x, x * 2)", "'°' + car.name", "-9223372036854775808 / -1 > 0",
	) {
		f.Add(s)
	}
	e := testEnv(f)
	in := testInputs(testScope())
	f.Fuzz(func(t *testing.T, s string) {
		checkQuick(t, s)
		for _, want := range []Want{Truth, Value, TextOf, ListOf} {
			x, faults := e.Compile(plain(s), want)
			for _, fault := range faults {
				if fault.Pos.Line == 0 || fault.What == "" {
					t.Fatalf("%q: %v has no place or no words", s, fault)
				}
			}
			if len(faults) > 0 {
				continue
			}
			a := x.Eval(context.Background(), in)
			if a.Fault == nil && !a.Open && want == Value && !(a.Low <= a.High) {
				t.Fatalf("%q: %v to %v", s, a.Low, a.High)
			}
			x.Explain(context.Background(), in)
			x.Want(context.Background(), in)
			x.Paths()
		}
	})
}
