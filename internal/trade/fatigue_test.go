package trade

import (
	"cmp"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// ASTM E1049-85, 5.4.4, figure 6.
var standardHistory = []float64{-2, 1, -3, 5, -1, 3, -4, 4, -2}

func sorted(cycles []Cycle) []Cycle {
	slices.SortFunc(cycles, func(a, b Cycle) int {
		return cmp.Or(cmp.Compare(a.Range, b.Range), cmp.Compare(a.Mean, b.Mean), cmp.Compare(a.Count, b.Count))
	})
	return cycles
}

func TestRainflow(t *testing.T) {
	want := sorted([]Cycle{{3, -0.5, 0.5}, {4, -1, 0.5}, {4, 1, 1}, {8, 1, 0.5}, {9, 0.5, 0.5}, {8, 0, 0.5}, {6, 1, 0.5}})
	got := sorted(Rainflow(standardHistory))
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	// Derived: sums of count times range to a power, and the single range that does the same.
	third, fifth := 0.0, 0.0
	for _, c := range got {
		third += c.Count * math.Pow(c.Range, 3)
		fifth += c.Count * math.Pow(c.Range, 5)
	}
	near(t, "third powers", third, 1094, 1e-12)
	near(t, "fifth powers", fifth, 67838, 1e-12)
	near(t, "one range", math.Cbrt(third), 10.30400, 1e-6)
	for _, short := range [][]float64{nil, {1}, {1, 1, 1}, {math.NaN()}} {
		if c := Rainflow(short); len(c) != 0 {
			t.Errorf("%v has cycles %v", short, c)
		}
	}
}

// The three-point procedure, step by step as the standard words it.
func standardCount(history []float64) []Cycle {
	var cycles []Cycle
	var points []float64
	for _, x := range turningPoints(history) {
		points = append(points, x)
		for len(points) >= 3 {
			n := len(points)
			x, y := distance(points[n-1], points[n-2]), distance(points[n-2], points[n-3])
			if x < y {
				break
			}
			if n == 3 {
				cycles = append(cycles, cycle(points[0], points[1], 0.5))
				points = points[1:]
				continue
			}
			cycles = append(cycles, cycle(points[n-3], points[n-2], 1))
			points = append(points[:n-3], points[n-1])
		}
	}
	for i := 1; i < len(points); i++ {
		cycles = append(cycles, cycle(points[i-1], points[i], 0.5))
	}
	return cycles
}

// together sums the counts of equal cycles.
func together(cycles []Cycle) []Cycle {
	var out []Cycle
	for _, c := range sorted(cycles) {
		if n := len(out); n > 0 && out[n-1].Range == c.Range && out[n-1].Mean == c.Mean {
			out[n-1].Count += c.Count
			continue
		}
		out = append(out, c)
	}
	return out
}

// The four-point count with its residue in halves is the standard's count: of equal
// ranges in a row one may close where the other counts two halves.
func TestRainflowIsTheStandards(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		history := rapid.SliceOfN(rapid.Float64Range(-100, 100), 0, 60).Draw(t, "history")
		if got, want := together(Rainflow(history)), together(standardCount(history)); !slices.Equal(got, want) {
			t.Errorf("got %v\nwant %v", got, want)
		}
	})
}

// Runs counted one after the other, each starting with the residue left, close the same
// cycles as all of them in one history.
func TestResiduesJoin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		runs := rapid.SliceOfN(rapid.SliceOfN(rapid.Map(rapid.IntRange(-5, 5), func(i int) float64 { return float64(i) }), 0, 30), 1, 4).Draw(t, "runs")
		var residue, joined []float64
		var cycles []Cycle
		for _, run := range runs {
			joined = append(joined, run...)
			closed, left := ClosedCycles(slices.Concat(residue, run))
			cycles, residue = append(cycles, closed...), left
		}
		want, wantResidue := ClosedCycles(joined)
		if !slices.Equal(sorted(cycles), sorted(want)) || !slices.Equal(residue, wantResidue) {
			t.Errorf("in parts %v, %v\nin one %v, %v", cycles, residue, want, wantResidue)
		}
	})
}

func TestRainflowLeavesTheHistoryAlone(t *testing.T) {
	history := slices.Clone(standardHistory)
	ClosedCycles(history)
	if !slices.Equal(history, standardHistory) {
		t.Error("the history changed")
	}
}

// Shigley, 9th ed., 6-15, figure 6-33: pairs of greatest and least stress in kpsi.
func TestCycleMeans(t *testing.T) {
	for _, tt := range [][4]float64{{80, -60, 70, 10}, {60, 40, 10, 50}, {-20, -40, 10, -30}} {
		if c := cycle(tt[0], tt[1], 1); c.Range/2 != tt[2] || c.Mean != tt[3] {
			t.Errorf("%v: %+v", tt, c)
		}
	}
}

