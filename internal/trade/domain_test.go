package trade

import (
	"math"
	"testing"
)

// What cannot be gives no number, wherever it is put in.
func TestImpossibleInputs(t *testing.T) {
	inf := math.Inf(1)
	first := func(a, _ float64) float64 { return a }
	for what, got := range map[string]float64{
		"absolute pressure without station pressure": ToAbsolute(1e5, 0),
		"gauge pressure of less than nothing":        ToGauge(-1, 1e5),
		"gas of no volume":                           Polytropic(0, 1e5, 2e5, 1.4),
		"accumulator for no oil":                     AccumulatorSize(0, 1e5, 2e5, 3e5, 1.4),
		"accumulator that gives none":                AccumulatorSize(1, 4e5, 2e5, 3e5, 1.4),
		"accumulator at 0 bar":                       AccumulatorGives(1, 1e5, 0, 3e5, 1.4),
		"leak in no time":                            LeakRate(1, 1e5, 300, 1e5, 300, 0),
		"cylinder with no bore":                      CylinderForce(1e5, 0, 0),
		"cylinder at no known pressure":              CylinderForce(nan, 0.05, 0),
		"engine speed with no tyre":                  EngineSpeed(30, 4, 0),
		"circumference of nothing":                   Circumference(0),
		"road speed of an unknown rpm":               RoadSpeed(nan, 4, 2),
		"beta of nothing counted":                    BetaRatio(0, 0),
		"bearing that stands":                        BearingTime(30, 5, 3, 0),
		"bearing without end":                        BearingLife(inf, 5, 3),
		"air of unknown humidity":                    AirDensity(1e5, 293, nan),
		"air below 0 K":                              AirDensity(1e5, -1, 0.5),
		"Goodman without strength":                   Goodman(0)(1, 1),
		"Goodman of an unknown mean":                 Goodman(1)(1, nan),
		"Smith, Watson, Topper below 0":              SmithWatsonTopper(-1, 0),
		"survival of no distribution":                Weibull{}.Survival(1),
		"survival before the start":                  Weibull{1, 1}.Survival(-1),
		"risk of no distribution":                    Weibull{}.Risk(1, 1),
		"risk backwards":                             Weibull{1, 1}.Risk(1, -1),
		"life of all":                                Weibull{1, 1}.Life(1),
		"slope of unequal lists":                     first(TheilSen([]float64{1}, nil)),
		"stress below 0":                             Basquin(900, -0.1, 0)(-1),
	} {
		none(t, what, got)
	}
	if math.IsNaN(Weibull{2, 100}.Survival(0)) || (Weibull{2, 100}).Survival(0) != 1 || (Weibull{2, 100}).Risk(50, 0) != 0 {
		t.Error("nothing has happened yet, and yet")
	}
	if marked := Hampel([]float64{1, 2, 90}, 0, 3); marked[2] {
		t.Error("a window of one marks itself")
	}
}

// The risk from new is what is missing to survival, and risks chain.
func TestRisksChain(t *testing.T) {
	w := Weibull{1.7208, 606.528}
	near(t, "risk from new", w.Risk(0, 300), 1-w.Survival(300), 1e-12)
	near(t, "two steps", (1-w.Risk(0, 200))*(1-w.Risk(200, 150)), w.Survival(350), 1e-12)
	near(t, "life", w.Survival(w.Life(0.3)), 0.7, 1e-12)
}
