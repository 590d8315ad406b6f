//go:build unix && !(darwin || freebsd || netbsd)

package runlog

import "syscall"

func changedAt(s *syscall.Stat_t) int64 { return s.Ctim.Nano() }
