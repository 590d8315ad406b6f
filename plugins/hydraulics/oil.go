package hydraulics

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/trade"
	"github.com/paintmark/paintmark/plugins/sdk"
)

// Code reads an ISO 4406 code of three numbers, "16/14/11".
func Code(text string) (code [3]int, err error) {
	parts := strings.Split(strings.TrimSpace(text), "/")
	if len(parts) != 3 {
		return code, fmt.Errorf("%q is no ISO 4406 code; write three numbers: 16/14/11", text)
	}
	for i, p := range parts {
		n, err := strconv.Atoi(strings.TrimSpace(p))
		if err != nil || n < 0 || n > 29 {
			return code, fmt.Errorf("%q is no ISO 4406 code; write three numbers from 0 to 29: 16/14/11", text)
		}
		code[i] = n
	}
	return code, nil
}

// Over is by how many numbers a code lies over its target, at the size where it is most.
// A number fewer is cleaner and does not make up for another.
func Over(code, target [3]int) int {
	most := code[0] - target[0]
	for i := range code {
		most = max(most, code[i]-target[i])
	}
	return most
}

var sizes = [3]string{"from_4um", "from_6um", "from_14um"}

// counts reads particles per mL, in the three sizes; ok is false where one is not known.
func counts(n sdk.Node) (per [3]float64, ok bool) {
	ok = true
	for i, key := range sizes {
		v := n.Get(key).Number()
		per[i], ok = v.Mid(), ok && v.Known
	}
	return per, ok
}

func coded(per [3]float64) (code [3]int, ok bool) {
	for i, c := range per {
		if code[i] = trade.ScaleNumber(c); code[i] < 0 {
			return code, false
		}
	}
	return code, true
}

var cleanliness = &sdk.Check{
	ID: "hydraulics.oil-code", Item: "Cleanliness of the oil from its particle count, over the target", System: "hydraulics",
	Moments: []sdk.Moment{sdk.Commit, sdk.Paddock}, Applies: fitted,
	Needs: sdk.Needs{
		Documents: []string{"car.hydraulics.cleanliness_target", "measured.hydraulics.particles"},
		Limits: []sdk.Limit{
			{Name: "code_warn", Value: 0, Source: sdk.Source{Kind: "practice", Text: "numbers over the target; each doubles the dirt"}},
			{Name: "code_fail", Value: 1, Tighten: "down", Source: practice},
		},
	},
	Do: "Flush and change the element, sample again from the live line; milky, black or metallic oil means look inside.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "coded by ISO 4406:2021, particles of at least 4, 6 and 14 µm(c) per mL"}, Accept: adviser,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		text, named := ev.Text("car.hydraulics.cleanliness_target")
		per, counted := counts(ev.Get("measured.hydraulics.particles"))
		if !named || !counted {
			return sdk.One(ev.NoData())
		}
		target, err := Code(text)
		if err != nil {
			return sdk.One(sdk.CannotTell(err.Error()))
		}
		code, ok := coded(per)
		if !ok {
			return sdk.One(sdk.CannotTell("a particle count below zero is none"))
		}
		r := sdk.Judge(sdk.Exactly(float64(Over(code, target))), ev.Ceiling("code_fail", sdk.Fail), ev.Ceiling("code_warn", sdk.Warn))
		r.Message = fmt.Sprintf("%s, target %s", trade.CleanlinessCode(per[0], per[1], per[2]), text)
		return sdk.One(r)
	},
}

var beta = &sdk.Check{
	ID: "hydraulics.filter-beta", Item: "What the filter holds back at 14 µm, over its sheet's", System: "hydraulics",
	Moments: []sdk.Moment{sdk.Commit, sdk.Paddock}, Applies: fitted, Lenient: true,
	Needs: sdk.Needs{
		Documents: []string{"car.hydraulics.filter.beta_14um", "measured.hydraulics.particles"},
		Limits: []sdk.Limit{
			{Name: "beta_warn", Value: 1, Source: practice},
			{Name: "beta_fail", Value: 0.375, Tighten: "up", Source: sdk.Source{Kind: "practice", Text: "beta 75 for a filter of 200: 98.7 % for 99.5 %"}},
		},
	},
	Do: "Change the element; look for an open bypass and a seal that is not there.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "beta ratio of ISO 16889: the count before the filter over that behind it"}, Accept: adviser,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		sheet := ev.Number("car.hydraulics.filter.beta_14um")
		before, behind := ev.Number("measured.hydraulics.particles.from_14um"), ev.Number("measured.hydraulics.particles.behind_filter_14um")
		if !sdk.AllKnown(sheet, before, behind) || sheet.Mid() <= 1 {
			return sdk.One(ev.NoData())
		}
		b := trade.BetaRatio(before.Mid(), behind.Mid())
		if math.IsNaN(b) || math.IsInf(b, 0) {
			return sdk.One(sdk.CannotTell("too few particles to say what the filter holds back"))
		}
		r := sdk.Judge(sdk.Exactly(b/sheet.Mid()), ev.Floor("beta_fail", sdk.Fail), ev.Floor("beta_warn", sdk.Warn))
		r.Message = fmt.Sprintf("beta %.0f, holds back %.1f %%", b, 100*trade.FilterEfficiency(b))
		return sdk.One(r)
	},
}

