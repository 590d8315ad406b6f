package life

import (
	"testing"
	"testing/fstest"

	"github.com/paintmark/paintmark/internal/car"
)

// What runs out by the calendar must last to the plan's last day; months end on their last day.
func TestCalendar(t *testing.T) {
	for _, c := range []struct {
		limit              string
		used, life, share  float64
		falls, ends, lasts string
	}{
		// 2024-05-17 to 2026-05-17 are 730 days; used to the 16th 729, to the plan's last day, the 18th, 731.
		{"life: 24 mo, from: 2024-05-17", 729, 730, 731.0 / 730, "T1", "2026-05-17", "2026-05-18"},
		{"life: 24 mo, from: 2024-05-18", 728, 730, 1, "", "2026-05-18", "2026-05-18"},             // good on its last day
		{"life: 24 mo, from: 2024-05-17", 729, 730, 729.0 / 730, "T1", "2026-05-17", "2026-05-16"}, // a session after the last day the plan names,
		{"life: 6 mo, from: 2025-08-31", 258, 181, 260.0 / 181, "now", "2026-02-28", "2026-05-18"}, // 31 August and six months
		{"life: 2 a, from: 2024-02-29", 807, 730, 809.0 / 730, "now", "2026-02-28", "2026-05-18"},
		{"life: 90 d, from: 2026-05-16", 0, 90, 2.0 / 90, "", "2026-08-14", "2026-05-18"},
	} {
		f, faults := car.OpenFS(fstest.MapFS{
			"car.yaml":    {Data: []byte("car: {name: Test}\n")},
			"people.yaml": {Data: []byte("people: [{initials: HW, name: Hanne Wulfram, hats: [lead-engineer]}]\n")},
			"parts.yaml":  {Data: []byte("parts: [{serial: A, kind: hub, limits: [{meter: calendar, " + c.limit + "}]}]\n")},
			"plan.yaml": {Data: []byte("plan: {event: {first_day: 2026-05-16, last_day: " + c.lasts + ", time_zone: Z}, sessions: [{id: P1, kind: practice, at: " +
				"2026-05-17T10:00Z, runs: 1}, {id: T1, kind: timed, at: 2026-05-18T10:00Z, runs: 1}]}\n")},
			"weather/1.yaml": {Data: []byte("at: 2026-05-16T10:00Z\nby: HW\nweather: {air: 12 °C}\n")},
		})
		if err := faults.Err(); err != nil {
			t.Fatal(err)
		}
		s, faults := Of(f, f.AsOf)
		if err := faults.Err(); err != nil {
			t.Fatal(err)
		}
		l, share := s.Parts[0].Limits[0], s.Value.Get("parts[0].limits[0].share")
		if l.Used != counted(c.used) || l.Life != c.life || !close9(share.High, c.share) || l.Falls != c.falls || l.Ends.Format("2006-01-02") != c.ends {
			t.Errorf("%s: used %v of %v, share %v, falls %q, ends %s; want %+v", c.limit, l.Used, l.Life, share.High, l.Falls, l.Ends.Format("2006-01-02"), c)
		}
	}
	// Before the first record nobody knows what day it is.
	f, _ := car.OpenFS(fstest.MapFS{
		"car.yaml":   {Data: []byte("car: {name: Test}\n")},
		"parts.yaml": {Data: []byte("parts: [{serial: A, kind: hub, limits: [{meter: calendar, life: 24 mo, from: 2024-05-17}]}]\n")},
	})
	s, _ := Of(f, f.AsOf)
	for _, key := range []string{"empty", "wrong_kind", "owed"} {
		if !s.Value.Get(key).Unknown {
			t.Errorf("%s is known without positions.yaml", key)
		}
	}
	if share := s.Value.Get("parts[0].limits[0].share"); !share.Unknown {
		t.Errorf("without a day the share is %v to %v", share.Low, share.High)
	}
}
