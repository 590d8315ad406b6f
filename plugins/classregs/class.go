package classregs

import "fmt"

// Equivalent is the capacity a car is classed by, in cm³: the swept volume times the factor for
// how the engine breathes.
func (r *Rules) Equivalent(cm3 float64, aspiration string) (float64, error) {
	factor, ok := r.Equivalence[aspiration]
	if !ok {
		return 0, fmt.Errorf("the book has no factor for an engine that is %s", aspiration)
	}
	return cm3 * factor, nil
}

// ClassOf is the class of an equivalent capacity: the first it does not exceed.
func (r *Rules) ClassOf(equivalent float64) (string, error) {
	for _, c := range r.Classes {
		if c.UpTo == 0 || equivalent <= c.UpTo {
			return c.Class, nil
		}
	}
	return "", fmt.Errorf("the book has no class for %.0f cm³", equivalent)
}

// LeastWeight is the minimum weight of an equivalent capacity, kg.
func (r *Rules) LeastWeight(equivalent float64) (float64, error) {
	for _, w := range r.MinimumWeight {
		if w.UpTo == 0 || equivalent <= w.UpTo {
			return w.Kg, nil
		}
	}
	return 0, fmt.Errorf("the book has no least weight for %.0f cm³", equivalent)
}
