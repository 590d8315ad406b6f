package check

import (
	"maps"
	"slices"
)

// hazards are the usual cautions of the trade, by the key a rule names in `caution`.
// They remind, they do not teach: the team's own procedure and training come first.
var hazards = map[string]string{
	"stored-pressure": "Oil and gas stay under pressure: isolate, vent to zero, read the gauge. Never feel for a leak with a hand; an injection wound is an emergency.",
	"pinch":           "Sprung and powered parts move by themselves when vented or switched on: vent, pin, hands clear of the gap.",
	"hot":             "Exhaust, turbo and discs burn: wait, cover, gloves.",
	"fire-system":     "Disarm before work, arm last, never work on an armed line.",
	"fuel":            "Engine off and cool, earth bond, a person on the extinguisher; line pressure at zero before it is opened.",
	"lifted-car":      "On stands and chocked, never on a jack alone; nobody in front, behind or by a wheel that turns.",
	"rotating":        "Keep clear of what turns; guards on; nobody in line with discs or balance weights.",
	"springs":         "A compressed spring stores enough to maim: compressor in good order, nobody in line, unload it before anything is undone.",
	"dust":            "Brake and clutch dust harms lungs: never blow it off; wipe it wet or use a vacuum made for it, and a mask.",
	"coolant":         "A hot circuit is under pressure and scalds: let it cool, then open the cap slowly behind a cloth.",
	"electric":        "Isolate and prove dead before work; rings and tools off.",
}

// Hazard is the caution a key stands for.
func Hazard(key string) (string, bool) {
	text, ok := hazards[key]
	return text, ok
}

// Hazards lists the keys, sorted.
func Hazards() []string { return slices.Sorted(maps.Keys(hazards)) }
