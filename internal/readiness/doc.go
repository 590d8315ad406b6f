// Package readiness makes the pieces one answer: it opens a car folder, plans what applies,
// runs the checks on the evidence, and weighs what they found.
package readiness

import (
	"errors"
	"io/fs"
)

// reason is an error without the path, which would differ from machine to machine.
func reason(err error) string {
	if p := new(fs.PathError); errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}
