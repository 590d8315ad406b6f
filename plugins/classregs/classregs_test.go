package classregs

import (
	"strings"
	"testing"

	"github.com/paintmark/paintmark/plugins/sdk"
	"github.com/paintmark/paintmark/plugins/sdk/sdktest"
)

const (
	entered = `"class": "VI-7", "regulations": {"book": "VI-2026", "edition": "2026-02-01", "bulletins_read": [{"no": "VI-2026-B1", "by": "HW"}, {"no": "VI-2026-B2", "by": "HW"}, {"no": "VI-2026-B3", "by": "HW"}]}, "engine": {"capacity": 1620e-6, "aspiration": "turbo"}`
	event   = `{"event": {"last_day": "2026-05-16"}}`
)

func look(t *testing.T, c *sdk.Check, car string, more ...string) []sdk.Result {
	t.Helper()
	documents := map[string]string{"car": "{" + car + "}", "plan": event}
	for i := 0; i < len(more); i += 2 {
		documents[more[i]] = more[i+1]
	}
	return sdktest.Run(t, c, sdktest.Evidence{Documents: documents})
}

func outcome(t *testing.T, what string, r sdk.Result, want sdk.Outcome, says string) {
	t.Helper()
	if r.Outcome != want || !strings.Contains(r.Message, says) {
		t.Errorf("%s: %s, %q; want %s with %q", what, r.Outcome, r.Message, want, says)
	}
}

func TestThePluginIsValid(t *testing.T) {
	p := Plugin()
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
}

func TestClass(t *testing.T) {
	outcome(t, "1620 cm³ turbo in VI-7", look(t, class, entered)[0], sdk.Pass, "2754")
	outcome(t, "natural", look(t, class, strings.Replace(entered, "turbo", "natural", 1))[0], sdk.Fail, "VI-5")
	outcome(t, "no capacity", look(t, class, strings.Replace(entered, "1620e-6", `null`, 1))[0], sdk.NoData, "capacity")
	outcome(t, "an unknown book", look(t, class, strings.Replace(entered, "VI-2026", "XX", 1))[0], sdk.NoData, "no table")
	got := sdktest.Run(t, class, sdktest.Evidence{Documents: map[string]string{"car": "{" + entered + "}"}})
	outcome(t, "no event", got[0], sdk.NoData, "plan")
	got = sdktest.Run(t, class, sdktest.Evidence{Documents: map[string]string{"car": "{" + entered + "}", "plan": `{"event": {"last_day": "2025-05-16"}}`}})
	outcome(t, "before the book", got[0], sdk.NoData, "no edition")
}

func TestWeight(t *testing.T) {
	weigh := func(kg, with string) sdk.Result {
		return look(t, weight, entered, "measured", `{"weight": {"total": {"value": `+kg+`, "with": `+with+`}}}`)[0]
	}
	as := `{"driver": true, "fuel": "as finished"}`
	outcome(t, "on the limit", weigh("1080", as), sdk.Pass, "")
	outcome(t, "1 kg under", weigh("1079", as), sdk.Fail, "")
	outcome(t, "weighed otherwise", weigh("1200", `{"driver": false, "fuel": "as finished"}`), sdk.NoData, "without driver")
	outcome(t, "nobody says how", weigh("1200", `{}`), sdk.NoData, "")
}

func TestTyres(t *testing.T) {
	parts := func(mark, code string) []sdk.Result {
		return look(t, tyres, entered, "setup", `{"tyre_set": "DRY-3"}`,
			"parts", `[{"serial": "DRY-3", "children": ["A", "B"]}, {"serial": "A", "marking": "`+mark+`", "age_code": "`+code+`"}, {"serial": "B", "marking": "240/640R18", "age_code": "4825"}]`)
	}
	got := parts("240/640R18", "4825")
	outcome(t, "fresh", got[0], sdk.Pass, "640 mm")
	outcome(t, "the other", got[1], sdk.Pass, "")
	outcome(t, "wide", parts("355/640R18", "4825")[0], sdk.Fail, "section 355 mm, at most 345")
	outcome(t, "old: bulletin B2 brings 36 months", parts("240/640R18", "1723")[0], sdk.Fail, "too old from 2026-04-25")
	outcome(t, "just young enough", parts("240/640R18", "2123")[0], sdk.Pass, "")
	outcome(t, "unreadable", parts("soft", "4825")[0], sdk.NoData, "275/40R20")
	outcome(t, "one bad tyre does not hide the other", parts("soft", "4825")[1], sdk.Pass, "")
	outcome(t, "a set nobody has", look(t, tyres, entered, "setup", `{"tyre_set": "X"}`, "parts", `[]`)[0], sdk.NoData, "X")
}

