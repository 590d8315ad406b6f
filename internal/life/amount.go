package life

import "math"

// Amount is how much of a meter was used, in the meter's unit: between Low and High, which
// is infinite where nothing bounds it.
type Amount struct {
	Low, High float64
	// Estimated says that some of it was not counted: it was brought in as an estimate, or
	// a substitute stands for a run that counted nothing.
	Estimated bool
}

func counted(v float64) Amount { return Amount{Low: v, High: v} }

// unknown is an amount of which nobody said anything.
func unknown() Amount { return Amount{High: math.Inf(1), Estimated: true} }

func (a Amount) plus(b Amount) Amount {
	return Amount{a.Low + b.Low, a.High + b.High, a.Estimated || b.Estimated}
}

// times counts an amount several times over; the factor itself may be uncertain.
func (a Amount) times(low, high float64) Amount {
	return Amount{a.Low * low, a.High * high, a.Estimated}
}

// since is how much a total has grown over what it was.
func (a Amount) since(was float64) Amount {
	return Amount{max(0, a.Low-was), max(0, a.High-was), a.Estimated}
}

// grown is by how much a total became another, when both are uncertain.
func (a Amount) grown(was Amount) Amount {
	if math.IsInf(was.High, 1) {
		return Amount{0, a.High, true}
	}
	return Amount{max(0, a.Low-was.High), max(0, a.High-was.Low), a.Estimated || was.Estimated}
}

// share is the amount as a part of a whole.
func (a Amount) share(whole float64) Amount {
	if whole <= 0 {
		return unknown()
	}
	return Amount{a.Low / whole, a.High / whole, a.Estimated}
}

// left is what is left of a whole; below zero when it is overrun.
func (a Amount) left(whole float64) Amount { return Amount{whole - a.High, whole - a.Low, a.Estimated} }
