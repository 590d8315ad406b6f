package pluginhost

import (
	"os/exec"
	"syscall"
)

// alone gives a program a process group, and lets it die with the thread that starts it.
func alone(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}
