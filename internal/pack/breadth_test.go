package pack

import (
	"regexp"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/expr"
)

// The bundled rules are wide enough to be a start for a team, and the functions of the rule
// language earn their place in one of them.
func TestBreadthOfBundledRules(t *testing.T) {
	packs, faults := Load(bundled(t), expr.Scope{Roots: roots(t)}, nil)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	rules, onLog := 0, 0
	systems := map[string]bool{}
	for _, p := range packs {
		for _, r := range p.Rules {
			rules++
			systems[r.System] = true
		}
	}
	var text strings.Builder
	for _, f := range bundled(t) {
		text.Write(f.Data)
		for _, rule := range strings.Split(string(f.Data), "\n  - id: ")[1:] {
			rule, _, _ = strings.Cut(rule, "\n    examples:")
			if strings.Contains(rule, "log.") {
				onLog++
			}
		}
	}
	if rules < 45 || len(systems) < 10 || onLog < 20 {
		t.Errorf("%d rules over %d systems, %d of them on the log; 45 over 10, 20 on the log are the least", rules, len(systems), onLog)
	}
	used := func(name, in string) bool {
		return regexp.MustCompile(`(^|[^a-z_.])` + regexp.QuoteMeta(name) + `\(`).MatchString(in)
	}
	for _, name := range strings.Fields("always ever total longest count min max mean quantile integral first last response damage") {
		if !used("log."+name, text.String()) {
			t.Errorf("no bundled rule uses log.%s", name)
		}
	}
	for _, name := range strings.Fields("slope delay smooth held since abs least greatest at") {
		if !used(name, text.String()) {
			t.Errorf("no bundled rule uses %s", name)
		}
	}
}
