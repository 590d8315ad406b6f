package pluginhost

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/hashicorp/go-hclog"
	"github.com/hashicorp/go-plugin"
	"google.golang.org/grpc"

	"github.com/paintmark/paintmark/plugins/sdk"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// The test program is its own plugin: started by a host it does what its first argument says.
func TestMain(m *testing.M) {
	switch {
	case sdk.Asked():
		misbehave(os.Args[1])
	case len(os.Args) > 1 && os.Args[1] == "host":
		beHost()
	}
	os.Exit(m.Run())
}

func good() *sdk.Plugin {
	check := func(id string, run func() []sdk.Result) *sdk.Check {
		return &sdk.Check{
			ID: "yard." + id, Item: "an item", System: "engine", Moments: []sdk.Moment{sdk.Run}, Do: "Look.", Source: sdk.Source{Kind: "practice"},
			Run: func(context.Context, *sdk.Evidence) ([]sdk.Result, error) { return run(), nil },
		}
	}
	return &sdk.Plugin{Name: "yard", Version: "1.0.0", Checks: []*sdk.Check{
		check("good", func() []sdk.Result { return []sdk.Result{{Outcome: sdk.Pass, Message: "fine"}} }),
		check("panics", func() []sdk.Result { panic("no oil") }),
		check("hangs", func() []sdk.Result { select {} }),
		check("floods", func() []sdk.Result {
			for range 20_000 {
				fmt.Fprintln(os.Stdout, strings.Repeat("out ", 20))
				fmt.Fprintln(os.Stderr, strings.Repeat("err ", 20))
			}
			return []sdk.Result{{Outcome: sdk.Pass, Message: "fine"}}
		}),
		check("number", func() []sdk.Result { return []sdk.Result{{Outcome: sdk.Pass, Message: strconv.Itoa(os.Getpid())}} }),
	}}
}

func misbehave(how string) {
	switch how {
	case "kit":
		sdk.Main(good())
	case "exits":
		fmt.Fprintln(os.Stderr, "no licence for this yard")
		os.Exit(3)
	case "silent":
		time.Sleep(time.Hour)
	case "chatters":
		_, _ = os.NewFile(1, "stdout").WriteString("hello\n") // past what the kit puts aside
		time.Sleep(time.Hour)
	}
	wire := pluginv1.Version
	if how == "newer" {
		wire++
	}
	os.Stdout = os.NewFile(1, "stdout")
	plugin.Serve(&plugin.ServeConfig{
		HandshakeConfig: plugin.HandshakeConfig{ProtocolVersion: uint(wire), MagicCookieKey: cookie, MagicCookieValue: cookieValue},
		Plugins:         plugin.PluginSet{"checks": &raw{how: how}},
		GRPCServer: func(o []grpc.ServerOption) *grpc.Server {
			if how == "hears one at a time" {
				o = append(o, grpc.MaxConcurrentStreams(3)) // go-plugin has two of its own
			}
			return grpc.NewServer(o...)
		},
		Logger: hclog.NewNullLogger(),
	})
	os.Exit(0)
}

// raw serves without the kit, and so without its care.
type raw struct {
	asked
	pluginv1.UnimplementedChecksServer
	how string
}

func (r *raw) GRPCServer(_ *plugin.GRPCBroker, to *grpc.Server) error {
	pluginv1.RegisterChecksServer(to, r)
	return nil
}

func (r *raw) Describe(context.Context, *pluginv1.DescribeRequest) (*pluginv1.Description, error) {
	if r.how == "hangs in Describe" {
		select {}
	}
	return &pluginv1.Description{Plugins: []*pluginv1.Plugin{{Name: "yard", Version: "first"}}}, nil
}

func (r *raw) Inspect(in *pluginv1.InspectRequest, to grpc.ServerStreamingServer[pluginv1.Finding]) error {
	res := &pluginv1.Result{Check: in.GetCheck(), Outcome: pluginv1.Outcome_OUTCOME_PASS, Message: "fine"}
	send := func() error {
		return to.Send(&pluginv1.Finding{Finding: &pluginv1.Finding_Result{Result: res}})
	}
	switch r.how {
	case "large":
		res.Message = strings.Repeat("x", 100<<20)
	case "trickles":
		for i := 0; ; i++ {
			res.Position = strconv.Itoa(i)
			if err := send(); err != nil {
				return err
			}
			time.Sleep(50 * time.Millisecond)
		}
	case "dies half way":
		_ = send()
		time.Sleep(50 * time.Millisecond)
		os.Exit(3)
	}
	return send()
}

