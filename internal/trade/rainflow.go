package trade

// Cycle is a stress cycle: its range and mean, and how often it happened, 0.5 for a half.
type Cycle struct{ Range, Mean, Count float64 }

// Rainflow counts the cycles of a history, ASTM E1049-85 (2017), 5.4.4: closed cycles
// count one, what stays open at the end half each. For a run that others follow use
// ClosedCycles and keep the residue.
func Rainflow(history []float64) []Cycle {
	cycles, residue := ClosedCycles(history)
	for i := 1; i < len(residue); i++ {
		cycles = append(cycles, cycle(residue[i-1], residue[i], 0.5))
	}
	return cycles
}

// ClosedCycles gives the closed cycles of a history, in the order in which they close,
// and its residue: the turning points left open.
//
// Residues join: ClosedCycles of one run's residue followed by the next run's history
// closes exactly the cycles that the two runs in one would have closed beyond the first
// run's own (the four-point method; Amzallag, Gerey, Robert, Bahuaud, Int. J. Fatigue 16
// (1994) 287). The residue's own ranges, half each or whole, bound the damage still open.
func ClosedCycles(history []float64) (cycles []Cycle, residue []float64) {
	for _, x := range turningPoints(history) {
		residue = append(residue, x)
		for n := len(residue); n >= 4; n = len(residue) {
			before, a, b, after := residue[n-4], residue[n-3], residue[n-2], residue[n-1]
			if inner := distance(a, b); inner > distance(before, a) || inner > distance(b, after) {
				break
			}
			cycles = append(cycles, cycle(a, b, 1))
			residue[n-3] = after
			residue = residue[:n-2]
		}
	}
	return cycles, residue
}

func cycle(a, b, count float64) Cycle { return Cycle{distance(a, b), (a + b) / 2, count} }

func distance(a, b float64) float64 { return max(a-b, b-a) }

// turningPoints leaves the first, the last and every reversal of a history; values that
// are not finite are left out.
func turningPoints(history []float64) []float64 {
	var points []float64
	for _, x := range history {
		if !finite(x) {
			continue
		}
		n := len(points)
		switch {
		case n > 0 && points[n-1] == x:
		case n > 1 && (points[n-1] > points[n-2]) == (x > points[n-1]):
			points[n-1] = x
		default:
			points = append(points, x)
		}
	}
	return points
}
