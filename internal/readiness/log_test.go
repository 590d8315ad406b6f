package readiness

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/runlog"
	"github.com/paintmark/paintmark/internal/source"
)

const shortLog = `Car,AY-T3-001
Logger,LG-88
Run counter,57

Time,P_OIL
s,bar
0.0,4.1
0.1,4.2
0.1,4.3
0.2,4.1
`

func TestOpenLog(t *testing.T) {
	file := filepath.Join(t.TempDir(), "t3-057.csv")
	if err := os.WriteFile(file, []byte(shortLog), 0o644); err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256([]byte(shortLog))
	right := wantedLog{
		file: "t3-057.csv", sha256: hex.EncodeToString(sum[:]), kind: "run", run: 57, count: "57",
		pos: source.Pos{File: "runs/x.yaml", Line: 14, Column: 31},
	}
	own := logger{serial: "LG-88", car: "AY-T3-001"}
	channels := []runlog.Channel{{Name: "oil_pressure", InLog: "P_OIL", Unit: "bar", Reads: "gauge"}}
	for _, c := range []struct {
		name   string
		path   string
		change func(*wantedLog, *logger)
		want   string
	}{
		{"right", file, func(*wantedLog, *logger) {}, ""},
		{"given by hand", file, func(w *wantedLog, _ *logger) { *w = wantedLog{file: file, kind: "run"} }, ""},
		{"digest in capitals", file, func(w *wantedLog, _ *logger) { w.sha256 = strings.ToUpper(w.sha256) }, ""},
		{"another file of that name", file, func(w *wantedLog, _ *logger) { w.sha256 = strings.Repeat("0", 64) }, "runs/x.yaml:14:31: t3-057.csv is not the log this sheet means"},
		{"another logger", file, func(_ *wantedLog, l *logger) { l.serial = "LG-89" }, "t3-057.csv:2:1: this log is of logger LG-88, not LG-89; another car's log?"},
		{"another car", file, func(_ *wantedLog, l *logger) { l.car = "AY-T3-002" }, "t3-057.csv:1:1: this log is of car AY-T3-001, not AY-T3-002"},
		{"another run", file, func(w *wantedLog, _ *logger) { w.count = "58" }, "t3-057.csv:3:1: this log is of the logger's run 57, not 58"},
		{"not there", file + "x", func(*wantedLog, *logger) {}, "t3-057.csv: the log cannot be read: no such file or directory"},
	} {
		t.Run(c.name, func(t *testing.T) {
			want, who := right, own
			c.change(&want, &who)
			log, faults := openLog(t.Context(), c.path, want, who, channels, Options{}, false)
			if c.want == "" {
				if len(faults) > 0 || log == nil || log.data.Columns["oil_pressure"] == nil || log.sha256 != right.sha256 {
					t.Fatalf("%+v, %v", log, faults)
				}
				if got := strings.Join(log.remarks, "|"); got != "t3-057.csv: doubled once, first in line 9" {
					t.Errorf("remarks %q", got)
				}
				return
			}
			if log != nil || len(faults) != 1 || !strings.HasPrefix(faults[0].Error(), c.want) {
				t.Errorf("%v, want %s", faults, c.want)
			}
		})
	}
}
