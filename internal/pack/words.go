package pack

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/schema"
)

// say writes the message of a measured item.
func (j *judgement) say(v interval, ans expr.Answer, gaps []string) {
	j.res.Message = Words(*j.res.Measured, j.res.Limit, j.res.At)
	switch {
	case j.res.Outcome != check.NoData:
		j.named(v, ans)
		j.eitherWay()
	case len(gaps) > 0:
		j.note("no limit to hold it against: " + strings.Join(gaps, ", "))
	default:
		why := "the limit lies between"
		if said := unseenChannels(j.unseen); said != "" {
			why += "; " + said
		} else if len(j.vague) > 0 {
			slices.Sort(j.vague)
			why += "; " + listed(j.vague)
		}
		j.note(why)
	}
}

// named says which elements of a list were counted, where a count of them is what was
// measured: a number alone sends nobody to the right place.
func (j *judgement) named(v interval, ans expr.Answer) {
	i := slices.IndexFunc(ans.Read, func(r expr.Read) bool { return r.Value != nil && r.Value.Type.Kind == schema.List })
	if i < 0 {
		return
	}
	list := ans.Read[i].Value
	if slices.ContainsFunc(ans.Read, func(r expr.Read) bool { return !strings.HasPrefix(r.Path, ans.Read[i].Path) }) {
		return // it is not the list alone that was counted
	}
	if len(list.Items) == 0 || v.low != v.high || v.low != float64(len(list.Items)) {
		return
	}
	var names []string
	for _, item := range list.Items {
		name := item.Text
		if key := list.Type.Key; key != "" {
			name = item.Get(key).Text
		}
		if name == "" {
			return
		}
		names = append(names, name)
	}
	j.note(strings.Join(names, "; "))
}

// eitherWay says that something was unseen and that it does not matter.
func (j *judgement) eitherWay() {
	if said := unseenChannels(j.unseen); said != "" {
		j.note("holds either way, " + said)
	}
}

func (j *judgement) note(s string) {
	if j.res.Message != "" {
		j.res.Message += "; "
	}
	j.res.Message += s
	if j.res.Note != "" {
		j.res.Note += "; "
	}
	j.res.Note += s
}

// reason says in one line what an undecided answer lacked.
func reason(ans expr.Answer) string {
	var missing []string
	for _, g := range ans.Gaps {
		said := g.Path + " not known"
		if g.Why != "" {
			said = g.Path + ": " + g.Why
		}
		if !slices.Contains(missing, said) {
			missing = append(missing, said)
		}
	}
	if len(missing) > 0 {
		return listed(missing)
	}
	return "not known"
}

// unseenChannels names the channels once each: "oil_temp, rpm unseen".
func unseenChannels(unseen []check.Unseen) string {
	var names []string
	for _, u := range unseen {
		if !slices.Contains(names, u.Channel) {
			names = append(names, u.Channel)
		}
	}
	if len(names) == 0 {
		return ""
	}
	slices.Sort(names)
	return listed(names) + " unseen"
}

// listed joins up to three names and counts the rest.
func listed(names []string) string {
	const most = 3
	if len(names) <= most {
		return strings.Join(names, ", ")
	}
	return strings.Join(names[:most], ", ") + " and " + strconv.Itoa(len(names)-most) + " more"
}

// readings are the document values an answer rests on, limits and the element's own name
// left out.
func (j *judgement) readings(reads []expr.Read) string {
	var out []string
	for _, read := range reads {
		v := read.Value
		if v == nil || v.Unknown || strings.HasPrefix(read.Path, "limits.") || read.Path == j.r.eachName+"."+j.r.eachKey {
			continue
		}
		text := v.Text
		if v.Type != nil {
			switch v.Type.Kind {
			case schema.YesNo:
				if v.Bool && v.Type.About != "" && j.r.eachName != "" && strings.HasPrefix(read.Path, j.r.eachName+".") {
					out = append(out, v.Type.About) // of the element, which the item names
					continue
				}
				text = map[bool]string{true: "yes", false: "no"}[v.Bool]
			case schema.List, schema.Object, schema.Map, schema.Curve:
				continue
			}
		}
		if text != "" {
			out = append(out, read.Path+" is "+text)
		}
	}
	return listed(out)
}

