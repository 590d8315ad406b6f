package sensorhealth

import "github.com/paintmark/paintmark/plugins/sdk"

// perKept asks of each channel that a map of the baseline names. What had a baseline and cannot be held against it is
// never left out.
func perKept(ev *sdk.Evidence, path string, ask func(ev *sdk.Evidence, all []declared, name string, baseline sdk.Value) sdk.Result) ([]sdk.Result, error) {
	all, ok := channels(ev)
	if !ok {
		return sdk.One(ev.NoData())
	}
	kept, ok := ev.Each(path)
	if !ok {
		return sdk.One(sdk.Result{Outcome: sdk.NotApplicable, Message: "no baseline has it of a channel"})
	}
	var out []sdk.Result
	for _, k := range kept {
		name := k.Key()
		r := sdk.CannotTell("baseline void or not known; after a good run: paintmark baseline " + path[len("baseline."):]) // one line for all of them
		if baseline := k.For(name).Number(); baseline.Known {
			r = ask(ev.For(name), all, name, baseline)
		}
		r.Position, r.Despite = name, append(r.Despite, name)
		out = append(out, r)
	}
	return orNone(out), nil
}
