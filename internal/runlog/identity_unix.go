//go:build unix

package runlog

import (
	"fmt"
	"os"
	"syscall"
)

// fileIdentity tells one file from all others, and when it or its times were
// last changed: that cannot be set back.
func fileIdentity(_ string, info os.FileInfo) (id string, changed int64) {
	stat, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return "", 0
	}
	return fmt.Sprintf("%d/%d", stat.Dev, stat.Ino), changedAt(stat)
}