// mergeUnseen sorts spans and joins those of one channel and reason that touch.
func mergeUnseen(in []check.Unseen) []check.Unseen {
	slices.SortFunc(in, func(a, b check.Unseen) int {
		return cmp.Or(strings.Compare(a.Channel, b.Channel), strings.Compare(a.Why, b.Why), cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To))
	})
	var out []check.Unseen
	for _, u := range in {
		if n := len(out); n > 0 && out[n-1].Channel == u.Channel && out[n-1].Why == u.Why && u.From <= out[n-1].To {
			out[n-1].To = math.Max(out[n-1].To, u.To)
			continue
		}
		out = append(out, u)
	}
	return out
}

// figure prints a value alone: "117 bar", "0.36 s or more".
func figure(m check.Measured) string {
	return band(m, decimals(m.Value))
}

// figures prints a value and its limit with the same number of decimals, enough of them
// that the two do not look alike where they differ.
func figures(m check.Measured, l check.Limit) (have, limit string) {
	places, most := decimals(m.Value), max(decimals(l.Value), decimals(l.Upper))
	if l.Value != 0 || l.Upper != 0 {
		places = max(most, min(places, most+2)) // a value near nought is not told to the sixth place
	}
	for places < 9 && alike(m.Value, l.Value, places) {
		places++
	}
	if l.Value == 0 && l.Upper == 0 {
		return band(m, places), "0" + unitOf(l.Unit) + " " + l.Kind
	}
	limit = fixed(l.Value, places) + unitOf(l.Unit) + " " + l.Kind
	if l.Kind == "a to b" {
		limit = fixed(l.Value, places) + " to " + fixed(l.Upper, places) + unitOf(l.Unit)
	}
	return band(m, places), limit
}

func alike(a, b float64, places int) bool {
	return math.Abs(a-b) > tolerance(a, b, 0) && fixed(a, places) == fixed(b, places)
}

func band(m check.Measured, places int) string {
	switch {
	case math.IsInf(m.Low, -1):
		return fixed(m.High, places) + unitOf(m.Unit) + " or less"
	case math.IsInf(m.High, 1):
		return fixed(m.Low, places) + unitOf(m.Unit) + " or more"
	case fixed(m.Low, places) != fixed(m.High, places) && m.High-m.Low > 0.05*math.Abs(m.Value):
		return fixed(m.Low, places) + " to " + fixed(m.High, places) + unitOf(m.Unit)
	}
	return fixed(m.Value, places) + unitOf(m.Unit)
}

// decimals is how many places three significant figures need, without trailing noughts.
func decimals(v float64) int {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0
	}
	places := min(6, max(0, 2-int(math.Floor(math.Log10(math.Abs(v))))))
	s := fixed(v, places)
	if !strings.Contains(s, ".") {
		return 0
	}
	return places - (len(s) - len(strings.TrimRight(s, "0")))
}

func fixed(v float64, places int) string {
	s := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

func unitOf(unit string) string {
	if unit == "1" || unit == "" {
		return ""
	}
	return " " + unit
}

func seconds(t float64) string { return fixed(t, 2) + " s" }

// Words says a measured value with its limit and its time as every report of an item does:
// "117 bar at 31.02 s, 105 bar min". A nil limit or time is left out.
func Words(m check.Measured, l *check.Limit, at *check.At) string {
	have, limit := figure(m), ""
	if l != nil {
		have, limit = figures(m, *l)
	}
	if at != nil {
		have += " at " + seconds(at.Time)
	}
	if limit != "" {
		have += ", " + limit
	}
	return have
}
