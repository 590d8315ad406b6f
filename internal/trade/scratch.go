package trade

import "sync"

// scratch is room for numbers that nobody keeps. It is used again at once: memory that the system hands out for
// the first time costs more than what is worked out in it.
var scratch sync.Pool

// borrow gives an empty slice with room for n numbers, to be given back.
func borrow(n int) *[]float64 {
	if room, ok := scratch.Get().(*[]float64); ok && cap(*room) >= n {
		return room
	}
	room := make([]float64, 0, n)
	return &room
}

// giveBack takes room back, whatever is in it.
func giveBack(room *[]float64) {
	*room = (*room)[:0]
	scratch.Put(room)
}
