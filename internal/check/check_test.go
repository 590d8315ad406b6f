package check

import "testing"

// From the best to the worst: what nobody could decide is worse than a warn, or a log that does
// not show a thing would win over one that shows it going.
func TestWorseThan(t *testing.T) {
	order := []Outcome{NotApplicable, Pass, Warn, NoData, Fail}
	for i, a := range order {
		for k, b := range order {
			if got := a.WorseThan(b); got != (i > k) {
				t.Errorf("%s worse than %s: %v", a, b, got)
			}
		}
	}
}
