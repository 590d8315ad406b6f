package sdk

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
)

var (
	pluginName = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)
	checkID    = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*(\.[a-z][a-z0-9]*(-[a-z0-9]+)*)+$`)
	fieldName  = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	semantic   = regexp.MustCompile(`^\d+\.\d+\.\d+(-[0-9A-Za-z.-]+)?$`)
)

// Validate says what is wrong with a plugin before anything runs; nil where nothing is.
func (p *Plugin) Validate() error {
	switch {
	case !pluginName.MatchString(p.Name):
		return fmt.Errorf("plugin %q: the name is small letters, figures and hyphens", p.Name)
	case !semantic.MatchString(p.Version):
		return fmt.Errorf("plugin %s: the version %q is not like 1.2.0", p.Name, p.Version)
	case len(p.Checks) == 0:
		return fmt.Errorf("plugin %s has no checks", p.Name)
	}
	seen := map[string]bool{}
	for _, c := range p.Checks {
		if seen[c.ID] {
			return fmt.Errorf("plugin %s: two checks are called %s", p.Name, c.ID)
		}
		seen[c.ID] = true
		if !strings.HasPrefix(c.ID, p.Name+".") {
			return fmt.Errorf("plugin %s: the id %q does not begin with %q", p.Name, c.ID, p.Name+".")
		}
		if err := c.Validate(); err != nil {
			return fmt.Errorf("plugin %s: %w", p.Name, err)
		}
	}
	return nil
}

// Validate says what is wrong with a check before it runs; nil where nothing is.
func (c *Check) Validate() error {
	switch {
	case !checkID.MatchString(c.ID):
		return fmt.Errorf("check %q: the id is like wing.close-time", c.ID)
	case c.Item == "", c.System == "", c.Do == "":
		return fmt.Errorf("check %s: item, system and do are needed", c.ID)
	case len(c.Moments) == 0:
		return fmt.Errorf("check %s has no moments", c.ID)
	case c.Run == nil:
		return fmt.Errorf("check %s has no Run", c.ID)
	}
	for _, m := range c.Moments {
		if m != Commit && m != Paddock && m != Run {
			return fmt.Errorf("check %s: %q is no moment", c.ID, m)
		}
	}
	if err := c.Source.validate(); err != nil {
		return fmt.Errorf("check %s: %w", c.ID, err)
	}
	for _, l := range c.Needs.Limits {
		switch {
		case !fieldName.MatchString(l.Name):
			return fmt.Errorf("check %s: %q is no name for a limit", c.ID, l.Name)
		case math.IsNaN(l.Value) || math.IsInf(l.Value, 0):
			return fmt.Errorf("check %s: the limit %s is no number", c.ID, l.Name)
		case l.Tighten != "" && l.Tighten != "up" && l.Tighten != "down":
			return fmt.Errorf("check %s: the limit %s can be tightened up or down, not %q", c.ID, l.Name, l.Tighten)
		}
		if err := l.Source.validate(); err != nil {
			return fmt.Errorf("check %s: the limit %s: %w", c.ID, l.Name, err)
		}
	}
	for _, n := range c.Needs.Channels {
		if !fieldName.MatchString(n.Name) || n.Quantity == "" {
			return fmt.Errorf("check %s: the channel %q needs a name and a quantity", c.ID, n.Name)
		}
	}
	for _, f := range c.Needs.From {
		if !slices.Contains([]string{"run", "warm-up", "stands", "cold", "return"}, f) {
			return fmt.Errorf("check %s: there is no log of the kind %q", c.ID, f)
		}
	}
	return nil
}

func (s Source) validate() error {
	if !slices.Contains([]string{"regulation", "supplier", "test", "practice"}, s.Kind) {
		return fmt.Errorf("the source is of the kind %q, not regulation, supplier, test or practice", s.Kind)
	}
	return nil
}
