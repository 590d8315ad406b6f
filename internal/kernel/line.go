package kernel

import "math"

// Line makes SI of what a logger wrote: value*Scale + Offset. The zero Line leaves a value as it is.
type Line struct{ Scale, Offset float64 } // Scale is not negative

// SI is a value in SI, never -0. Both steps are rounded, on every machine.
func (l Line) SI(value float64) float64 {
	if l.Scale == 0 {
		return value
	}
	return float64(value*l.Scale) + l.Offset + 0
}

// convert makes SI of values.
func (l Line) convert(dst, values []float64) {
	values = values[:len(dst)]
	for i, v := range values {
		dst[i] = float64(v*l.Scale) + l.Offset + 0
	}
}

// firstFrom is the least value that is at least limit in SI, and lastTo the greatest that is at most limit; infinite
// where there is none. A greater value is never less in SI, however it is rounded, so a compare with
// limit is one with these.
func (l Line) firstFrom(limit float64) float64 {
	return l.first(func(si float64) bool { return si >= limit })
}

func (l Line) lastTo(limit float64) float64 {
	over := l.first(func(si float64) bool { return si > limit })
	if math.IsInf(over, 1) {
		return math.MaxFloat64
	}
	return math.Nextafter(over, minusInf) + 0
}

// first is the least finite value whose SI is far enough, +Inf if none is.
func (l Line) first(enough func(si float64) bool) float64 {
	if l.Scale == 0 {
		l.Scale = 1
	}
	// Doubles in order of size are integers in order of size, those below 0 turned round.
	const most = 0x7fef_ffff_ffff_ffff // the greatest double
	double := func(i int64) float64 {
		if i < 0 {
			return -math.Float64frombits(uint64(-i))
		}
		return math.Float64frombits(uint64(i))
	}
	from, to := int64(-most), int64(most+1) // not before from, and to if nothing before it is
	for from < to {
		i := from + int64((uint64(to)-uint64(from))/2)
		if enough(l.SI(double(i))) {
			to = i
		} else {
			from = i + 1
		}
	}
	if from > most {
		return plusInf
	}
	return double(from) + 0
}
