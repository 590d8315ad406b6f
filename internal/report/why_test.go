package report

import (
	"bytes"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
)

func TestWhy(t *testing.T) {
	card := &check.Card{
		ID: "hydraulics.shift-pressure", Item: "Hydraulic pressure in a shift", System: "hydraulics", Moments: []check.Moment{check.Run}, Unit: "bar",
		Do: "Precharge, pump duty, filter indicator; then leaks, with card, never a hand", Caution: "stored-pressure",
		Source: check.Source{Kind: "practice", Text: "common practice"}, Accept: check.Accept{Warn: check.Acceptor{Hats: []string{"lead-engineer", "gearbox"}, Runs: 2}},
		Where: source.Pos{File: "packs/ashgill-house.yaml", Line: 12, Column: 5},
	}
	series := shiftPressure()
	why := &check.Why{
		Item: check.Item{Open: true, Who: []string{"lead-engineer", "gearbox"}, Result: check.Result{
			Card: card, Outcome: check.Fail, Measured: measured(101.3, "bar"), Limit: limit("min", 105, 32), Margin: ptr(-3.7), At: &check.At{Time: 41.9, Within: 0.005},
		}},
		Others: []string{"FL pass", "FR pass"},
		Parts: []check.Part{
			{Name: "applies", Text: `car.gearbox.shift == "hydraulic"`, Steps: []check.Step{{Text: "car.gearbox.shift", Value: "hydraulic", Remarks: []string{"car.yaml:21:12"}}, {Text: `car.gearbox.shift == "hydraulic"`, Value: "yes"}}},
			{Name: "seen", Text: "log.count(shift_active) >= 5", Steps: []check.Step{{Text: "log.count(shift_active)", Value: "34"}, {Text: "log.count(shift_active) >= 5", Value: "yes"}}},
			{Name: "measure", Text: "log.min(hyd_pressure, shift_active)", Steps: []check.Step{{Text: "log.min(hyd_pressure, shift_active)", Value: "101 bar", Remarks: []string{"at 41.90 s: hyd_pressure 101 bar, shift_active yes"}}}},
		},
		Limits: []check.Bound{
			{Limit: check.Limit{Kind: "min", Value: 105, Unit: "bar", Outcome: check.Fail, Source: check.Source{Kind: "supplier", Text: "actuator data sheet", Confirmed: "2026-03-02 by PO"}, Where: source.Pos{File: "packs/ashgill-house.yaml", Line: 7, Column: 24}}, Text: "limits.shift_pressure_min"},
			{Limit: check.Limit{Kind: "min", Value: 112, Unit: "bar", Outcome: check.Warn}, Text: "limits.shift_pressure_min + bar(7.0)"},
		},
		Series: series,
	}
	var out bytes.Buffer
	if err := Why(&out, why, Options{}); err != nil {
		t.Fatal(err)
	}
	golden(t, "why.txt", out.Bytes())
}
