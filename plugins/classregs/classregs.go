// Package classregs holds a car to the regulations of its class on the last day of the
// event: class and least weight by equivalent capacity, tyres by their marking, the box the wing
// must lie in, each safety item by its own standard's rule of expiry, bulletins by the day they
// take effect. Regulations are dated tables (see Book); the official text in force and the
// scrutineer prevail over any table.
package classregs

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/paintmark/paintmark/plugins/sdk"
)

// Plugin is the checks of this package over the books built in.
func Plugin() sdk.Plugin {
	return sdk.Plugin{Name: "classregs", Version: "1.0.0", Checks: []*sdk.Check{
		class, weight, tyres, wingBox, labels, needed, bulletins,
	}}
}

const scrutineer = "the official text and the scrutineer decide; a table only reminds"

var (
	regulation = sdk.Source{Kind: "regulation", Text: "the book named in car.yaml, as tabled in this program; " + scrutineer}
	official   = sdk.Accept{Warn: sdk.Hats("lead-engineer"), Fail: sdk.Acceptor{Official: true}, NoData: sdk.Hats("lead-engineer")}
	documents  = []sdk.Moment{sdk.Commit, sdk.Paddock}
	always     = []string{"car.regulations", "car.class", "car.engine.capacity", "car.engine.aspiration", "plan.event"}
)

// in is the rules in force on the last day of the event. ok is false where they cannot be
// said; the result then says why.
func in(ev *sdk.Evidence) (rules *Rules, book *Book, last time.Time, result sdk.Result, ok bool) {
	name, known := ev.Text("car.regulations.book")
	last, dated := ev.Time("plan.event.last_day")
	if !known || !dated {
		return nil, nil, last, ev.NoData(), false
	}
	all, err := books()
	if err != nil {
		return nil, nil, last, sdk.CannotTell(err.Error()), false
	}
	book = all[name]
	if book == nil {
		return nil, nil, last, sdk.CannotTell(fmt.Sprintf("no table of %s is built in", name)), false
	}
	rules, err = book.On(last)
	if err != nil {
		return nil, book, last, sdk.CannotTell(err.Error()), false
	}
	return rules, book, last, sdk.Result{}, true
}

// equivalent is the car's capacity as it is classed, cm³; ok is false where it is not known.
func equivalent(ev *sdk.Evidence, rules *Rules) (cm3 float64, result sdk.Result, ok bool) {
	capacity := ev.Number("car.engine.capacity")
	aspiration, known := ev.Text("car.engine.aspiration")
	if !capacity.Known || !known {
		return 0, ev.NoData(), false
	}
	cm3, err := rules.Equivalent(capacity.Mid()*1e6, aspiration)
	if err != nil {
		return 0, sdk.CannotTell(err.Error()), false
	}
	return cm3, sdk.Result{}, true
}

var class = &sdk.Check{
	ID: "classregs.class", Item: "Class by equivalent capacity", System: "paperwork", Moments: documents,
	Needs:  sdk.Needs{Documents: always},
	Do:     "Enter the class the capacity gives, or correct car.yaml.",
	Source: regulation, Accept: official,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		rules, _, _, why, ok := in(ev)
		if !ok {
			return sdk.One(why)
		}
		entered, known := ev.Text("car.class")
		cm3, why, ok := equivalent(ev, rules)
		switch {
		case !ok:
			return sdk.One(why)
		case !known:
			return sdk.One(ev.NoData())
		}
		right, err := rules.ClassOf(cm3)
		if err != nil {
			return sdk.One(sdk.CannotTell(err.Error()))
		}
		r := sdk.Result{Outcome: sdk.Pass, Message: fmt.Sprintf("%.0f cm3 equivalent is class %s", cm3, right)}
		if right != entered {
			r.Outcome = sdk.Fail
			r.Message += ", entered in " + entered
		}
		return sdk.One(r)
	},
}

