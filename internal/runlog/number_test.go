package runlog

import (
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// sameAsParseFloat fails where parseNumber and strconv.ParseFloat differ in a bit.
func sameAsParseFloat(t interface {
	Helper()
	Errorf(string, ...any)
}, text string, mark byte,
) {
	t.Helper()
	want, err := strconv.ParseFloat(strings.Replace(text, string(mark), ".", 1), 64)
	got, ok := parseNumber([]byte(text), mark)
	if ok != (err == nil) {
		t.Errorf("%q: ok %v, ParseFloat says %v", text, ok, err)
	}
	if ok && math.Float64bits(got) != math.Float64bits(want) {
		t.Errorf("%q: %v, ParseFloat says %v", text, got, want)
	}
}

func TestNumbersEqualParseFloat(t *testing.T) {
	for _, text := range []string{
		"0", "-0", "+0", "0.0", "-0.0", "1", "-1", "+1", "1.", ".5", "-.5", "+.5e1", "1e5", "1E-5", "1e+5", "00012.5000", "3004.9",
		"9007199254740991", "9007199254740992", "9007199254740993", "9007199254740992.5", "900719925474099.3", "18446744073709551616",
		"1e22", "1e23", "9007199254740993e22", "123456789012345678901234567890", "0.1", "0.2", "0.3", "2.2250738585072014e-308", "5e-324", "1e-324",
		"1.7976931348623157e308", "0.000000000000000000000000000001", "0." + strings.Repeat("0", 400) + "1", strings.Repeat("9", 400), "1e-400", "1e400", "1e99999999999", "1e-99999999999",
		"8.41245e-37", "1.0000000000000002", "4503599627370497.5", "6.02214076e23", "179769313486231570000",
	} {
		sameAsParseFloat(t, text, '.')
	}
	for _, text := range []string{"", "+", "-", ".", "-.", "e5", "1e", "1e+", "1e5.5", "1.2.3", "--1", "1 2", "0x10", "1_0", "inf", "nan", "1,5", "1f", "½", "1e5e5", "\x00"} {
		if v, ok := parseNumber([]byte(text), '.'); ok {
			t.Errorf("%q is read as %v", text, v)
		}
	}
	if v, ok := parseNumber([]byte("3004,9"), ','); !ok || v != 3004.9 {
		t.Error("decimal comma")
	}
	if _, ok := parseNumber([]byte("3004.9"), ','); ok {
		t.Error("a point is not the decimal mark of this file")
	}
}

func TestNumbersEqualParseFloatProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mark := rapid.SampledFrom([]byte{'.', ','}).Draw(t, "mark")
		var text string
		switch rapid.IntRange(0, 2).Draw(t, "form") {
		case 0: // as a logger writes
			text = strconv.FormatFloat(rapid.Float64Range(-1e6, 1e6).Draw(t, "v"), 'f', rapid.IntRange(0, 9).Draw(t, "decimals"), 64)
		case 1: // any double, in full
			text = strconv.FormatFloat(rapid.Float64().Filter(func(v float64) bool { return !math.IsInf(v, 0) && !math.IsNaN(v) }).Draw(t, "v"), 'e', -1, 64)
		case 2:
			text = rapid.StringMatching(`[+-]?[0-9]{0,25}(\.[0-9]{0,25})?([eE][+-]?[0-9]{1,4})?`).Draw(t, "text")
		}
		sameAsParseFloat(t, strings.Replace(text, ".", string(mark), 1), mark)
	})
}

func FuzzNumber(f *testing.F) {
	for _, text := range []string{"0", "-12.5", "1e5", "9007199254740993", ".5", "5.", "1e-400", "123456789012345678901"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		// ParseFloat takes words, hexadecimal and underscores; a log may not.
		if strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("0123456789+-.eE", r) }) >= 0 {
			if v, ok := parseNumber([]byte(text), '.'); ok {
				t.Errorf("%q is read as %v", text, v)
			}
			return
		}
		sameAsParseFloat(t, text, '.')
	})
}

// Stamps agree with the time package.
func TestStampsProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(-2_000_000_000, 7_000_000_000).Draw(t, "s"), rapid.Int64Range(0, 999_999_999).Draw(t, "ns"))
		at = at.In(time.FixedZone("", 60*rapid.IntRange(-14*60, 14*60).Draw(t, "zone")))
		text := at.Format("2006-01-02T15:04:05.999999999Z07:00")
		ns, kind, ok := clockTime([]byte(text))
		if !ok || kind != Stamp || ns != at.UnixNano() {
			t.Fatalf("%s: %d %v %v, want %d", text, ns, kind, ok, at.UnixNano())
		}
		text = at.Format("3:04:05.999999999 PM")
		ns, kind, ok = clockTime([]byte(text))
		want := int64(at.Hour()*3600+at.Minute()*60+at.Second())*second + int64(at.Nanosecond())
		if !ok || kind != Clock || ns != want {
			t.Fatalf("%s: %d %v %v, want %d", text, ns, kind, ok, want)
		}
	})
}

func TestNotStamps(t *testing.T) {
	for _, text := range []string{
		"", ":", "1", "1:", "1:2:", "25:00:00", "10:60:00", "10:00:61", "10:00:00.", "10:00:00.5x", "13:00:00 PM", "0:00:00 AM", "2026-13-01T00:00:00Z", "2026-00-01T00:00:00", "2026-01-32T00:00:00",
		"2026-01-01", "2026-01-01T", "2026-01/01T00:00:00", "10:00:00+25:00", "10:00:00+0", "10:00:00 CET", "1-2", "-1:00:00",
	} {
		if ns, kind, ok := clockTime([]byte(text)); ok {
			t.Errorf("%q is read as %d %v", text, ns, kind)
		}
	}
}

// A counted time is exact to the nanosecond where its digits are.
func TestCountedTimes(t *testing.T) {
	for _, c := range []struct {
		text string
		unit int64
		ns   int64
		ok   bool
	}{
		{"0.01", second, 10_000_000, true},
		{"1779000000.123456789", second, 1779000000123456789, true},
		{"-0.5", second, -500_000_000, true},
		{"30", second / 1000, 30_000_000, true},
		{"0.0333333333333", second, 33_333_333, true},
		{"1.5e-3", second, 1_500_000, true},
		{"2", 3600 * second, 7200 * second, true},
		{"0.00000000049", second, 0, true},
		{"1e300", second, 0, false},
		{"99999999999999999", second, 0, false},
		{"x", second, 0, false},
		{"", second, 0, false},
		{"1,5", second, 0, false},
	} {
		if ns, ok := countedTime([]byte(c.text), '.', c.unit); ok != c.ok || ns != c.ns {
			t.Errorf("%q: %d %v, want %d %v", c.text, ns, ok, c.ns, c.ok)
		}
	}
}
