package runlog

import "github.com/paintmark/paintmark/internal/source"

// Channel is what the car declares about one logged name.
type Channel struct {
	Name  string // in rules
	InLog string // in the log
	Unit  string // as declared, a spelling the units table knows
	Reads string // gauge, absolute, difference or point; "" where nothing is said
	Shape Shape

	Rate float64 // Hz; 0 where nothing is said
	Hold float64 // s a value stands; 0: three declared periods, or else three of its own

	Range      bool // Low and High are declared
	Low, High  float64
	FaultValue *float64 // what it reads when broken
	Within     float64  // how far a reading may be off; 0: taken at its face

	// What tells a live sensor from a dead one with a sane value; see FindDead.
	Pair      string   // channel that measures the same thing
	MovesWith []string // channels that cannot move long without this one moving
	Still     float64  // s it may stand still while they move; 0: the usual
	WorksAt   Ends     // ends of the range where it may stand in normal work

	Pos     source.Pos // of the declaration
	UnitPos source.Pos // of its unit
}

// The numbers of a Channel are in SI: range and fault value as the unit reads.

// Ends are ends of a range.
type Ends uint8

// The ends. UsualEnds are an end at zero and both ends of a share.
const (
	UsualEnds Ends = iota
	LowEnd
	HighEnd
	BothEnds
	NoEnd
)

// Shape is what a channel's values are.
type Shape uint8

// The shapes.
const (
	Number Shape = iota
	YesNo        // 0 or 1
	Count        // whole numbers, such as gears
)