var weight = &sdk.Check{
	ID: "classregs.weight", Item: "Least weight of the class, as the class weighs", System: "chassis",
	Moments: []sdk.Moment{sdk.Paddock}, Unit: "kg",
	Needs:  sdk.Needs{Documents: append([]string{"measured.weight.total"}, always...)},
	Do:     "Ballast where the sheet says; weigh as the book says, scales zeroed and level.",
	Source: regulation, Accept: official,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		rules, book, _, why, ok := in(ev)
		if !ok {
			return sdk.One(why)
		}
		cm3, why, ok := equivalent(ev, rules)
		if !ok {
			return sdk.One(why)
		}
		least, err := rules.LeastWeight(cm3)
		if err != nil {
			return sdk.One(sdk.CannotTell(err.Error()))
		}
		total := ev.Number("measured.weight.total.value")
		driver, with := ev.Yes("measured.weight.total.with.driver")
		fuel, fuelled := ev.Text("measured.weight.total.with.fuel")
		if !total.Known || !with || !fuelled {
			return sdk.One(ev.NoData())
		}
		if driver != rules.Weighed.Driver || fuel != rules.Weighed.Fuel {
			return sdk.One(sdk.CannotTell(fmt.Sprintf("weighed %s, fuel %s; the book weighs %s, fuel %s",
				aboard(driver), fuel, aboard(rules.Weighed.Driver), rules.Weighed.Fuel)))
		}
		return sdk.One(sdk.Judge(total, sdk.Floor(least, sdk.Fail).From(from(book))))
	},
}

func aboard(driver bool) string {
	if driver {
		return "with driver"
	}
	return "without driver"
}

func from(b *Book) sdk.Source { return sdk.Source{Kind: "regulation", Text: b.Book + ", " + b.Title} }

var tyres = &sdk.Check{
	ID: "classregs.tyres", Item: "Tyre size and age by marking", System: "tyres", Moments: documents,
	Needs: sdk.Needs{Documents: append([]string{"setup.tyre_set", "parts"}, always...)},
	Do:    "Fit a set within the book, or correct what parts.yaml says is moulded on it.", Caution: "lifted-car",
	Source: regulation, Accept: official,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		rules, _, last, why, ok := in(ev)
		if !ok {
			return sdk.One(why)
		}
		set, known := ev.Text("setup.tyre_set")
		register, listed := ev.Each("parts")
		if !known || !listed {
			return sdk.One(ev.NoData())
		}
		part := func(serial string) (sdk.Node, bool) {
			for _, p := range register {
				if s, _ := p.Get("serial").Text(); s == serial {
					return p, true
				}
			}
			return sdk.Node{}, false
		}
		fitted, found := part(set)
		if !found {
			return sdk.One(sdk.CannotTell(fmt.Sprintf("the tyre set %s is not in parts.yaml", set)))
		}
		children, known := fitted.Get("children").Each()
		if !known || len(children) == 0 {
			return sdk.One(sdk.CannotTell(fmt.Sprintf("parts.yaml does not say which tyres are %s", set)))
		}
		var all []sdk.Result
		for _, child := range children {
			serial, known := child.Text()
			if !known {
				return sdk.One(ev.NoData())
			}
			tyre, found := part(serial)
			if !found {
				all = append(all, sdk.Result{Position: serial, Outcome: sdk.NoData, Message: "not in parts.yaml"})
				continue
			}
			r := rules.tyre(tyre.For(serial), last)
			r.Position = serial
			all = append(all, r)
		}
		return all, nil
	},
}

// tyre holds one tyre's marking and date code to the rules.
func (r *Rules) tyre(tyre sdk.Node, last time.Time) sdk.Result {
	mark, marked := tyre.Get("marking").Text()
	code, dated := tyre.Get("age_code").Text()
	if !marked || !dated {
		return sdk.CannotTell("its size marking or its date code is not known")
	}
	size, err := ParseTyre(mark)
	if err != nil {
		return sdk.CannotTell(err.Error())
	}
	made, err := MadeInWeek(code)
	if err != nil {
		return sdk.CannotTell(err.Error())
	}
	var over []string
	for _, c := range []struct {
		what      string
		got, most float64
		unit      string
	}{
		{"section", size.Section, r.Tyres.Section, "mm"},
		{"diameter", size.Diameter, r.Tyres.Diameter, "mm"},
		{"rim", size.Rim, r.Tyres.Rim, "in"},
	} {
		if c.most > 0 && c.got > c.most {
			over = append(over, fmt.Sprintf("%s %g %s, at most %g", c.what, c.got, c.unit, c.most))
		}
	}
	if r.Tyres.Age > 0 {
		if until := addMonths(made, r.Tyres.Age); until.Before(last) {
			over = append(over, fmt.Sprintf("made in week %s, too old from %s", code, until.AddDate(0, 0, 1).Format(time.DateOnly)))
		}
	}
	if len(over) > 0 {
		return sdk.Result{Outcome: sdk.Fail, Message: strings.Join(over, "; ")}
	}
	return sdk.Result{Outcome: sdk.Pass, Message: fmt.Sprintf("%s: %g mm over %g mm, week %s", mark, size.Section, size.Diameter, code)}
}

