package demo

import (
	"math"
	"math/rand/v2"
)

// Column is one logged channel. Its values are whole numbers of the last decimal, as
// the log prints them.
type Column struct {
	Name     string // in rules
	Logged   string // in the log
	Unit     string
	Rate     int // Hz
	Decimals int
	Within   float64 // greatest difference of a sample from the truth, noise and rounding together
	Rows     []int32 // rows of the log that hold a sample, increasing
	Counts   []int32
}

// Values gives the samples in the logger's unit, as a reader of the log would parse them.
func (c *Column) Values() []float64 {
	scale := math.Pow10(c.Decimals)
	v := make([]float64, len(c.Counts))
	for i, n := range c.Counts {
		v[i] = float64(n) / scale
	}
	return v
}

// recorder is the logger at work.
type recorder struct {
	sensors []sensor
	columns []Column
	groups  []group
	noise   *rand.PCG
}

// group is the sensors of one rate.
type group struct {
	period  int // ms
	members []int
}

func newRecorder(r *Run) *recorder {
	const usual = 105 // s, a usual length of log
	rec := &recorder{sensors: r.sensors(), noise: rand.NewPCG(r.Seed, 0xda3e39cb94b95bdb)}
	rec.columns = make([]Column, len(rec.sensors))
	for i := range rec.sensors {
		s := &rec.sensors[i]
		rec.columns[i] = Column{
			Name: s.name, Logged: s.logged, Unit: s.unit, Rate: s.rate, Decimals: s.decimals, Within: s.bound(),
			Rows: make([]int32, 0, usual*s.rate), Counts: make([]int32, 0, usual*s.rate),
		}
		rec.join(i, s.period())
	}
	return rec
}

func (r *recorder) join(i, period int) {
	for g := range r.groups {
		if r.groups[g].period == period {
			r.groups[g].members = append(r.groups[g].members, i)
			return
		}
	}
	r.groups = append(r.groups, group{period, []int{i}})
}

// finest is the period of the log's rows, ms.
func (r *recorder) finest() int {
	p := r.groups[0].period
	for _, g := range r.groups {
		p = min(p, g.period)
	}
	return p
}

// sample logs the channels that are due, as row number row.
func (r *recorder) sample(m *model, row int32) {
	for _, g := range r.groups {
		if m.ms%g.period != 0 {
			continue
		}
		for _, i := range g.members {
			s := &r.sensors[i]
			c := &r.columns[i]
			c.Rows = append(c.Rows, row)
			c.Counts = append(c.Counts, s.reading(s.read(m), r.noise))
		}
	}
}
