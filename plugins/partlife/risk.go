package partlife

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// risk is the check of the chance to fail, of parts that are no-go parts or of those that are not.
func risk(noGo bool) *sdk.Check {
	id, item := suffix("partlife.risk", "Chance to fail in the planned runs, at most", noGo)
	return &sdk.Check{
		ID: id, Item: item, System: "chassis", Moments: []sdk.Moment{sdk.Commit, sdk.Paddock}, Unit: "%",
		Needs: sdk.Needs{
			Documents: []string{"life.limits"},
			Limits: []sdk.Limit{
				{Name: "risk_warn", Value: 5, Unit: "%", Tighten: "down", Source: practice},
				{Name: "risk_fail", Value: 20, Unit: "%", Tighten: "down", Source: practice},
				{Name: "confidence", Value: 90, Unit: "%", Tighten: "up", Source: sdk.Source{Kind: "practice", Text: "that the chance is not above what is shown, 50 to under 100 %"}},
				{Name: "failures_min", Value: 3, Tighten: "up", Source: sdk.Source{Kind: "practice", Text: "failures of its kind for a fit"}},
			},
		},
		Do: "Fit one with less behind it, or look at it before each run. Write of every part that is retired whether it had failed.", Caution: "hot",
		Source: sdk.Source{Kind: "practice", Text: "Weibull, greatest likelihood, lives of parts that did not fail included"},
		Accept: accept(noGo), Lenient: true, // its life limit stands by itself
		Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
			limits, ok := ev.Each("life.limits")
			if !ok {
				return sdk.One(ev.NoData())
			}
			var out []sdk.Result
			for _, l := range limits {
				name, _ := l.Get("name").Text()
				l = l.For(name)
				if lives, _ := l.Get("lives").Fitted(); !lives {
					continue
				}
				if is, known := l.Get("no_go_part").Yes(); (is || !known) == noGo {
					r := chance(ev.For(name), l)
					r.Position = name
					out = append(out, r)
				}
			}
			if len(out) == 0 {
				return sdk.One(sdk.Result{Outcome: sdk.NotApplicable, Message: "no lives of parts like those on the car"})
			}
			return out, nil
		},
	}
}

// chance judges one limit.
func chance(ev *sdk.Evidence, l sdk.Node) sdk.Result {
	unclear, ok := l.Get("lives.unclear").Each()
	lives, ok2 := lifetimes(l.Get("lives"))
	if !ok || !ok2 {
		return ev.NoData()
	}
	if len(unclear) > 0 {
		var words []string
		for _, u := range unclear {
			w, _ := u.Text()
			words = append(words, w)
		}
		return sdk.CannotTell(strings.Join(words, "; "))
	}
	failed := 0
	for _, t := range lives {
		if t.Failed() {
			failed++
		}
	}
	if least := ev.Limit("failures_min"); float64(failed) < least {
		return sdk.CannotTell(fmt.Sprintf("%d of %d of its kind failed, a fit takes %.0f", failed, len(lives), least))
	}
	fit, err := trade.FitWeibull(lives)
	if err != nil {
		return sdk.CannotTell(err.Error())
	}
	used, planned := l.Get("used").Number(), l.Get("planned").Number()
	if !bounded(used) || !bounded(planned) {
		return sdk.CannotTell("what it has used, or what is planned, is not known")
	}
	confidence := ev.Limit("confidence")
	if !(confidence >= 0.5 && confidence < 1) {
		return sdk.CannotTell("the limit confidence lies outside 50 to under 100 %")
	}
	// More planned is more risk; whether a longer life behind it is, the shape says.
	least, most := math.Inf(1), 0.0
	for _, reached := range []float64{used.Low, used.High} {
		least = math.Min(least, fit.RiskBound(reached, planned.Low, confidence))
		most = math.Max(most, fit.RiskBound(reached, planned.High, confidence))
	}
	r := sdk.Judge(sdk.Between(least, most), ev.Ceiling("risk_fail", sdk.Fail), ev.Ceiling("risk_warn", sdk.Warn))
	r.Message = join(r.Message, fmt.Sprintf("%.2g %% likeliest; %d failed and %d not, shape %.1f", 100*fit.Risk((used.Low+used.High)/2, (planned.Low+planned.High)/2), failed, len(lives)-failed, fit.Shape))
	return r
}

// lifetimes reads lives in the unit of their limit; ok is false where one is not known.
func lifetimes(n sdk.Node) (lives []trade.Lifetime, ok bool) {
	failed, ok1 := n.Get("failed").Each()
	running, ok2 := n.Get("running").Each()
	if !ok1 || !ok2 {
		return nil, false
	}
	for _, f := range failed {
		v := f.Number()
		if !bounded(v) {
			return nil, false
		}
		lives = append(lives, trade.Lifetime{Low: v.Low, High: v.High})
	}
	for _, f := range running {
		v := f.Number()
		if !bounded(v) {
			return nil, false
		}
		lives = append(lives, trade.Lifetime{Low: v.Low, High: math.Inf(1)})
	}
	return lives, true
}
