// Package pluginhost starts plugins, guards against them and asks them. A plugin can break, hang,
// lie or die: what comes of it is a fault of its own checks, and nothing else is touched.
package pluginhost

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"time"

	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// Limits bound what a plugin may take. They are far more than a sound one needs, so that a
// slow machine never changes an answer.
type Limits struct {
	Start time.Duration // until it serves
	Call  time.Duration // for one answer
	Reply int           // bytes of one answer
}

// DefaultLimits are those of the program.
var DefaultLimits = Limits{Start: 5 * time.Second, Call: 20 * time.Second, Reply: 8 << 20}

// Host keeps what plugins run in this process's care. Close it, and none of them is left.
type Host struct {
	limits Limits

	closing sync.Once

	mu       sync.Mutex
	folder   string // private to this process: sockets, copies, columns
	own      *Program
	programs []*Program
}

// New makes a host. It starts nothing.
func New(limits Limits) *Host { return &Host{limits: limits} }

// Folder is a folder that only this user can look into. It goes with the host.
func (h *Host) Folder() (string, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.folder != "" {
		return h.folder, nil
	}
	base := os.TempDir()
	if runtime.GOOS != "windows" && len(base) > 40 { // the name of a socket has room for a hundred letters
		base = "/tmp"
	}
	folder, err := os.MkdirTemp(base, "paintmark-") // 0700
	if err != nil {
		return "", err
	}
	h.folder, err = filepath.EvalSymlinks(folder)
	if err != nil {
		h.folder = folder
	}
	return h.folder, nil
}

// Close ends every plugin and takes the private folder away. Who calls it again waits until all is gone.
func (h *Host) Close() { h.closing.Do(h.close) }

func (h *Host) close() {
	h.mu.Lock()
	programs, folder := h.programs, h.folder
	h.programs, h.own, h.folder = nil, nil, ""
	h.mu.Unlock()
	var all sync.WaitGroup
	for _, p := range programs {
		all.Go(p.end)
	}
	all.Wait()
	if folder != "" {
		_ = os.RemoveAll(folder)
	}
}

// Program is a file that serves plugins. It is started when it is first asked.
type Program struct {
	host *Host
	name string // for messages
	path string
	sum  string // what its bytes must be; "" for the host's own program
	args []string
	env  []string

	once    sync.Once
	running *running
	err     error
}

// CollectLate is how much garbage, in % of the least heap of 4 MiB, there may be before it is first collected: a look is over
// in a tenth of a second. Our own program is told when it is started, for much of it is made before its main begins.
const CollectLate = 2400

// Own is this very program, which serves the plugins that are part of it, all in one process.
func (h *Host) Own() (*Program, error) {
	path, err := os.Executable()
	if err != nil {
		return nil, err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.own == nil {
		h.own = &Program{host: h, name: "paintmark", path: path, env: []string{"GOGC=" + strconv.Itoa(CollectLate)}}
		h.programs = append(h.programs, h.own)
	}
	return h.own, nil
}

// Outside is a program of somebody else's. Only a copy with this SHA-256 is ever run.
func (h *Host) Outside(name, path, sha256 string) *Program {
	p := &Program{host: h, name: name, path: path, sum: sha256}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.programs = append(h.programs, p)
	return p
}

// Warm starts the program without waiting for it.
func (p *Program) Warm() { go func() { _, _ = p.start() }() }

// NotServing is the fault of a program that could not be started, whatever was asked of it.
type NotServing struct{ error }

func (p *Program) start() (*running, error) {
	p.once.Do(func() {
		var err error
		if p.running, err = p.launch(); err != nil {
			p.err = NotServing{err}
		}
	})
	return p.running, p.err
}

func (p *Program) end() {
	p.once.Do(func() { p.err = errors.New("the host is closed") }) // waits for a start that is under way
	if p.running != nil {
		p.running.end()
	}
}

// Describe asks the program what there is to check, and makes sure that it makes sense.
func (p *Program) Describe(ctx context.Context, version string) (*pluginv1.Description, error) {
	r, err := p.start()
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, p.host.limits.Call)
	defer cancel()
	d, err := r.checks.Describe(ctx, &pluginv1.DescribeRequest{Paintmark: version}, p.host.bounded())
	if err != nil {
		return nil, r.said(err)
	}
	return d, Sound(d)
}
