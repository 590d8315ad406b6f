package main

import (
	"slices"
	"strings"
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

// TestOddTime: a record that is dated later than the clock, or would hide behind one that is.
func TestOddTime(t *testing.T) {
	now := time.Date(2026, 5, 16, 8, 50, 0, 0, time.UTC)
	for _, c := range []struct {
		when, newest time.Duration // from now
		want         string
	}{
		{0, -time.Hour, ""},
		{-48 * time.Hour, -time.Hour, ""}, // written down later
		{4 * time.Minute, 4 * time.Minute, ""},
		{24 * time.Hour, -time.Hour, "this record is dated 17 May 2026 08:50 +00:00, later than this computer's clock"},
		{0, 24 * time.Hour, "the newest record is of 17 May 2026 08:50 +00:00, later than this computer's clock, and stays the newest"},
	} {
		got := oddTime(now, now.Add(c.when), now.Add(c.newest))
		if (got == "") != (c.want == "") || !strings.HasPrefix(got, c.want) {
			t.Errorf("%v, %v: %q, want %q", c.when, c.newest, got, c.want)
		}
	}
}