var wingBox = &sdk.Check{
	ID: "classregs.wing-box", Item: "Wing inside its box", System: "wing", Moments: documents, Unit: "mm",
	Needs: sdk.Needs{Documents: append([]string{"car.dimensions"}, always...)},
	Do:    "Measure on the flat patch with the wing at its highest setting; move it inside the box.", Caution: "pinch",
	Source: regulation, Accept: official,
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		rules, book, _, why, ok := in(ev)
		if !ok {
			return sdk.One(why)
		}
		var all []sdk.Result
		for _, c := range []struct {
			position, path string
			most           float64
		}{
			{"height", "car.dimensions.wing_top", rules.Wing.AboveGround},
			{"span", "car.dimensions.wing_span", rules.Wing.Span},
			{"behind the axle", "car.dimensions.wing_behind_axle", rules.Wing.BehindAxle},
		} {
			if c.most == 0 {
				continue // the book sets none
			}
			r := sdk.Judge(ev.For(c.position).Number(c.path), sdk.Ceiling(c.most/1000, sdk.Fail).From(from(book)))
			if r.Outcome == sdk.NoData {
				r = ev.For(c.position).NoData()
			}
			r.Position = c.position
			all = append(all, r)
		}
		if len(all) == 0 {
			return sdk.One(sdk.Result{Outcome: sdk.NotApplicable, Message: "the book sets no box"})
		}
		return all, nil
	},
}

var labels = &sdk.Check{
	ID: "classregs.labels", Item: "Safety item counts on the last day, by its standard", System: "safety", Moments: documents, Unit: "d",
	Needs: sdk.Needs{Documents: append([]string{"car.safety"}, always...)},
	Do:    "Replace it or have it serviced; only the scrutineer can say otherwise, in writing.", Caution: "fire-system",
	Source: regulation, Accept: sdk.Accept{Fail: sdk.Acceptor{Official: true}, NoData: sdk.Acceptor{Official: true}},
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		rules, book, last, why, ok := in(ev)
		if !ok {
			return sdk.One(why)
		}
		items, known := ev.Each("car.safety")
		if !known || len(items) == 0 {
			return sdk.One(sdk.CannotTell("car.yaml lists no safety items"))
		}
		var all []sdk.Result
		for i, item := range items {
			position, _ := item.Get("item").Text()
			if serial, ok := item.Get("serial").Text(); ok && position != "" {
				position += " " + serial
			}
			if position == "" {
				position = fmt.Sprintf("item %d", i+1)
			}
			p, absent := printed(item.For(position))
			day, by, err := rules.LastDay(p)
			r := sdk.Result{Outcome: sdk.NoData}
			if err != nil {
				r.Message = err.Error()
				if _, ok := rules.Safety[p.Item][p.Label]; !ok && p.Item != "" && p.Label != "" && rules.Safety[p.Item] != nil {
					r.Outcome = sdk.Fail // the book knows this kind of item, and not this label
				}
			} else {
				r = sdk.Judge(sdk.Exactly(math.Round(day.Sub(last).Hours()/24)*86400), sdk.Floor(0, sdk.Fail).From(from(book)))
				r.Message = fmt.Sprintf("%s counts to %s, %s", p.Label, day.Format(time.DateOnly), by)
			}
			r.Position, r.Despite = position, absent
			all = append(all, r)
		}
		return all, nil
	},
}

