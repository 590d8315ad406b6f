//go:build unix && !linux

package pluginhost

import (
	"os/exec"
	"syscall"
)

// alone gives a program a process group. It learns of the host's end by its standard input.
func alone(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }
