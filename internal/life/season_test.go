package life

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/car"
)

const season = "../../testdata/seasons/lowmoor"

// The season gives the life sheet that was worked out by hand beside it, to the digit.
func TestSeasonByHand(t *testing.T) {
	text, err := os.ReadFile(season + "-by-hand.txt")
	if err != nil {
		t.Fatal(err)
	}
	_, table, ok := strings.Cut(string(text), "\nserial  what")
	if !ok {
		t.Fatal("the sheet by hand has no table")
	}
	_, table, _ = strings.Cut(table, "\n")
	gap := regexp.MustCompile(`  +`)
	var want []string
	for line := range strings.Lines(table) {
		want = append(want, gap.ReplaceAllString(strings.TrimSpace(line), " | "))
	}

	f, faults := car.Open(season)
	sheet, more := Of(f, f.AsOf)
	for _, fault := range append(faults, more...) {
		t.Error(fault.Error())
	}
	var got []string
	row := func(p *Part, what string, l *Limit) {
		due := l.Falls
		if due == "" {
			due = "-"
		}
		got = append(got, strings.Join([]string{p.Serial, what, l.Meter.Number(l.Used), Exact(l.Life), l.Meter.Number(l.Left()), l.Meter.Number(l.WithPlan()), due}, " | "))
	}
	for _, p := range sheet.Parts {
		for _, l := range p.Limits {
			what := l.Meter.Words()
			if l.Since == "overhaul" {
				what += " since overhaul"
			}
			row(p, what, l)
		}
		for _, ins := range p.Inspections {
			for _, iv := range ins.Every {
				row(p, ins.What+", "+iv.Meter.Words(), &iv.Limit)
			}
		}
	}
	if len(want) != len(got) {
		t.Errorf("%d lines by hand, %d worked out", len(want), len(got))
	}
	for i := range min(len(want), len(got)) {
		if want[i] != got[i] {
			t.Errorf("by hand    %s\nworked out %s", want[i], got[i])
		}
	}
	if s := sheet.First.Words(); s != "shift barrel SB-1, shifts 1370 to 1376 of 1375: may be over now" {
		t.Error("first to fall:", s)
	}
	if len(sheet.Empty)+len(sheet.WrongKind)+len(sheet.NotBroughtIn) > 0 {
		t.Error(sheet.Empty, sheet.WrongKind, sheet.NotBroughtIn)
	}
}
