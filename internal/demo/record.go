package demo

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
