package runlog

import "syscall"

// advicePopulate is MADV_POPULATE_READ: map all pages at once, not one fault at a time.
const advicePopulate = 22

func wantAllPages(data []byte) { _ = syscall.Madvise(data, advicePopulate) }
