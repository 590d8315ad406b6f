package readiness

import (
	"slices"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
)

var (
	nobody = check.Acceptor{}
	two    = check.Acceptor{Hats: []string{"lead-engineer", "gearbox"}}
	notes  = check.Acceptor{Official: true}
)

func result(outcome check.Outcome, accept check.Accept) check.Result {
	return check.Result{Card: &check.Card{ID: "x.y", System: "wing", Accept: accept}, Outcome: outcome}
}

func lenient(r check.Result) check.Result {
	r.Card.Lenient = true
	return r
}

func covered(r check.Result) check.Result {
	r.Deviation = "deviations/x.yaml"
	return r
}

func TestVerdict(t *testing.T) {
	all := check.Accept{Warn: two, Fail: two, NoData: two}
	for _, c := range []struct {
		name   string
		result check.Result
		want   check.Verdict
	}{
		{"pass", result(check.Pass, check.Accept{}), check.Ready},
		{"not applicable", result(check.NotApplicable, check.Accept{}), check.Ready},
		{"warn, names", result(check.Warn, check.Accept{Warn: two}), check.NeedsNames},
		{"warn, nobody", result(check.Warn, check.Accept{Fail: two, NoData: two}), check.NoGo},
		{"fail, names", result(check.Fail, all), check.NeedsNames},
		{"fail, official", result(check.Fail, check.Accept{Fail: notes}), check.NeedsNames},
		{"fail, nobody", result(check.Fail, check.Accept{Warn: two, NoData: two}), check.NoGo},
		{"no data, names", result(check.NoData, all), check.NeedsNames},
		{"no data, nobody", result(check.NoData, check.Accept{Warn: two, Fail: two}), check.NoGo},
		{"no data, caution only", lenient(result(check.NoData, check.Accept{})), check.Ready},
		{"lenient fail stays a fail", lenient(result(check.Fail, check.Accept{})), check.NoGo},
		{"deviation", covered(result(check.Warn, all)), check.Ready},
	} {
		t.Run(c.name, func(t *testing.T) {
			items := weigh([]check.Result{c.result}, nil)
			if got := verdict(items, 0); got != c.want {
				t.Errorf("verdict %q, want %q", got, c.want)
			}
			if got := verdict(items, 1); got != check.NoGo {
				t.Errorf("with a tool fault %q, want no-go", got)
			}
		})
	}
}

// TestOneBadItemDecides puts each item beside every other: company never improves a verdict.
func TestOneBadItemDecides(t *testing.T) {
	var results []check.Result
	for _, outcome := range []check.Outcome{check.Pass, check.Warn, check.Fail, check.NoData, check.NotApplicable} {
		for _, by := range []check.Acceptor{nobody, two} {
			results = append(results, result(outcome, check.Accept{Warn: by, Fail: by, NoData: by}))
		}
	}
	severity := []check.Verdict{check.Ready, check.NeedsNames, check.NoGo}
	alone := func(r ...check.Result) int { return slices.Index(severity, verdict(weigh(r, nil), 0)) }
	for _, a := range results {
		for _, b := range results {
			if got, want := alone(a, b), max(alone(a), alone(b)); got != want {
				t.Errorf("%s beside %s: %s, want %s", a.Outcome, b.Outcome, severity[got], severity[want])
			}
		}
	}
}

func TestOrderByConsequence(t *testing.T) {
	given := []check.Result{
		result(check.NotApplicable, check.Accept{}),
		result(check.Pass, check.Accept{}),
		covered(result(check.Warn, check.Accept{})),
		lenient(result(check.NoData, check.Accept{})),
		result(check.NoData, check.Accept{NoData: two}),
		result(check.NoData, check.Accept{}),
		result(check.Warn, check.Accept{Warn: two}),
		result(check.Fail, check.Accept{Fail: two}),
		result(check.Warn, check.Accept{}),
		result(check.Fail, check.Accept{}),
	}
	items := weigh(given, nil)
	for i, it := range items {
		if want := given[len(given)-1-i]; it.Card != want.Card {
			t.Errorf("place %d: %s of %+v, want %s", i, it.Outcome, it.Card.Accept, want.Outcome)
		}
	}
	fl, fr := result(check.Fail, check.Accept{}), result(check.Fail, check.Accept{})
	fl.Position, fr.Position = "FL", "FR"
	fr.Card = fl.Card
	for range 3 {
		if items := weigh([]check.Result{fl, fr}, nil); items[0].Position != "FL" {
			t.Error("elements do not keep the order of the car")
		}
	}
}

func TestWho(t *testing.T) {
	for _, c := range []struct {
		result check.Result
		worn   []string
		want   []string
	}{
		{result(check.Warn, check.Accept{Warn: two}), nil, two.Hats},
		{result(check.Fail, check.Accept{Fail: notes}), nil, []string{"scrutineer"}},
		{result(check.Fail, check.Accept{Warn: two}), []string{"engine"}, []string{"engine"}}, // a warn's names are no help
		{result(check.Fail, check.Accept{}), []string{"engine"}, []string{"engine"}},
		{result(check.Fail, check.Accept{}), []string{"engine", "hydraulics"}, []string{"hydraulics"}},
		{result(check.Fail, check.Accept{}), []string{"tyres"}, []string{"lead-engineer"}},
	} {
		if got := who(&c.result, c.worn); !slices.Equal(got, c.want) {
			t.Errorf("%s with %v worn: %v, want %v", c.result.Outcome, c.worn, got, c.want)
		}
	}
}
