//go:build unix

package pluginhost

import (
	"errors"
	"os/exec"
	"syscall"
)

// killAll ends a program and all of its group.
func killAll(cmd *exec.Cmd) { _ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }

// busy says that a program could not be started because somebody has it open to write.
func busy(err error) bool { return errors.Is(err, syscall.ETXTBSY) }
