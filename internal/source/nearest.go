package source

import (
	"strings"

	"github.com/agnivade/levenshtein"
)

// Nearest is the candidate a person most likely meant by name, or "" when none is
// near. Of equally near ones it is the first in the alphabet.
func Nearest(name string, candidates []string) string {
	allowed := 1
	switch n := len([]rune(name)); {
	case n > 6:
		allowed = n / 3
	case n > 3:
		allowed = 2
	case n == 0:
		return ""
	}
	plain, best := plainName(name), ""
	for _, c := range candidates {
		d := levenshtein.ComputeDistance(plain, plainName(c))
		if d > allowed || d >= len([]rune(name)) || d == allowed && best != "" && best <= c {
			continue
		}
		best, allowed = c, d
	}
	return best
}

// plainName leaves out what a person does not hear: case, dashes, underscores.
func plainName(s string) string {
	return strings.ToLower(strings.NewReplacer("-", "", "_", "", " ", "").Replace(s))
}
