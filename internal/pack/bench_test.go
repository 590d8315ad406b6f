package pack

import (
	"fmt"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/expr"
)

// generated is a pack of n rules over measured values and the car.
func generated(n int) File {
	var b strings.Builder
	b.WriteString("pack: generated\nversion: 1.0.0\ntitle: Generated\nlimits:\n")
	for i := range n {
		fmt.Fprintf(&b, "  l%d: {value: %d bar, tighten: up, source: {kind: practice}}\n", i, i+1)
	}
	b.WriteString("rules:\n")
	for i := range n {
		fmt.Fprintf(&b, `  - id: made.rule-%[1]d
    item: Rule %[1]d
    system: hydraulics
    applies: car.gearbox.shift == "hydraulic" && car.hydraulics.pump_off > bar(%[1]d.5)
    measure: measured.hydraulics.precharge.value - car.hydraulics.pump_on + bar(%[1]d.0)
    unit: bar
    fail: {below: limits.l%[1]d}
    accept: nobody
    do: Nothing, it is made.
    source: {kind: practice}
    examples:
      - {shown: {}, answer: no data}
      - {shown: {car: {gearbox: {shift: hydraulic}, hydraulics: {pump_on: 115 bar, pump_off: 900 bar}}, measured: {hydraulics: {precharge: {value: 900 bar}}}}, answer: pass}
      - {shown: {car: {gearbox: {shift: hydraulic}, hydraulics: {pump_on: 115 bar, pump_off: 900 bar}}, measured: {hydraulics: {precharge: {value: 9 bar}}}}, answer: fail}
`, i)
	}
	return File{"generated.yaml", []byte(b.String())}
}

func BenchmarkLoad(b *testing.B) {
	scope := expr.Scope{Roots: roots(b)}
	for name, files := range map[string][]File{"generated300": {generated(300)}, "bundled": bundled(b)} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, faults := Load(files, scope, nil); len(faults) > 0 {
					b.Fatal(faults)
				}
			}
		})
	}
}