func TestWingBox(t *testing.T) {
	box := func(dimensions string) []sdk.Result { return look(t, wingBox, entered+`, "dimensions": `+dimensions) }
	got := box(`{"wing_top": 1.45, "wing_span": 1.61, "wing_behind_axle": 0.88}`)
	outcome(t, "height on the limit of B1", got[0], sdk.Pass, "")
	outcome(t, "span", got[1], sdk.Fail, "")
	outcome(t, "behind", got[2], sdk.Pass, "")
	outcome(t, "over B1's height, inside the edition's", box(`{"wing_top": 1.48, "wing_span": 1.5, "wing_behind_axle": 0.88}`)[0], sdk.Fail, "")
	outcome(t, "not measured", box(`{"wing_top": 1.45}`)[1], sdk.NoData, "wing_span")
}

func TestLabels(t *testing.T) {
	safety := func(items string) []sdk.Result { return look(t, labels, entered+`, "safety": [`+items+`]`) }
	got := safety(`{"item": "harness", "label": "invented-H6", "serial": "1", "not_valid_after": "2028-12-31"},
		{"item": "seat", "label": "invented-S5", "serial": "2", "made": "2021-06"},
		{"item": "seat", "label": "invented-S5", "serial": "3", "made": "2020-06"},
		{"item": "harness", "label": "invented-H4", "serial": "4", "not_valid_after": "2028-12-31"},
		{"item": "fire bottle", "label": "invented-F2", "serial": "5", "last_check": "2024-05-16"},
		{"item": "fire bottle", "label": "invented-F2", "serial": "6", "last_check": "2024-05-15"},
		{"item": "fire bottle", "label": "invented-F2", "serial": "7"},
		{"item": "seat", "label": "home-made", "serial": "8", "made": "2024-06"},
		{"item": "fuel cell", "label": "invented-T3", "serial": "9", "made": "2021-03", "last_check": "2025-03-01"},
		{"item": "fuel cell", "label": "invented-T3", "serial": "10", "made": "2021-03"}`)
	for i, want := range []struct {
		outcome sdk.Outcome
		says    string
	}{
		{sdk.Pass, "2028-12-31"},
		{sdk.Pass, "2026-12-31"},
		{sdk.Fail, "2025-12-31"},
		{sdk.Fail, "goes out"},
		{sdk.Pass, "2026-05-16"}, // the last valid day is the last day of the event
		{sdk.Fail, "2026-05-15"},
		{sdk.NoData, "last check"},
		{sdk.Fail, "does not accept"},
		{sdk.Pass, "2027-03-01"}, // bulletin B3 takes effect on the very day
		{sdk.Fail, "2026-03-31"},
	} {
		outcome(t, got[i].Position, got[i], want.outcome, want.says)
	}
	outcome(t, "no items", look(t, labels, entered)[0], sdk.NoData, "")
}

func TestNeeded(t *testing.T) {
	all := `{"item": "harness"}, {"item": "seat"}, {"item": "fire bottle"}, {"item": "fuel cell"}, {"item": "helmet"}, {"item": "overalls"}`
	outcome(t, "one short", look(t, needed, entered+`, "safety": [`+all+`]`)[0], sdk.Fail, "head restraint")
	outcome(t, "all", look(t, needed, entered+`, "safety": [`+all+`, {"item": "head restraint"}]`)[0], sdk.Pass, "7")
	outcome(t, "none known", look(t, needed, entered)[0], sdk.NoData, "")
}

func TestBulletins(t *testing.T) {
	outcome(t, "all read", look(t, bulletins, entered)[0], sdk.Pass, "3 bulletins")
	outcome(t, "one not read", look(t, bulletins, strings.Replace(entered, `"VI-2026-B2"`, `"other"`, 1))[0], sdk.Fail, "VI-2026-B2 (age of tyres), in force from 2026-04-27")
	outcome(t, "an old edition", look(t, bulletins, strings.Replace(entered, "2026-02-01", "2025-02-01", 1))[0], sdk.Fail, "2026-02-01")
	outcome(t, "nobody read it", look(t, bulletins, strings.Replace(entered, `"VI-2026-B1", "by": "HW"`, `"VI-2026-B1"`, 1))[0], sdk.NoData, "by")
}
