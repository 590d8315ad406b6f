package pluginhost

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/hashicorp/go-hclog"
	"github.com/hashicorp/go-plugin"
	"github.com/hashicorp/go-plugin/runner"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// The handshake, as in the kit.
const (
	cookie      = "PAINTMARK_PLUGIN"
	cookieValue = "4d7c1d0f"
)

// running is a program that serves.
type running struct {
	host    *Host
	client  *plugin.Client
	process *process
	checks  pluginv1.ChecksClient

	curt atomic.Bool // it holds no conversations
	mu   sync.Mutex
	free []*conversation // in which nothing is asked now
}

var errLate = errors.New("it did not serve within")

// launch starts a program and waits until it serves.
func (p *Program) launch() (*running, error) {
	folder, err := p.host.Folder()
	if err != nil {
		return nil, err
	}
	folder, err = os.MkdirTemp(folder, "")
	if err != nil {
		return nil, err
	}
	path := p.path
	if p.sum != "" {
		if path, err = copyOf(p.path, folder, p.sum); err != nil {
			return nil, err
		}
	}
	proc := &process{name: p.name, folder: folder, tail: &tail{}, up: make(chan struct{}), ended: make(chan struct{}), heard: make(chan struct{})}
	client := plugin.NewClient(&plugin.ClientConfig{
		HandshakeConfig:  plugin.HandshakeConfig{ProtocolVersion: pluginv1.Version, MagicCookieKey: cookie, MagicCookieValue: cookieValue},
		VersionedPlugins: map[int]plugin.PluginSet{pluginv1.Version: {"checks": asked{}}},
		AllowedProtocols: []plugin.Protocol{plugin.ProtocolGRPC},
		RunnerFunc: func(_ hclog.Logger, spec *exec.Cmd, _ string) (runner.Runner, error) {
			proc.cmd = exec.Command(path, p.args...)
			proc.cmd.Env, proc.cmd.Dir = slices.Concat(environment(folder), p.env, spec.Env), folder
			return proc, nil
		},
		UnixSocketConfig: &plugin.UnixSocketConfig{TempDir: folder},
		AutoMTLS:         runtime.GOOS == "windows",
		SkipHostEnv:      true,
		StartTimeout:     2 * p.host.limits.Start, // ours comes first
		SyncStderr:       proc.tail,
		Logger:           hclog.NewNullLogger(),
	})
	r := &running{host: p.host, client: client, process: proc}
	served := make(chan error, 1)
	go func() {
		protocol, err := client.Client()
		if err == nil {
			var checks any
			if checks, err = protocol.Dispense("checks"); err == nil {
				r.checks = checks.(pluginv1.ChecksClient)
			}
		}
		served <- err
	}()
	select {
	case err = <-served:
	case <-time.After(p.host.limits.Start):
		err = fmt.Errorf("%w %v", errLate, p.host.limits.Start)
		_ = proc.Kill(context.Background())
		<-served
	}
	if err != nil {
		err = r.notStarted(err)
		r.end()
		return nil, err
	}
	return r, nil
}

// notStarted says why a program does not serve, and what to do.
func (r *running) notStarted(err error) error {
	wire, spoken := r.process.wire()
	switch {
	case spoken && wire > pluginv1.Version:
		return fmt.Errorf("it speaks version %d of the plugin contract, this paintmark %d: update paintmark", wire, pluginv1.Version)
	case spoken && wire < pluginv1.Version:
		return fmt.Errorf("it speaks version %d of the plugin contract, this paintmark %d: build it with a newer kit", wire, pluginv1.Version)
	}
	switch first := r.process.first(); {
	case errors.Is(err, errLate): // also when it said something else: it had its time
		r.process.settle()
	case !r.process.runs(): // it is no program, or not one for this machine
		if p := new(fs.PathError); errors.As(err, &p) {
			err = p.Err
		}
		err = fmt.Errorf("it cannot be started: %w", err)
	case first == "":
		r.process.settle()
		err = errors.New("it ended before it served")
	case !spoken:
		err = fmt.Errorf("it said %q where the handshake belongs", plain(first))
	}
	return r.with(err)
}

// with adds the end of what it said on the standard error.
func (r *running) with(err error) error {
	if last := r.process.tail.last(); last != "" {
		return fmt.Errorf("%s; it said: %s", plain(err.Error()), last)
	}
	return errors.New(plain(err.Error()))
}

// fault is what a plugin says that broke a check, or what is wrong with what it says.
type fault struct{ error }

func broken(f *pluginv1.Fault) error { return fault{errors.New(plain(f.GetWhat()))} }

func contradiction(what string) error { return fault{errors.New(what)} }

// said is what went wrong with a call, in words.
func (r *running) said(err error) error {
	if f := (fault{}); err == nil || errors.As(err, &f) {
		return err
	}
	switch s := status.Convert(err); s.Code() {
	case codes.DeadlineExceeded:
		return r.with(fmt.Errorf("no answer after %v", r.host.limits.Call))
	case codes.ResourceExhausted:
		return fmt.Errorf("its answer is over %d MiB", r.host.limits.Reply>>20)
	case codes.Canceled:
		return errors.New("stopped before it was answered")
	case codes.Unavailable:
		r.process.settle()
		return r.with(errors.New("it ended before it answered"))
	default:
		return errors.New(plain("it answered: " + s.Message()))
	}
}

// end ends the program, whatever it is doing.
func (r *running) end() {
	if !r.process.runs() {
		return
	}
	_ = r.process.Kill(context.Background())
	r.client.Kill() // clears up after it
}

func (h *Host) bounded() grpc.CallOption { return grpc.MaxCallRecvMsgSize(h.limits.Reply) }

// environment is all that a plugin sees of ours.
func environment(folder string) []string {
	env := []string{"LANG=C.UTF-8", "TZ=UTC", "TMPDIR=" + folder, "TEMP=" + folder, "TMP=" + folder}
	for _, name := range []string{"PATH", "SystemRoot"} {
		if v, ok := os.LookupEnv(name); ok {
			env = append(env, name+"="+v)
		}
	}
	return env
}

// copyOf copies a program to where nobody else can change it, and refuses one that is not
// what it must be. The copy is what runs.
func copyOf(path, folder, sum string) (string, error) {
	from, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer func() { _ = from.Close() }()
	name := filepath.Join(folder, filepath.Base(path))
	to, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o700)
	if err != nil {
		return "", err
	}
	hash := sha256.New()
	if _, err = io.Copy(io.MultiWriter(to, hash), from); err != nil {
		_ = to.Close()
		return "", err
	}
	if err := to.Close(); err != nil {
		return "", err
	}
	if is := hex.EncodeToString(hash.Sum(nil)); is != sum {
		return "", fmt.Errorf("it is not the program that was admitted: its SHA-256 starts %s, not %s; admit it again if you know why", is[:12], sum[:min(12, len(sum))])
	}
	return name, nil
}

// asked is our end of go-plugin's.
type asked struct{ plugin.NetRPCUnsupportedPlugin }

// GRPCServer is the plugin's side.
func (asked) GRPCServer(*plugin.GRPCBroker, *grpc.Server) error {
	return errors.New("the host asks for checks and does not serve them")
}

// GRPCClient gives the calls of the contract.
func (asked) GRPCClient(_ context.Context, _ *plugin.GRPCBroker, conn *grpc.ClientConn) (any, error) {
	return pluginv1.NewChecksClient(conn), nil
}
