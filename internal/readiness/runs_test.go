package readiness

import (
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/paintmark/paintmark/internal/car"
)

func TestRunsOutOfOrder(t *testing.T) {
	sheet := func(at, rest string) *fstest.MapFile {
		return &fstest.MapFile{Data: []byte("at: " + at + "\nby: SQ\nrun: {" + rest + "}\n")}
	}
	for _, c := range []struct {
		name string
		runs []string // when the record is of, and its body
		want string
	}{
		{"one after the other", []string{"2026-05-16T09:00Z no: 57", "2026-05-16T10:00Z no: 58, aborted: {why: red flag}", "2026-05-16T11:00Z no: 59"}, ""},
		{"written later", []string{"2026-05-16T12:00Z no: 57, started: 2026-05-16T09:00Z", "2026-05-16T11:00Z no: 58, started: 2026-05-16T10:55Z"}, ""},
		{"a clock was wrong", []string{"2026-05-16T09:00Z no: 57", "2026-05-16T08:00Z no: 58", "2026-05-16T10:00Z no: 59"}, "run 58 began before run 57"},
		{"on a bench", []string{"2026-05-16T09:00Z no: 57", "2026-05-16T08:00Z no: 58, kind: dyno, parts: [E-1]", "2026-05-16T10:00Z no: 59"}, ""},
		{"not yet", []string{"2026-05-16T09:00Z no: 57", "2026-05-16T21:00Z no: 58", "2026-05-16T20:30Z no: 59"}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := fstest.MapFS{"car.yaml": {Data: []byte("car: {}\n")}}
			for i, r := range c.runs {
				at, rest, _ := strings.Cut(r, " ")
				files["runs/"+string(rune('a'+i))+".yaml"] = sheet(at, rest)
			}
			f, _ := car.OpenFS(files)
			if len(f.Runs()) != len(c.runs) {
				t.Fatalf("%d sheets read", len(f.Runs()))
			}
			got := runsOutOfOrder(f, time.Date(2026, 5, 16, 20, 0, 0, 0, time.UTC))
			if c.want == "" && len(got) > 0 || c.want != "" && !slices.ContainsFunc(got, func(s string) bool { return strings.HasPrefix(s, c.want) }) {
				t.Errorf("%q, want %q", got, c.want)
			}
		})
	}
}
