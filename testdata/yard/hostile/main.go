// Hostile is a plugin that breaks the contract. How it does so stands behind the last
// "\nhow: " of its own file, so that one build serves for every way: each is other bytes,
// admitted by itself.
package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log"
	"math"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/hashicorp/go-hclog"
	"github.com/hashicorp/go-plugin"
	"google.golang.org/grpc"
	"google.golang.org/grpc/encoding"
	_ "google.golang.org/grpc/encoding/proto" // what garbled is made of
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"

	"github.com/paintmark/paintmark/plugins/sdk"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

func main() {
	if !sdk.Asked() {
		time.Sleep(time.Hour) // a child of ours
	}
	how, err := how()
	if err != nil {
		log.Fatal(err)
	}
	how, converses := strings.CutSuffix(how, " in a conversation")
	stdout := os.NewFile(1, "stdout") // past what the kit puts aside
	version := pluginv1.Version
	switch how {
	case "panics", "floods and answers", "leaves a child":
		sdk.Main(kit(how))
	case "exits at start":
		fmt.Fprintln(os.Stderr, "no licence for this yard")
		os.Exit(3)
	case "never serves":
		time.Sleep(time.Hour)
	case "floods at start":
		go flood(os.Stderr)
		flood(stdout)
	case "speaks a newer contract":
		version++
	case "speaks an older contract":
		version--
	}
	os.Stdout = stdout
	plugin.Serve(&plugin.ServeConfig{
		HandshakeConfig: plugin.HandshakeConfig{ProtocolVersion: uint(version), MagicCookieKey: "PAINTMARK_PLUGIN", MagicCookieValue: os.Getenv("PAINTMARK_PLUGIN")},
		Plugins:         plugin.PluginSet{"checks": &raw{how: how, converses: converses}},
		GRPCServer: func(o []grpc.ServerOption) *grpc.Server {
			if how == "sends garbage" {
				o = append(o, grpc.ForceServerCodecV2(garbled{encoding.GetCodecV2("proto")}))
			}
			return grpc.NewServer(o...)
		},
		Logger: hclog.NewNullLogger(),
	})
}

// how is the way this file is to behave.
func how() (string, error) {
	path, err := os.Executable()
	if err != nil {
		return "", err
	}
	file, err := os.ReadFile(path)
	if err != nil {
		return "", err
	}
	const mark = "\nhow: "
	at := bytes.LastIndex(file, []byte(mark))
	if at < 0 {
		return "", errors.New("this file does not say how to behave")
	}
	return string(file[at+len(mark):]), nil
}

func flood(to *os.File) {
	line := []byte(strings.Repeat("noise ", 20) + "\n")
	for {
		if _, err := to.Write(line); err != nil {
			time.Sleep(time.Hour)
		}
	}
}

// kit is a plugin made with the kit, which takes care of most.
func kit(how string) *sdk.Plugin {
	return &sdk.Plugin{Name: "hostile", Version: "1.0.0", Checks: []*sdk.Check{{
		ID: "hostile.item", Item: "An item", System: "engine", Moments: []sdk.Moment{sdk.Run}, Do: "Look.", Source: sdk.Source{Kind: "practice"},
		Run: func(context.Context, *sdk.Evidence) ([]sdk.Result, error) {
			switch how {
			case "panics":
				panic("no oil")
			case "floods and answers":
				for range 200_000 {
					fmt.Fprintln(os.Stdout, strings.Repeat("out ", 20))
					fmt.Fprintln(os.Stderr, strings.Repeat("err ", 20))
				}
			case "leaves a child":
				if err := child(); err != nil {
					return nil, err
				}
			}
			return sdk.One(sdk.Result{Outcome: sdk.Pass, Message: "fine"})
		},
	}}}
}

// child starts this program once more, to be left behind.
func child() error {
	path, err := os.Executable()
	if err != nil {
		return err
	}
	c := exec.Command(path)
	c.Env = []string{}
	return c.Start()
}

// raw serves without the kit, and so without its care.
type raw struct {
	plugin.NetRPCUnsupportedPlugin
	pluginv1.UnimplementedChecksServer
	how       string
	converses bool // it serves InspectEach, too
}

