package expr

import (
	"slices"
	"strings"

	"github.com/paintmark/paintmark/internal/source"
)

// isNamespace says whether functions are named prefix.something and no document is.
func (e *Env) isNamespace(prefix string) bool {
	return e.root(prefix) == nil && len(e.functionsOf(prefix)) > 0
}

func (e *Env) functionsOf(prefix string) []string {
	var names []string
	for _, name := range e.base.names {
		if strings.HasPrefix(name, prefix+".") {
			names = append(names, name)
		}
	}
	return names
}

// nearest is the remedy for a misspelt name.
func nearest(name string, known []string) string {
	for _, k := range known { // two letters in the wrong order
		if k != name && len(k) == len(name) && sortedLetters(k) == sortedLetters(name) {
			return "did you mean " + k + "?"
		}
	}
	if near := source.Nearest(name, known); near != "" {
		return "did you mean " + near + "?"
	}
	if len(known) > 0 && len(known) <= 12 {
		return "there are " + strings.Join(known, ", ")
	}
	return ""
}

func sortedLetters(s string) string {
	b := []byte(s)
	slices.Sort(b)
	return string(b)
}
