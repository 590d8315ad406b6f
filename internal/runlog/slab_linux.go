package runlog

import (
	"syscall"
	"unsafe"
)

// Most of the time of a cold read goes into page faults: the kernel clears and
// maps 4 KiB at a time unless it is asked for larger pages.
const (
	hugePage    = 2 << 20
	adviceHuge  = 14 // MADV_HUGEPAGE
	leastAdvice = 4 * hugePage
)

// wantHugePages asks for large pages where s covers them whole. It is only
// advice: a kernel without them refuses, and nothing is lost.
func wantHugePages(s []byte) {
	size := uintptr(len(s))
	if size < leastAdvice {
		return
	}
	start := uintptr(unsafe.Pointer(unsafe.SliceData(s)))
	skip := -start & (hugePage - 1)
	n := (size - skip) &^ (hugePage - 1)
	_ = syscall.Madvise(s[skip:skip+n], adviceHuge)
}