func TestMiner(t *testing.T) {
	// Blocks as in a public test set (cases of n and N).
	for _, tt := range []struct {
		blocks [][2]float64
		want   float64
	}{
		{[][2]float64{{10, 1000}, {200, 20000}, {50, 500}}, 0.12},
		{[][2]float64{{1, 100}, {2, 2000}, {3, 30}, {4, 40}}, 0.211},
		{[][2]float64{{50, 100}, {1000, 2000}, {15, 30}, {40, 40}}, 2.5},
	} {
		damage := 0.0
		for _, b := range tt.blocks {
			damage += Damage([]Cycle{{2, 0, b[0]}}, func(float64) float64 { return b[1] }, nil)
		}
		near(t, "damage", damage, tt.want, 1e-12)
	}
	points := []SNPoint{{10, 5}, {100, 4}, {1e5, 1}}
	cycles := []Cycle{{2, 0, 1000}, {4, 0, 100}, {8, 0, 10}}
	near(t, "no limit", Damage(cycles, SNCurveSemiLog(points, 0), nil), 0.12, 1e-12)
	near(t, "limit 1", Damage(cycles, SNCurveSemiLog(points, 1), nil), 0.11, 1e-12)
	near(t, "log-log midpoint", SNCurve([]SNPoint{{100, 4}, {1e4, 1}}, 0)(2), 1000, 1e-12)
	none(t, "stress above the curve", Damage([]Cycle{{12, 0, 1}}, SNCurve(points, 0), nil))
	none(t, "stress under the curve", Damage([]Cycle{{1, 0, 1}}, SNCurve(points, 0), nil))
	if d := Damage([]Cycle{{1, 0, 1e9}}, SNCurve(points, 0.5), nil); d != 0 {
		t.Errorf("at the limit the damage is %g", d)
	}
	// The standard history with N = (1000/range)^3.
	near(t, "standard history", Damage(Rainflow(standardHistory), func(a float64) float64 { return math.Pow(1000/(2*a), 3) }, nil), 1.094e-6, 1e-12)
}

// Cycles, not reversals: public pages print 59 049 for the first, which counts reversals.
func TestBasquin(t *testing.T) {
	life := Basquin(900, -0.1, 0)
	near(t, "300 MPa", life(300), 29524.5, 1e-9)
	near(t, "200 MPa", life(200), 1702531, 1e-6)
	if !math.IsInf(Basquin(900, -0.1, 200)(200), 1) {
		t.Error("the endurance limit is not endless")
	}
	none(t, "a rising curve", Basquin(900, 0.1, 0)(300))
}

// Shigley's solutions manual, problem 6-12: 172 and 178.4 MPa, strengths 276 and 551.
func TestMeanStress(t *testing.T) {
	goodman, gerber := Goodman(551)(172, 178.4), Gerber(551)(172, 178.4)
	near(t, "Goodman", goodman, 254.35, 2e-5)
	near(t, "Gerber", gerber, 192.14, 2e-5)
	near(t, "Smith, Watson, Topper", SmithWatsonTopper(172, 178.4), 245.50, 2e-5)
	// The printed factor 1.06 is on the load; 1/(sa/Se + sm/Sut).
	near(t, "Goodman's factor", 1/(172/276.0+178.4/551), 1.0560, 1e-4)
	// A public test set: stresses 1..2 and 0..2.
	near(t, "Goodman 1..2", Goodman(2)(0.5, 1.5), 2.0, 1e-12)
	near(t, "Goodman 0..2", Goodman(2)(1, 1), 2.0, 1e-12)
	near(t, "Gerber 1..2", Gerber(4.5)(0.5, 1.5), 0.5625, 1e-12)
	near(t, "Gerber 0..2", Gerber(3)(1, 1), 1.125, 1e-12)
	near(t, "fully reversed", Goodman(2)(1, 0), 1, 1e-12)
	near(t, "in compression", Goodman(2)(1, -1), 1, 1e-12)
	if !math.IsInf(Gerber(2)(0.1, 2), 1) {
		t.Error("a mean at the strength does not break it")
	}
	if got := SmithWatsonTopper(1, -2); got != 0 {
		t.Errorf("all in compression: %g", got)
	}
	near(t, "damage with a mean", Damage([]Cycle{{2 * 172, 178.4, 1}}, Basquin(900, -0.1, 0), Goodman(551)), 1/Basquin(900, -0.1, 0)(goodman), 1e-12)
}

func TestBearing(t *testing.T) {
	const kN = 1e3
	// skf.com, after ISO 281:2007: 30 kN, 5 kN, 1500 rpm; the roller from machinecalcs.com.
	near(t, "ball", BearingLife(30*kN, 5*kN, BallBearing), 216e6, 1e-12)
	near(t, "ball, hours", BearingTime(30*kN, 5*kN, BallBearing, rpm(1500))/3600, 2400, 1e-9)
	near(t, "roller", BearingLife(30*kN, 5*kN, RollerBearing), 392.498e6, 1e-6)
	near(t, "8 times", BearingLife(16, 2, BallBearing), 512e6, 1e-12)
	// Shigley, example 11-1 (from memory): 400 lbf, 5000 h, 1725 rpm needs 3211 lbf.
	near(t, "needed rating", 400*math.Cbrt(5000*60*1725/1e6), 3211, 2e-4)
	near(t, "its life", BearingTime(3211.4, 400, BallBearing, rpm(1725))/3600, 5000, 1e-4)
	none(t, "no load", BearingLife(30, 0, BallBearing))
}