// printed reads what a label says, and which of it is not there. Which is needed the standard's
// rule says (LastDay then has an error), so that the rest cannot change the answer.
func printed(item sdk.Node) (p Printed, absent []string) {
	p.Item, _ = item.Get("item").Text()
	p.Label, _ = item.Get("label").Text()
	var there bool
	if p.Made, there = item.Get("made").Text(); !there {
		absent = append(absent, item.Get("made").Path())
	}
	for _, f := range []struct {
		key string
		day *time.Time
	}{{"not_valid_after", &p.NotValidAfter}, {"last_check", &p.LastCheck}} {
		if *f.day, there = item.Get(f.key).Time(); !there {
			*f.day, absent = time.Time{}, append(absent, item.Get(f.key).Path())
		}
	}
	return p, absent
}

var needed = &sdk.Check{
	ID: "classregs.needed", Item: "Safety items the book asks for are listed", System: "safety", Moments: documents,
	Needs: sdk.Needs{Documents: append([]string{"car.safety"}, always...)},
	Do:    "Fit it and write its label into car.yaml.", Caution: "fire-system",
	Source: regulation, Accept: sdk.Accept{Fail: sdk.Acceptor{Official: true}, NoData: sdk.Acceptor{Official: true}},
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		rules, _, _, why, ok := in(ev)
		if !ok {
			return sdk.One(why)
		}
		items, known := ev.Each("car.safety")
		if !known {
			return sdk.One(ev.NoData())
		}
		have := map[string]bool{}
		for _, item := range items {
			name, known := item.Get("item").Text()
			if !known {
				return sdk.One(ev.NoData())
			}
			have[name] = true
		}
		var missing []string
		for _, name := range rules.Needed {
			if !have[name] {
				missing = append(missing, name)
			}
		}
		if len(missing) > 0 {
			return sdk.One(sdk.Result{Outcome: sdk.Fail, Message: "car.yaml lists no " + strings.Join(missing, ", no ")})
		}
		return sdk.One(sdk.Result{Outcome: sdk.Pass, Message: fmt.Sprintf("all %d are listed", len(rules.Needed))})
	},
}

var bulletins = &sdk.Check{
	ID: "classregs.bulletins", Item: "Edition and bulletins in force have been read", System: "paperwork", Moments: documents,
	Needs:  sdk.Needs{Documents: always},
	Do:     "Read it, look through the car for what it changes, and write who read it into car.yaml.",
	Source: regulation,
	Accept: sdk.Accept{Warn: sdk.Hats("lead-engineer"), Fail: sdk.Hats("lead-engineer"), NoData: sdk.Hats("lead-engineer")},
	Run: func(_ context.Context, ev *sdk.Evidence) ([]sdk.Result, error) {
		_, book, last, why, ok := in(ev)
		if !ok {
			return sdk.One(why)
		}
		edition, known := ev.Time("car.regulations.edition")
		list, listed := ev.Each("car.regulations.bulletins_read")
		if !known || !listed {
			return sdk.One(ev.NoData())
		}
		read := map[string]bool{}
		for _, b := range list {
			no, known := b.Get("no").Text()
			_, by := b.Get("by").Text()
			if !known || !by {
				return sdk.One(ev.NoData())
			}
			read[no] = true
		}
		var wrong []string
		newest := book.Editions[0].InForce
		for _, e := range book.Editions {
			if !e.InForce.After(last) {
				newest = e.InForce
			}
		}
		if !edition.Equal(newest.Time) {
			wrong = append(wrong, fmt.Sprintf("the edition in force is of %s, car.yaml has %s", newest, edition.Format(time.DateOnly)))
		}
		count := 0
		for _, b := range book.Effective(newest.Time, last) {
			count++
			if !read[b.No] {
				wrong = append(wrong, fmt.Sprintf("%s (%s), in force from %s, is not read", b.No, b.About, b.Effective))
			}
		}
		if len(wrong) > 0 {
			return sdk.One(sdk.Result{Outcome: sdk.Fail, Message: strings.Join(wrong, "; ")})
		}
		return sdk.One(sdk.Result{Outcome: sdk.Pass, Message: fmt.Sprintf("edition of %s and %d bulletins", newest, count)})
	},
}
