package source

import (
	"regexp"
	"sync"
)

// Form is a regular expression, compiled where it is first needed: many are, and a process that only serves
// plugins needs none of them.
func Form(text string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(text) })
}
