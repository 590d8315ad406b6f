package demo

// Recording is one run as logged, and the truth about it.
type Recording struct {
	Run     Run
	Millis  []int32 // ms, time of each row
	Columns []Column
	Truth   map[string]Extreme
	// Closings is each closing of the wing: when it was ordered and how long it took, s;
	// one that never ended is left out. ShiftLows is the lowest pressure of each shift, bar.
	Closings, ShiftLows []Moment
	Launch, Finish      float64 // s, start up the hill and finish line
	Driven              float64 // m
	Dip                 float64 // s, when a planted dip of the oil pressure began; 0 for none
}

// Times gives the time of each row, s.
func (r *Recording) Times() []float64 {
	t := make([]float64, len(r.Millis))
	for i, ms := range r.Millis {
		t[i] = float64(ms) / 1000
	}
	return t
}

// Column gives a channel by its name in rules, nil if it is not logged.
func (r *Recording) Column(name string) *Column {
	for i := range r.Columns {
		if r.Columns[i].Name == name {
			return &r.Columns[i]
		}
	}
	return nil
}

// Record drives the run and gives what was logged and what was true.
func (r Run) Record() *Recording {
	m := newModel(&r)
	rec := newRecorder(&r)
	out := &Recording{Run: r}
	var w *watcher
	if r.Car.Wing != nil {
		w = watch()
	}
	every := rec.finest()
	for {
		m.before()
		hidden := m.planted.gap != nil && m.planted.gap.on(m.now())
		if w != nil {
			w.look(m, hidden)
		}
		if m.ms%every == 0 && !hidden {
			rec.sample(m, int32(len(out.Millis)))
			out.Millis = append(out.Millis, int32(m.ms))
		}
		if m.done() {
			break
		}
		m.step()
	}
	out.Columns = rec.columns
	if w != nil {
		out.Truth, out.Closings, out.ShiftLows = w.finish(m), w.reactions[WingReturn].each, w.lows
	}
	out.Launch, out.Finish, out.Dip, out.Driven = m.start, m.finish, m.dipAt, m.driven
	return out
}

// before takes note of what a sensor needs to remember.
func (m *model) before() {
	if f := m.planted.brakeStuck; f != nil && m.now() < f.At {
		m.frozen = m.brake
	}
	if m.ms%200 == 0 {
		m.held = m.oilHeat.temp()
	}
}
