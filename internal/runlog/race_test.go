//go:build race

package runlog

// underRace says that the race detector is on, which makes everything slower.
const underRace = true
