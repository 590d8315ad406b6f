package pluginhost

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

var (
	pluginName = source.Form(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)
	version    = source.Form(`^\d+\.\d+\.\d+(-[0-9A-Za-z.-]+)?$`)
	checkID    = source.Form(`^[a-z][a-z0-9]*(-[a-z0-9]+)*(\.[a-z][a-z0-9]*(-[a-z0-9]+)*)+$`)
	fieldName  = source.Form(`^[a-z][a-z0-9_]*$`)
	docPath    = source.Form(`^[a-zA-Z_][a-zA-Z0-9_]*(\.[a-zA-Z_][a-zA-Z0-9_]*)*$`)
)

// outcomes are those of the contract in our words.
var outcomes = map[pluginv1.Outcome]check.Outcome{
	pluginv1.Outcome_OUTCOME_PASS: check.Pass, pluginv1.Outcome_OUTCOME_WARN: check.Warn, pluginv1.Outcome_OUTCOME_FAIL: check.Fail,
	pluginv1.Outcome_OUTCOME_NO_DATA: check.NoData, pluginv1.Outcome_OUTCOME_NOT_APPLICABLE: check.NotApplicable,
}

// Outcome is an outcome of the contract in our words.
func Outcome(o pluginv1.Outcome) check.Outcome { return outcomes[o] }

// Sound says what is wrong with a description, which anybody may have written; nil where
// nothing is.
func Sound(d *pluginv1.Description) error {
	if len(d.GetPlugins()) == 0 {
		return errors.New("it describes no plugin")
	}
	seen := map[string]bool{}
	for _, p := range d.GetPlugins() {
		switch {
		case !pluginName().MatchString(p.GetName()) || seen[p.GetName()]:
			return fmt.Errorf("it calls a plugin %q", plain(p.GetName()))
		case !version().MatchString(p.GetVersion()):
			return fmt.Errorf("it gives %s the version %q, not one like 1.2.0", p.GetName(), plain(p.GetVersion()))
		case len(p.GetChecks()) == 0:
			return fmt.Errorf("%s has no checks", p.GetName())
		}
		seen[p.GetName()] = true
		for _, c := range p.GetChecks() {
			if !strings.HasPrefix(c.GetId(), p.GetName()+".") || !checkID().MatchString(c.GetId()) || seen[c.GetId()] {
				return fmt.Errorf("it calls a check %q", plain(c.GetId()))
			}
			seen[c.GetId()] = true
			if err := soundCheck(c); err != nil {
				return fmt.Errorf("%s: %w", c.GetId(), err)
			}
		}
	}
	return nil
}

func soundCheck(c *pluginv1.Check) error {
	for _, s := range []string{c.GetItem(), c.GetSystem(), c.GetDo()} {
		if s == "" || plain(s) != s {
			return errors.New("item, system and do must be one plain line each")
		}
	}
	if len(c.GetMoments()) == 0 {
		return errors.New("it has no moments")
	}
	for _, m := range c.GetMoments() {
		if !slices.Contains([]check.Moment{check.Commit, check.Paddock, check.Run}, check.Moment(m)) {
			return fmt.Errorf("%q is no moment", plain(m))
		}
	}
	if k := c.GetCaution(); k != "" {
		if _, ok := check.Hazard(k); !ok {
			return fmt.Errorf("there is no caution %q", plain(k))
		}
	}
	if err := soundSource(c.GetSource()); err != nil {
		return err
	}
	for _, d := range c.GetNeeds().GetDocuments() {
		if !docPath().MatchString(d) {
			return fmt.Errorf("%q is no path of a document", plain(d))
		}
	}
	for _, n := range c.GetNeeds().GetChannels() {
		if !fieldName().MatchString(n.GetName()) {
			return fmt.Errorf("%q is no name of a channel", plain(n.GetName()))
		}
	}
	names := map[string]bool{}
	for _, l := range c.GetNeeds().GetLimits() {
		if !fieldName().MatchString(l.GetName()) || names[l.GetName()] || !finite(l.GetValue()) {
			return fmt.Errorf("%q is no limit", plain(l.GetName()))
		}
		names[l.GetName()] = true
		if t := l.GetTighten(); t != "" && t != "up" && t != "down" {
			return fmt.Errorf("the limit %s tightens %q, not up or down", l.GetName(), plain(t))
		}
		if err := soundSource(l.GetSource()); err != nil {
			return fmt.Errorf("the limit %s: %w", l.GetName(), err)
		}
	}
	for _, f := range c.GetNeeds().GetFrom() {
		if !slices.Contains([]string{"run", "warm-up", "stands", "cold", "return"}, f) {
			return fmt.Errorf("there is no log of the kind %q", plain(f))
		}
	}
	return nil
}

func soundSource(s *pluginv1.Source) error {
	if !slices.Contains([]string{"regulation", "supplier", "test", "practice"}, s.GetKind()) {
		return fmt.Errorf("the source is of the kind %q", plain(s.GetKind()))
	}
	if plain(s.GetText()) != s.GetText() {
		return errors.New("the text of a source must be one plain line")
	}
	return nil
}

// Card is a check as a report shows it.
func Card(c *pluginv1.Check) check.Card {
	out := check.Card{
		ID: c.GetId(), Item: c.GetItem(), System: c.GetSystem(), Unit: c.GetUnit(), Do: c.GetDo(), Caution: c.GetCaution(),
		Source: Source(c.GetSource()), Lenient: c.GetLenient(),
		Accept: check.Accept{Warn: acceptor(c.GetAccept().GetWarn()), Fail: acceptor(c.GetAccept().GetFail()), NoData: acceptor(c.GetAccept().GetNoData())},
	}
	for _, m := range c.GetMoments() {
		out.Moments = append(out.Moments, check.Moment(m))
	}
	return out
}

// Source is a source of the contract in our words.
func Source(s *pluginv1.Source) check.Source {
	return check.Source{Kind: s.GetKind(), Text: s.GetText(), Confirmed: s.GetConfirmed()}
}

func acceptor(a *pluginv1.Acceptor) check.Acceptor {
	return check.Acceptor{Hats: a.GetHats(), Official: a.GetOfficial(), Runs: int(a.GetRuns())}
}
