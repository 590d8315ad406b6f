package runlog

import (
	"encoding/binary"
	"math"
	"math/bits"
	"unsafe"
)

// Most cells of a log are a few digits with a decimal mark among them. Those
// are read eight bytes at a time, in two passes over a block: plainCells finds
// where each cell ends and puts its digits together, which is a chain of steps
// from cell to cell and so kept short; numbers turns the digits of a column into
// numbers where they are to stay, which the processor does for several at once.

// The form of a cell: how many of the digits of a plain one are decimals, and
// what else there is to it.
const (
	fracForm  = 0x07
	minusForm = 0x08
	blankForm = 0x40
	doneForm  = 0x80 // not plain: its number is read already, and stands in place of the digits
	badForm   = 0x81 // no number
)

// Constants of eight bytes at once.
const (
	ones   = 0x0101_0101_0101_0101
	highs  = 0x80 * ones
	lows   = 0x7f * ones
	zeros  = '0' * ones
	beyond = (0x80 - 10) * ones // added to the value of a digit it leaves the high bit clear, to any other it sets it
)

// plainCells reads cells that have another cell behind them and are blank or a
// number of at most seven bytes. It stops in front of the first that is
// anything else, having read n. There must be 15 bytes behind the last cell.
func plainCells(text []byte, p int, digits []uint64, forms []byte, delim, mark byte) (n, next int) {
	delims, point := uint64(delim)*ones, mark^'0'
	digits = digits[:len(forms)]
	at := unsafe.Pointer(unsafe.SliceData(text[p : len(text)-8]))
	start := at
	for n = range forms {
		word := binary.LittleEndian.Uint64((*[8]byte)(at)[:])
		stops := word ^ delims
		stops = (stops - ones) &^ stops & highs // the lowest one set is the first delimiter
		if stops == 0 {
			return n, p + int(uintptr(at)-uintptr(start))
		}
		stop := bits.TrailingZeros64(stops) // eight times the bytes of the cell, and 7
		if stop < 8 {
			forms[n] = blankForm
			at = unsafe.Add(at, 1)
			continue
		}
		x := word ^ zeros
		others := ((x&lows + beyond) | x) & highs & (stops&-stops - 1) // what is no digit
		minus := (uint64(byte(x)^('-'^'0')) - 1) >> 63
		others &^= minus << 7
		form := byte(minus) * minusForm
		x >>= 8 * minus & 63
		others >>= 8 * minus & 63
		size := stop - 7 - int(8*minus) // bits that hold digits
		if others != 0 {
			dot := bits.TrailingZeros64(others) - 7
			if others&(others-1) != 0 || byte(x>>(dot&63)) != point {
				return n, p + int(uintptr(at)-uintptr(start))
			}
			before := uint64(1)<<(dot&63) - 1
			x = x&before | x>>8&^before
			size -= 8
			form |= byte(size-dot) >> 3
		}
		if size <= 0 {
			return n, p + int(uintptr(at)-uintptr(start))
		}
		digits[n] = x << ((64 - size) & 63)
		forms[n] = form
		at = unsafe.Add(at, stop>>3+1)
	}
	return len(forms), p + int(uintptr(at)-uintptr(start))
}

// digitsValue is the number that eight digits spell, the first in the lowest byte.
func digitsValue(x uint64) int64 {
	x = x * (1 + 10<<8) >> 8 & 0x00ff_00ff_00ff_00ff
	x = x * (1 + 100<<16) >> 16 & 0x0000_ffff_0000_ffff
	x = x * (1 + 10000<<32) >> 32
	return int64(x)
}

// number is the number in a cell that is not blank, 0 where it is bad.
func number(digits uint64, form byte) float64 {
	switch {
	case form < blankForm:
		minus := int64(form >> 3)
		v := (digitsValue(digits) ^ -minus) + minus
		return float64(v) / powersOfTen[form&fracForm]
	case form == doneForm:
		return math.Float64frombits(digits)
	}
	return 0
}

// numbers puts down the numbers of a column: of every width-th cell from the first
// on that is not blank.
func numbers(to []float64, digits []uint64, forms []byte, width int) {
	digits = digits[:len(forms)]
	own := 0
	for at := 0; at < len(forms); at += width {
		if forms[at] != blankForm {
			to[own] = number(digits[at], forms[at])
			own++
		}
	}
}
