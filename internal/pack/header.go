package pack

import (
	"slices"
	"time"

	"github.com/paintmark/paintmark/internal/source"
)

var (
	packKeys = []string{"pack", "version", "title", "effective", "bulletins", "channels", "limits", "rules"}

	packName = source.Form(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)
	// semantic is the version grammar of semver.org 2.0.0 without build metadata.
	semantic = source.Form(`^(0|[1-9]\d*)\.(0|[1-9]\d*)\.(0|[1-9]\d*)(-[0-9A-Za-z.-]+)?$`)
)

// draft is a pack as read, before anything in it is compiled.
type draft struct {
	pack     *Pack
	channels []channelDraft
	bad      []string // limits and channels that could not be read
	rules    []*ruleDraft
}

// readPack reads one file's tree. It returns nil where there is no pack to speak of.
func readPack(f *form, file string, root *source.Node) *draft {
	keys := f.fields(root, "a rule pack", packKeys...)
	if keys == nil {
		return nil
	}
	d := &draft{pack: &Pack{File: file}}
	for _, must := range []string{"pack", "version", "title"} {
		if keys[must] == nil {
			f.fault(root.Pos, "the pack has no "+must, "add `"+must+":` at the top")
		}
	}
	if n := keys["pack"]; n != nil {
		d.pack.Name = f.text(n, "pack")
		if d.pack.Name != "" && !packName().MatchString(d.pack.Name) {
			f.fault(n.Pos, quoted(d.pack.Name)+" is not a pack name", "small letters, figures and single hyphens, such as ashgill-house")
		}
	}
	if n := keys["version"]; n != nil {
		d.pack.Version = f.text(n, "version")
		if d.pack.Version != "" && !semantic().MatchString(d.pack.Version) {
			f.fault(n.Pos, quoted(d.pack.Version)+" is not a version", "write three numbers, such as 1.2.0")
		}
	}
	if n := keys["title"]; n != nil {
		d.pack.Title = f.text(n, "title")
	}
	if n := keys["effective"]; n != nil {
		d.pack.Effective = f.date(n, "effective")
	}
	if n := keys["bulletins"]; n != nil {
		for _, b := range f.texts(n, "bulletins") {
			d.pack.Bulletins = append(d.pack.Bulletins, b.Text)
		}
	}
	if n := keys["channels"]; n != nil {
		d.channels, d.bad = readChannels(f, n)
	}
	if n := keys["limits"]; n != nil {
		limits, bad := readLimits(f, n)
		d.pack.Limits, d.bad = limits, append(d.bad, bad...)
	}
	d.rules = readRules(f, root, keys["rules"])
	return d
}

// spoilt says that a rule rests on a limit or channel that could not be read: what its
// expressions come to then says nothing about the rule.
func (d *draft) spoilt(r *ruleDraft) bool {
	if len(d.bad) == 0 {
		return false
	}
	for _, n := range r.expressions() {
		for _, word := range words().FindAllString(n.Text, -1) {
			if slices.Contains(d.bad, word) {
				return true
			}
		}
	}
	return false
}

var words = source.Form(`\b[a-z][a-z0-9_]*`)

// date is a date as written, checked.
func (f *form) date(n *source.Node, what string) string {
	t := f.text(n, what)
	if t == "" {
		return ""
	}
	if _, err := time.Parse(time.DateOnly, t); err != nil {
		f.fault(n.Pos, quoted(t)+" is not a date", "write year-month-day, such as 2026-05-16")
		return ""
	}
	return t
}

func readRules(f *form, root, n *source.Node) []*ruleDraft {
	if n == nil {
		f.fault(root.Pos, "the pack has no rules", "add `rules:` with at least one")
		return nil
	}
	if n.Kind != source.List || len(n.Items) == 0 {
		f.fault(n.Pos, "rules is not a list", "start each rule with `- id:`")
		return nil
	}
	var out []*ruleDraft
	for _, item := range n.Items {
		if r := readRule(f, item); r != nil {
			out = append(out, r)
		}
	}
	return out
}
