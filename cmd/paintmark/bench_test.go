package main

import (
	"slices"
	"testing"
	"time"
)

func TestClock(t *testing.T) {
	zone := time.FixedZone("+01:00", 3600)
	now := time.Date(2026, 5, 16, 8, 50, 3, 7, time.UTC)
	for _, c := range []struct{ text, want string }{
		{"", "2026-05-16T09:50:03+01:00"},
		{"14:12", "2026-05-16T14:12:00+01:00"},
		{"2026-05-15T14:12Z", "2026-05-15T14:12:00Z"},
		{"2026-05-15T14:12:09+02:00", "2026-05-15T14:12:09+02:00"},
		{"25:00", ""},
		{"2026-05-15T14:12", ""},
		{"15/05/26", ""},
	} {
		got, err := clock(c.text, now, zone)
		if (err != nil) != (c.want == "") || err == nil && got.Format(time.RFC3339) != c.want {
			t.Errorf("clock(%q) = %v, %v; want %q", c.text, got, err, c.want)
		}
	}
}

func TestValuesBelowZeroPassTheFlags(t *testing.T) {
	words := []string{"note", "set_down.camber", "-3.4deg", "-.5deg", "--by", "TB", "-h", "-"}
	got := below(words)
	if got[2] != minus+"3.4deg" || got[3] != minus+".5deg" || !slices.Equal(got[4:], words[4:]) {
		t.Errorf("below = %q", got)
	}
	if !slices.Equal(typed(got), words) {
		t.Errorf("typed(below(words)) = %q", typed(got))
	}
}
