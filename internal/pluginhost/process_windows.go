package pluginhost

import "os/exec"

func alone(*exec.Cmd) {}

// killAll ends a program.
func killAll(cmd *exec.Cmd) { _ = cmd.Process.Kill() }

func busy(error) bool { return false }
