package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"unsafe"
)

// A writingCall is a system call of a traced program that is about to change a folder.
type writingCall struct {
	name string // "write"
	file string // what it changes, by its path
}

// errNoTrace says that this machine lets nobody trace a program.
var errNoTrace = errors.New("programs cannot be traced here")

// Of ptrace(2) and openat(2), which package syscall has only in part.
const (
	traceSysGood    = 1 << 0
	traceClone      = 1 << 3
	traceExitKill   = 1 << 20
	getSyscallInfo  = 0x420e
	atWorkingFolder = -100 // AT_FDCWD
	syscallEntry    = 1
	waitAllThreads  = 0x40000000
	syscallStopMark = 0x80
)

// syscallInfo is struct ptrace_syscall_info at the entry of a call.
type syscallInfo struct {
	op   uint8
	_    [3]uint8
	arch uint32
	ip   uint64
	sp   uint64
	nr   uint64
	args [6]uint64
}

// traceWriting runs a program and stops it before every system call that would change the folder
// dir. at is told of each and says whether the program lives on; if not it is killed there and then,
// before the call. The code is -1 of a program that was killed.
func traceWriting(cmd *exec.Cmd, dir string, at func(writingCall) (goOn bool)) (code int, err error) {
	runtime.LockOSThread() // whoever traces is a thread
	defer runtime.UnlockOSThread()
	cmd.SysProcAttr = &syscall.SysProcAttr{Ptrace: true, Setpgid: true}
	if err := cmd.Start(); err != nil {
		return 0, fmt.Errorf("%w: %w", errNoTrace, err)
	}
	pid := cmd.Process.Pid
	defer cmd.Process.Release()
	var status syscall.WaitStatus
	if _, err := syscall.Wait4(pid, &status, waitAllThreads, nil); err != nil || !status.Stopped() {
		return 0, fmt.Errorf("%w: %v %v", errNoTrace, status, err)
	}
	if err := syscall.PtraceSetOptions(pid, traceSysGood|traceClone|traceExitKill); err != nil {
		return 0, fmt.Errorf("%w: %w", errNoTrace, err)
	}
	if err := syscall.PtraceSyscall(pid, 0); err != nil {
		return 0, err
	}
	for killed := false; ; {
		tid, err := syscall.Wait4(-pid, &status, waitAllThreads, nil)
		switch {
		case err == syscall.EINTR:
			continue
		case err != nil:
			return 0, err
		case status.Exited() && tid == pid:
			return status.ExitStatus(), nil
		case status.Signaled() && tid == pid:
			return -1, nil
		case !status.Stopped() || killed:
			continue
		}
		signal := 0
		switch s := status.StopSignal(); {
		case s == syscall.SIGTRAP|syscallStopMark:
			call, ok := writing(tid, dir)
			if ok && !at(call) {
				killed = true
				if err := syscall.Kill(pid, syscall.SIGKILL); err != nil {
					return 0, err
				}
				continue
			}
		case s != syscall.SIGTRAP && s != syscall.SIGSTOP: // those are of the tracing
			signal = int(s)
		}
		if err := syscall.PtraceSyscall(tid, signal); err != nil && err != syscall.ESRCH {
			return 0, err
		}
	}
}

// writing tells the call a stopped thread is about to make, if it would change the folder.
func writing(tid int, dir string) (writingCall, bool) {
	var info syscallInfo
	_, _, errno := syscall.Syscall6(syscall.SYS_PTRACE, getSyscallInfo, uintptr(tid), unsafe.Sizeof(info), uintptr(unsafe.Pointer(&info)), 0, 0)
	if errno != 0 || info.op != syscallEntry {
		return writingCall{}, false
	}
	open := func(fd uint64) string { // what has no path is no file: sockets, pipes
		file, _ := os.Readlink(fmt.Sprintf("/proc/%d/fd/%d", tid, int32(fd)))
		return file
	}
	path := func(folder, at uint64) string {
		file := filepath.Clean(textAt(tid, at))
		switch {
		case filepath.IsAbs(file):
			return file
		case int32(folder) == atWorkingFolder:
			return filepath.Join(dir, file) // the program runs in the folder
		default:
			return filepath.Join(open(folder), file)
		}
	}
	var call writingCall
	switch info.nr {
	case syscall.SYS_WRITE, syscall.SYS_PWRITE64, syscall.SYS_WRITEV:
		call = writingCall{"write", open(info.args[0])}
	case syscall.SYS_FSYNC, syscall.SYS_FDATASYNC:
		call = writingCall{"sync", open(info.args[0])}
	case syscall.SYS_FCHMOD:
		call = writingCall{"chmod", open(info.args[0])}
	case syscall.SYS_FTRUNCATE:
		call = writingCall{"truncate", open(info.args[0])}
	case syscall.SYS_OPENAT:
		if info.args[2]&(syscall.O_CREAT|syscall.O_TRUNC) == 0 {
			return call, false
		}
		call = writingCall{"create", path(info.args[0], info.args[1])}
	case syscall.SYS_MKDIRAT:
		call = writingCall{"mkdir", path(info.args[0], info.args[1])}
	case syscall.SYS_LINKAT:
		call = writingCall{"link", path(info.args[0], info.args[1])}
	case syscall.SYS_RENAMEAT:
		call = writingCall{"rename", path(info.args[0], info.args[1])}
	case syscall.SYS_UNLINKAT:
		call = writingCall{"unlink", path(info.args[0], info.args[1])}
	case syscall.SYS_FCHMODAT:
		call = writingCall{"chmod", path(info.args[0], info.args[1])}
	default:
		return call, false
	}
	return call, call.file == dir || strings.HasPrefix(call.file, dir+"/")
}

// textAt reads text that ends with a zero from a stopped program.
func textAt(tid int, at uint64) string {
	memory, err := os.Open(fmt.Sprintf("/proc/%d/mem", tid))
	if err != nil {
		return ""
	}
	defer memory.Close()
	buffer := make([]byte, 4096)
	n, _ := memory.ReadAt(buffer, int64(at))
	text, _, _ := strings.Cut(string(buffer[:n]), "\x00")
	return text
}
