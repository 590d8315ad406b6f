package trade_test

import (
	"fmt"

	"github.com/paintmark/paintmark/internal/trade"
)

// The pressure of a tyre set to 1.35 bar at 15 °C, when its carcass has 25 °C.
func ExampleGaugeAt() {
	const bar, station = 1e5, 97600
	fmt.Printf("%.3f bar\n", trade.GaugeAt(1.35*bar, station, 288.15, 298.15)/bar)
	// Output: 1.431 bar
}

// Two runs counted apart close the cycles of both in one.
func ExampleClosedCycles() {
	first, residue := trade.ClosedCycles([]float64{0, 5, 1, 3})
	second, residue := trade.ClosedCycles(append(residue, 1, 6, 0))
	fmt.Println(first, second, residue)
	// Output: [] [{2 2 1} {4 3 1}] [0 6 0]
}