// InspectEach answers as it should not, or is not served.
func (r *raw) InspectEach(with grpc.BidiStreamingServer[pluginv1.InspectRequest, pluginv1.Answer]) error {
	for {
		in, err := with.Recv()
		if err != nil {
			return err
		}
		answer := func() error {
			return with.Send(&pluginv1.Answer{Number: in.GetNumber(), Results: []*pluginv1.Result{{Check: in.GetCheck(), Outcome: pluginv1.Outcome_OUTCOME_PASS, Message: strconv.Itoa(int(in.GetNumber()))}}})
		}
		switch r.how {
		case "says it twice":
			_ = answer()
		case "hangs at the third":
			if in.GetNumber() == 3 {
				<-with.Context().Done()
				return nil
			}
		case "leaves after one":
			return answer()
		case "hears one at a time":
		default:
			return r.UnimplementedChecksServer.InspectEach(with)
		}
		if err := answer(); err != nil {
			return err
		}
	}
}

func (h *Host) self(t *testing.T, how string) *Program {
	t.Helper()
	p, err := h.Own()
	if err != nil {
		t.Fatal(err)
	}
	p.args = []string{how}
	return p
}

func ask(p *Program, id string) ([]*pluginv1.Result, error) {
	return p.Inspect(context.Background(), &pluginv1.Check{Id: id}, &pluginv1.InspectRequest{Check: id})
}

// TestHostile: whatever a plugin does comes out as a fault in words, and nothing of it is left running.
// These are the ways in which the host races with it; cmd/paintmark has all of them, in whole checks.
func TestHostile(t *testing.T) {
	for _, c := range []struct{ how, says string }{
		{"exits", "it ended before it served; it said: no licence for this yard"},
		{"silent", "it did not serve within 3s"},
		{"chatters", `it said "hello" where the handshake belongs`},
		{"newer", "it speaks version 2 of the plugin contract, this paintmark 1: update paintmark"},
		{"large", "its answer is over 8 MiB"},
		{"trickles", "no answer after 3s"},
		{"dies half way", "it ended before it answered"},
	} {
		t.Run(c.how, func(t *testing.T) {
			t.Parallel()
			h := New(Limits{Start: 3 * time.Second, Call: 3 * time.Second, Reply: 8 << 20})
			p := h.self(t, c.how)
			results, err := ask(p, "yard.good")
			if err == nil || err.Error() != c.says {
				t.Errorf("%v, %v; want the fault %q", results, err, c.says)
			}
			h.Close()
			if r := p.running; r != nil {
				<-r.process.ended
			}
		})
	}
}

// TestKit: a check that breaks or hangs hurts no other of its plugin.
func TestKit(t *testing.T) {
	h := New(Limits{Start: 20 * time.Second, Call: 2 * time.Second, Reply: 8 << 20})
	defer h.Close()
	p := h.self(t, "kit")
	for _, c := range []struct{ id, says string }{
		{"yard.hangs", "no answer after 2s"},
		{"yard.panics", "panicked: no oil at hostile_test.go:"},
		{"yard.unheard", "there is no check yard.unheard"},
	} {
		if _, err := ask(p, c.id); err == nil || !strings.HasPrefix(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.id, err, c.says)
		}
	}
	for _, id := range []string{"yard.floods", "yard.good"} {
		if results, err := ask(p, id); err != nil || len(results) != 1 || results[0].GetOutcome() != pluginv1.Outcome_OUTCOME_PASS {
			t.Errorf("%s: %v, %v; want a pass", id, results, err)
		}
	}
	if d, err := p.Describe(context.Background(), "0.1.0"); err != nil || len(d.GetPlugins()[0].GetChecks()) != 5 {
		t.Errorf("%v, %v", d, err)
	}
}

