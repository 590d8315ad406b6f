package main

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"strings"

	"github.com/mattn/go-isatty"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/units"
)

// quarter is how far a value may be from the last one before it is asked for again: enough for
// wear and weather, too little for a wrong unit or a slipped digit. Common practice.
const quarter = 0.25

// doubt says why a value is not what anybody would expect, "" if it is.
func doubt(v readValue) string {
	if v.last == nil || v.last.Type.Kind != schema.Quantity {
		return ""
	}
	t := v.last.Type
	q, err := units.Parse(v.text)
	if err != nil {
		return ""
	}
	if q, err = units.Check(q, t.Unit); err != nil {
		return "" // the schema says it better
	}
	if band := t.Plausible; band != nil && (q.SI < band.Low || q.SI > band.High) {
		unit, err := units.Lookup(q.Unit)
		if err != nil {
			return ""
		}
		return fmt.Sprintf("%s %s is outside %s to %s", v.path, v.text, figureIn(unit, band.Low), figureIn(unit, band.High))
	}
	angle, _ := schema.NamedQuantity("angle")
	switch {
	case v.last.Unknown || v.last.Low != v.last.High || v.last.Low == 0:
	case t.Unit.Kind == units.Point || t.Unit.Dim == angle.Dim: // their zero is nobody's measure
	case math.Abs(q.SI-v.last.Low) > quarter*math.Abs(v.last.Low):
		return fmt.Sprintf("%s %s was %s, %+.0f %%", v.path, v.text, v.last.Text, 100*(q.SI/v.last.Low-1))
	}
	return ""
}

func figureIn(unit units.Unit, si float64) string {
	return fmt.Sprintf("%.6g %s", unit.Of(si), unit.Symbol)
}

// ask wants every doubtful value typed again, by a person; a script has to say that it is sure.
func (b *bench) ask(values []readValue, sure bool) error {
	if sure {
		return nil
	}
	in, person := b.c.InOrStdin().(*os.File)
	person = person && isatty.IsTerminal(in.Fd())
	var lines *bufio.Scanner
	for _, v := range values {
		why := doubt(v)
		switch {
		case why == "":
			continue
		case !person:
			return fmt.Errorf("nothing was written: %s; look at the instrument and its unit again, and if it is so add --sure", why)
		case lines == nil:
			lines = bufio.NewScanner(in)
		}
		fmt.Fprintf(b.c.ErrOrStderr(), "%s. Look again, and type it once more: ", why)
		if !lines.Scan() || !sameValue(lines.Text(), v.text) {
			return fmt.Errorf("nothing was written: %s was not typed again", v.text)
		}
	}
	return nil
}

// sameValue says that somebody typed the same value, whatever stands between number and unit.
func sameValue(typed, text string) bool {
	bare := func(s string) string { return strings.ReplaceAll(s, " ", "") }
	return bare(typed) == bare(text)
}
