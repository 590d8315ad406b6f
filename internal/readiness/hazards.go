package readiness

import (
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/check"
)

// Hazards are the usual cautions of working on a system, in words, as the rules on it name
// them; sorted by their keys.
func Hazards(dir, system string) []string {
	keys := map[string]bool{}
	for _, p := range openFolder(dir).packs {
		for _, r := range p.Rules {
			if r.System == system && r.Caution != "" {
				keys[r.Caution] = true
			}
		}
	}
	var out []string
	for _, key := range check.Hazards() {
		if words, ok := check.Hazard(key); ok && keys[key] {
			name := strings.ReplaceAll(key, "-", " ")
			out = append(out, strings.ToUpper(name[:1])+name[1:]+": "+words)
		}
	}
	slices.Sort(out)
	return out
}