// TestConversation: what goes wrong in a conversation ends it, and what is asked next is asked in another.
func TestConversation(t *testing.T) {
	for how, says := range map[string][]string{
		// What it says a second time is never taken for the answer to what is asked next.
		"says it twice":      {"1", "it answered what it was not asked", "1", "it answered what it was not asked"},
		"hangs at the third": {"1", "2", "no answer after 500ms", "1", "2"},
		"leaves after one":   {"1", "it sent no result", "1"},
	} {
		t.Run(how, func(t *testing.T) {
			t.Parallel()
			h := New(Limits{Start: 20 * time.Second, Call: 500 * time.Millisecond, Reply: 8 << 20})
			defer h.Close()
			p := h.self(t, how)
			for i, want := range says {
				results, err := ask(p, "yard.good")
				got := ""
				if err != nil {
					got = err.Error()
				} else {
					got = results[0].GetMessage()
				}
				if got != want {
					t.Errorf("asked for the %d. time: %q, want %q", i+1, got, want)
				}
			}
		})
	}
}

// TestConversationsSideBySide: of many that ask at once each gets its own answer, and a broken check hurts no other.
func TestConversationsSideBySide(t *testing.T) {
	h := New(Limits{Start: 20 * time.Second, Call: 20 * time.Second, Reply: 8 << 20})
	defer h.Close()
	p := h.self(t, "kit")
	var all sync.WaitGroup
	for i := range 64 {
		all.Go(func() {
			switch results, err := ask(p, []string{"yard.good", "yard.panics", "yard.number", "yard.unheard"}[i%4]); i % 4 {
			case 0, 2:
				if err != nil || len(results) != 1 {
					t.Errorf("%v, %v", results, err)
				}
			default:
				if err == nil {
					t.Errorf("%v, want a fault", results)
				}
			}
		})
	}
	all.Wait()
	if n := len(p.running.free); n == 0 || n > 64 {
		t.Errorf("%d conversations", n)
	}
}

// TestHeardLate: who is not heard for as long as an answer may take is told so, and whoever is heard is not held up by it.
func TestHeardLate(t *testing.T) {
	h := New(Limits{Start: 20 * time.Second, Call: time.Second, Reply: 8 << 20})
	defer h.Close()
	p := h.self(t, "hears one at a time")
	if _, err := ask(p, "yard.good"); err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	var late, answered atomic.Int32
	for range 4 {
		all.Go(func() {
			for range 3 {
				switch _, err := ask(p, "yard.good"); {
				case err == nil:
					answered.Add(1)
				case err.Error() == "no answer after 1s":
					late.Add(1)
				default:
					t.Error(err)
				}
			}
		})
	}
	all.Wait()
	if late.Load() == 0 || answered.Load() < 3 {
		t.Errorf("%d were answered, %d came too late", answered.Load(), late.Load())
	}
	if _, err := ask(p, "yard.good"); err != nil {
		t.Error(err)
	}
}

func TestDescribeHostile(t *testing.T) {
	for how, says := range map[string]string{"hangs in Describe": "no answer after 2s", "no version": `it gives yard the version "first", not one like 1.2.0`} {
		h := New(Limits{Start: 20 * time.Second, Call: 2 * time.Second, Reply: 8 << 20})
		if _, err := h.self(t, how).Describe(context.Background(), ""); err == nil || err.Error() != says {
			t.Errorf("%s: %v, want %q", how, err, says)
		}
		h.Close()
	}
}

// beHost starts a plugin, says which process it is, and waits to be killed.
func beHost() {
	h := New(DefaultLimits)
	p, err := h.Own()
	if err != nil {
		os.Exit(4)
	}
	p.args = []string{"kit"}
	results, err := ask(p, "yard.number")
	if err != nil {
		fmt.Println(err)
		os.Exit(4)
	}
	fmt.Println(results[0].GetMessage())
	time.Sleep(time.Hour)
}

// TestHostKilled: no plugin outlives a host that is killed without a word.
func TestHostKilled(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("looks for the process in /proc")
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	host := exec.Command(self, "host")
	out, err := host.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := host.Start(); err != nil {
		t.Fatal(err)
	}
	line, _ := bufio.NewReader(out).ReadString('\n')
	_ = host.Process.Kill()
	_ = host.Wait()
	pid, err := strconv.Atoi(strings.TrimSpace(line))
	if err != nil {
		t.Fatalf("the host said %q", line)
	}
	for range 200 {
		state, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
		if err != nil || strings.Contains(string(state), ") Z ") {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Errorf("the plugin %d still runs", pid)
}