// GRPCServer is what go-plugin calls to have the checks served.
func (r *raw) GRPCServer(_ *plugin.GRPCBroker, to *grpc.Server) error {
	pluginv1.RegisterChecksServer(to, r)
	return nil
}

// GRPCClient is the host's side, which is not here.
func (*raw) GRPCClient(context.Context, *plugin.GRPCBroker, *grpc.ClientConn) (any, error) {
	return nil, errors.New("not a host")
}

// Describe describes the one check, or misbehaves.
func (r *raw) Describe(context.Context, *pluginv1.DescribeRequest) (*pluginv1.Description, error) {
	d := sdk.Describe(kit(""))
	switch r.how {
	case "hangs in Describe":
		select {}
	case "describes nothing of sense":
		d.Plugins[0].Version = "first"
	}
	return d, nil
}

// Inspect answers as it should not.
func (r *raw) Inspect(in *pluginv1.InspectRequest, to grpc.ServerStreamingServer[pluginv1.Finding]) error {
	if r.how == "sends an empty finding" {
		return to.Send(&pluginv1.Finding{})
	}
	return r.answer(in, func(res *pluginv1.Result) error {
		return to.Send(&pluginv1.Finding{Finding: &pluginv1.Finding_Result{Result: res}})
	})
}

// InspectEach is not served, or answers as it should not.
func (r *raw) InspectEach(with grpc.BidiStreamingServer[pluginv1.InspectRequest, pluginv1.Answer]) error {
	if !r.converses {
		return r.UnimplementedChecksServer.InspectEach(with)
	}
	in, err := with.Recv()
	if err != nil {
		return err
	}
	a := &pluginv1.Answer{Number: in.GetNumber()}
	if err := r.answer(in, func(res *pluginv1.Result) error {
		a.Results = append(a.Results, proto.CloneOf(res))
		return nil
	}); err != nil {
		return err
	}
	switch r.how {
	case "sends nothing":
		return nil
	case "answers another question":
		a.Number++
	}
	return with.Send(a)
}

// answer sends results that it should not.
func (r *raw) answer(in *pluginv1.InspectRequest, to func(*pluginv1.Result) error) error {
	res := &pluginv1.Result{Check: in.GetCheck(), Outcome: pluginv1.Outcome_OUTCOME_PASS, Message: "fine"}
	send := func() error { return to(res) }
	switch r.how {
	case "hangs in Inspect":
		select {}
	case "floods when asked":
		go flood(os.Stdout)
		flood(os.Stderr)
	case "replies with 100 MB":
		res.Message = strings.Repeat("x", 100<<20)
	case "replies with too many":
		for i := range 1000 {
			res.Position, res.Message = strconv.Itoa(i), strings.Repeat("x", 64<<10)
			if err := send(); err != nil {
				return err
			}
		}
	case "trickles":
		for i := 0; ; i++ {
			res.Position = strconv.Itoa(i)
			if err := send(); err != nil {
				return err
			}
			time.Sleep(50 * time.Millisecond)
		}
	case "is killed half way":
		_ = send()
		time.Sleep(50 * time.Millisecond)
		_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
	case "answers another check":
		res.Check = "brakes.pads"
	case "has no outcome":
		res.Outcome = 0
	case "measures NaN":
		res.Measured = &pluginv1.Measured{Low: math.NaN(), High: 1}
	case "says nothing":
		res.Message = ""
	case "passes what is outside":
		res.Measured, res.Limit = &pluginv1.Measured{Low: 1, High: 1}, &pluginv1.Bound{Low: 2, High: math.Inf(1)}
	case "calls a sensor dead":
		res.Dead = []*pluginv1.Span{{Channel: "rpm", To: 1}}
	case "answers twice":
		_ = send()
	case "sends nothing", "sends an empty answer":
		return nil
	}
	return send()
}

// garbled is the codec of a plugin whose findings and answers are no messages.
type garbled struct{ encoding.CodecV2 }

// Marshal gives bytes that are no message, for these alone.
func (g garbled) Marshal(v any) (mem.BufferSlice, error) {
	switch v.(type) {
	case *pluginv1.Finding, *pluginv1.Answer:
		return mem.BufferSlice{mem.SliceBuffer("\xffnothing of the sort")}, nil
	}
	return g.CodecV2.Marshal(v)
}
