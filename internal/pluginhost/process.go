package pluginhost

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"time"
)

// process is one started program. It runs in a process group of its own, is told of the
// host's end by its standard input and, where the system can, by a signal.
type process struct {
	name   string
	folder string // private: its sockets must be in it
	cmd    *exec.Cmd
	stdin  *os.File // our end: closes with us
	stdout *io.PipeReader
	stderr *io.PipeReader
	tail   *tail
	up     chan struct{} // closed when it was started; cmd is not touched by others before
	ended  chan struct{} // closed when it is gone
	heard  chan struct{} // closed when all it said on the standard error is in the tail
	err    error         // how it ended, after ended

	mu    sync.Mutex
	spoke string // the first line it said
}

// Start starts it, on a thread that stays until it is gone: the signal comes when the thread
// that started it ends.
func (p *process) Start(context.Context) error {
	in, ours, err := os.Pipe()
	if err != nil {
		return err
	}
	out, outEnd, err := os.Pipe()
	if err != nil {
		return err
	}
	errs, errEnd, err := os.Pipe()
	if err != nil {
		return err
	}
	p.cmd.Stdin, p.cmd.Stdout, p.cmd.Stderr, p.stdin = in, outEnd, errEnd, ours
	alone(p.cmd)
	started := make(chan error)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := p.cmd.Start()
		for tries := 0; busy(err) && tries < 20; tries++ { // another start held the copy open for a moment
			time.Sleep(5 * time.Millisecond)
			again := exec.Command(p.cmd.Path, p.cmd.Args[1:]...)
			again.Env, again.Dir, again.Stdin, again.Stdout, again.Stderr = p.cmd.Env, p.cmd.Dir, in, outEnd, errEnd
			alone(again)
			p.cmd = again
			err = p.cmd.Start()
		}
		for _, f := range []*os.File{in, outEnd, errEnd} {
			_ = f.Close()
		}
		if err == nil {
			close(p.up)
		}
		started <- err
		if err != nil {
			close(p.ended)
			return
		}
		p.err = p.cmd.Wait()
		killAll(p.cmd) // what it started and left behind
		// Whoever still holds the other end of a pipe does not hold us up.
		for _, f := range []*os.File{out, errs} {
			_ = f.SetReadDeadline(time.Now().Add(200 * time.Millisecond))
		}
		close(p.ended)
	}()
	if err := <-started; err != nil {
		for _, f := range []*os.File{ours, out, errs} {
			_ = f.Close()
		}
		return err
	}
	var line, silence *io.PipeWriter
	p.stdout, line = io.Pipe()
	p.stderr, silence = io.Pipe()
	go func() { // one line is the handshake, the rest is noise
		first := bufio.NewReaderSize(out, 4096)
		said, _ := first.ReadSlice('\n')
		p.mu.Lock()
		p.spoke = strings.TrimSpace(string(said))
		p.mu.Unlock()
		_, _ = line.Write([]byte(p.first() + "\n"))
		_, _ = io.Copy(io.Discard, first)
		_, _ = line.Close(), out.Close()
	}()
	go func() {
		_, _ = io.Copy(p.tail, errs)
		close(p.heard)
		_, _ = silence.Close(), errs.Close()
	}()
	return nil
}

// settle waits, not for long, until a program that ends is gone and its last words were heard.
func (p *process) settle() {
	select {
	case <-p.heard:
	case <-time.After(time.Second):
	}
}

// runs says that it was started, whether or not it is gone since.
func (p *process) runs() bool {
	select {
	case <-p.up:
		return true
	default:
		return false
	}
}

func (p *process) first() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.spoke
}

// wire is the version of the contract it speaks; ok is false where it has not said.
func (p *process) wire() (version int, ok bool) {
	parts := strings.Split(p.first(), "|")
	if len(parts) < 4 {
		return 0, false
	}
	version, err := strconv.Atoi(parts[1])
	return version, err == nil
}

// Stdout is its first line and nothing more.
func (p *process) Stdout() io.ReadCloser { return p.stdout }

// Stderr is silent: what it says there is kept in the tail.
func (p *process) Stderr() io.ReadCloser { return p.stderr }

// Name is the plugin's.
func (p *process) Name() string { return p.name }

// ID is the process's number.
func (p *process) ID() string {
	if !p.runs() {
		return ""
	}
	return strconv.Itoa(p.cmd.Process.Pid)
}

// Diagnose has nothing to add.
func (p *process) Diagnose(context.Context) string { return "" }

// Wait waits until it is gone.
func (p *process) Wait(context.Context) error {
	<-p.ended
	return p.err
}

// Kill ends it and what it started. A plugin keeps nothing that could be lost.
func (p *process) Kill(context.Context) error {
	if !p.runs() {
		return nil
	}
	killAll(p.cmd)
	_ = p.stdin.Close()
	<-p.ended
	return nil
}

// PluginToHost refuses a socket outside of the private folder: others could listen there.
func (p *process) PluginToHost(network, address string) (string, string, error) {
	if runtime.GOOS != "windows" {
		if network != "unix" {
			return "", "", fmt.Errorf("it serves on %s, not on a socket in its folder", network)
		}
		inside, err := filepath.Rel(p.folder, address)
		if err != nil || !filepath.IsLocal(inside) {
			return "", "", errors.New("it serves on a socket outside of its folder")
		}
	}
	return network, address, nil
}

// HostToPlugin is the same address.
func (p *process) HostToPlugin(network, address string) (string, string, error) {
	return network, address, nil
}

// tail keeps the end of what is written to it.
type tail struct {
	mu   sync.Mutex
	kept []byte
}

const tailRoom = 4096

func (t *tail) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.kept = append(t.kept, b[max(0, len(b)-tailRoom):]...)
	if over := len(t.kept) - tailRoom; over > 0 {
		t.kept = append(t.kept[:0], t.kept[over:]...)
	}
	return len(b), nil
}

// last is the line that says most: where it panicked, else the last one.
func (t *tail) last() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	last := ""
	for _, l := range strings.Split(string(t.kept), "\n") {
		if l = plain(l); l == "" {
			continue
		}
		last = l
		if strings.HasPrefix(l, "panic: ") || strings.HasPrefix(l, "fatal error: ") {
			break
		}
	}
	return last
}

// plain is a text of a plugin as it may stand in a report: one line, not long.
func plain(s string) string {
	s = strings.Join(strings.FieldsFunc(strings.ToValidUTF8(s, ""), func(r rune) bool { return r < ' ' || r == 0x7f || r == ' ' }), " ")
	const most = 160
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return s
}