// Load is how far an element is on its way from clean to due, by its pressure drop: the drop of a
// laminar filter goes with the viscosity, so it is brought to the temperature of the sheet's
// figures first. Viscosities in m²/s; drops in any one unit.
func Load(drop, viscosity, sheetViscosity, clean, due float64) float64 {
	if !(viscosity > 0) || !(sheetViscosity > 0) || !(due > clean) {
		return math.NaN()
	}
	return (drop*sheetViscosity/viscosity - clean) / (due - clean)
}

var filter = &sdk.Check{
	ID: "hydraulics.filter-due", Item: "Filter element by distance, hours and pressure drop", System: "hydraulics",
	Moments: []sdk.Moment{sdk.Paddock}, Applies: fitted, Unit: "%",
	Needs: sdk.Needs{
		Documents: []string{"car.hydraulics.filter", "car.hydraulics.oil", "measured.hydraulics.filter_drop", "life.limits"},
		Limits: []sdk.Limit{
			{Name: "due_warn", Value: 90, Unit: "%", Tighten: "down", Source: practice},
			{Name: "due_fail", Value: 100, Unit: "%", Tighten: "down", Source: practice},
		},
	},
	Do: "Change the element, look at the old one, look for leaks at pressure with a card.", Caution: "stored-pressure",
	Source: sdk.Source{Kind: "practice", Text: "the nearest of its life limits and of its pressure drop at the sheet's viscosity (ASTM D341)"}, Accept: adviser,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		place, named := ev.Text("car.hydraulics.filter.place")
		limits, listed := ev.Each("life.limits")
		if !named || !listed {
			return sdk.One(ev.NoData())
		}
		share := sdk.Exactly(0)
		by := ""
		worst := func(v sdk.Value, what string) {
			if !v.Known {
				return // it counts as missing
			}
			if v.High > share.High {
				by = what
			}
			share = sdk.Between(math.Max(share.Low, v.Low), math.Max(share.High, v.High))
		}
		counted := 0
		for _, l := range limits {
			at, known := l.Get("place").Text()
			if !known || at != place {
				continue
			}
			meter, _ := l.Get("meter").Text()
			counted++
			worst(l.Get("share").Number(), meter)
		}
		if counted == 0 {
			return sdk.One(sdk.CannotTell(fmt.Sprintf("no life limit is known for what is fitted at %s", place)))
		}
		drop, oil := ev.Number("measured.hydraulics.filter_drop.value"), ev.Number("measured.hydraulics.filter_drop.oil_at")
		f, o := ev.Get("car.hydraulics.filter"), ev.Get("car.hydraulics.oil")
		clean, due, sheetAt := f.Get("drop_clean").Number(), f.Get("drop_due").Number(), f.Get("drop_at").Number()
		v40, v100 := o.Get("viscosity_40C").Number(), o.Get("viscosity_100C").Number()
		message := ""
		if sdk.AllKnown(drop, oil, clean, due, sheetAt, v40, v100) {
			nu := func(t float64) float64 { return trade.Viscosity(v40.Mid(), zeroC+40, v100.Mid(), zeroC+100, t) }
			loaded := Load(drop.Mid(), nu(oil.Mid()), nu(sheetAt.Mid()), clean.Mid(), due.Mid())
			if math.IsNaN(loaded) {
				return sdk.One(sdk.CannotTell("the pressure drop cannot be brought to the sheet's temperature"))
			}
			worst(sdk.Exactly(math.Max(loaded, 0)), "pressure drop")
			message = fmt.Sprintf("pressure drop %.0f %% of the way", 100*loaded)
		}
		r := sdk.Judge(share, ev.Ceiling("due_fail", sdk.Fail), ev.Ceiling("due_warn", sdk.Warn))
		if by != "" {
			r.Message = strings.TrimPrefix(message+"; first by "+by, "; ")
		}
		return sdk.One(r)
	},
}
