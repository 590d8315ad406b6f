package sdk

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/hashicorp/go-hclog"
	"github.com/hashicorp/go-plugin"
	"google.golang.org/grpc"

	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// The handshake: a program that does not find the cookie in its environment was not started
// by Paintmark. It is no secret.
const (
	cookie      = "PAINTMARK_PLUGIN"
	cookieValue = "4d7c1d0f"
)

// requestLimit is how large a call of the host may be.
const requestLimit = 64 << 20

// spoken is where the handshake goes. Whatever else writes to the standard output, before
// Main or after it, goes to the standard error: a stray line would break the handshake.
var spoken = os.Stdout

func init() {
	if Asked() {
		os.Stdout = os.Stderr
	}
}

// Asked says whether this process was started to serve checks.
func Asked() bool { return os.Getenv(cookie) == cookieValue }

// Main serves the checks of a plugin until the host is done with it, and does not return. It
// ends with the host, however the host ends.
func Main(plugins ...*Plugin) {
	if !Asked() {
		fmt.Fprintln(os.Stderr, "this is a plugin of Paintmark and does nothing by itself; have it looked at with: paintmark plugin admit FILE")
		os.Exit(1)
	}
	for _, p := range plugins {
		if err := p.Validate(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	go func() { // the host holds the other end of the standard input; it closes when the host is gone
		_, _ = io.Copy(io.Discard, os.Stdin)
		os.Exit(0)
	}()
	os.Stdout = spoken
	plugin.Serve(&plugin.ServeConfig{
		HandshakeConfig:  plugin.HandshakeConfig{ProtocolVersion: pluginv1.Version, MagicCookieKey: cookie, MagicCookieValue: cookieValue},
		VersionedPlugins: map[int]plugin.PluginSet{pluginv1.Version: {"checks": &served{server: &server{plugins: plugins}}}},
		GRPCServer: func(o []grpc.ServerOption) *grpc.Server {
			return grpc.NewServer(append(o, grpc.MaxRecvMsgSize(requestLimit))...)
		},
		Logger: hclog.NewNullLogger(),
	})
	os.Exit(0)
}

// served puts the server into go-plugin's hands.
type served struct {
	plugin.NetRPCUnsupportedPlugin
	server *server
}

// GRPCServer is what go-plugin calls to have the checks served.
func (s *served) GRPCServer(_ *plugin.GRPCBroker, to *grpc.Server) error {
	pluginv1.RegisterChecksServer(to, s.server)
	return nil
}

// GRPCClient is the host's side, which is not in the kit.
func (*served) GRPCClient(context.Context, *plugin.GRPCBroker, *grpc.ClientConn) (any, error) {
	return nil, errors.New("the kit serves checks and does not ask for them")
}

// server answers the host's calls.
type server struct {
	pluginv1.UnimplementedChecksServer
	plugins []*Plugin
}

// Describe says what there is to check.
func (s *server) Describe(context.Context, *pluginv1.DescribeRequest) (*pluginv1.Description, error) {
	return Describe(s.plugins...), nil
}

// Inspect runs one check. What broke it is sent as its fault, so that a broken check is never
// taken for a broken connection.
func (s *server) Inspect(in *pluginv1.InspectRequest, to grpc.ServerStreamingServer[pluginv1.Finding]) error {
	results, err := s.inspect(to.Context(), in)
	if err != nil {
		return to.Send(&pluginv1.Finding{Finding: &pluginv1.Finding_Fault{Fault: &pluginv1.Fault{What: err.Error()}}})
	}
	for i := range results {
		if err := to.Send(&pluginv1.Finding{Finding: &pluginv1.Finding_Result{Result: results[i].wire(in.GetCheck())}}); err != nil {
			return err
		}
	}
	return nil
}

// InspectEach runs one check after another, and sends all results of each at once.
func (s *server) InspectEach(with grpc.BidiStreamingServer[pluginv1.InspectRequest, pluginv1.Answer]) error {
	for {
		in, err := with.Recv()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		out := &pluginv1.Answer{Number: in.GetNumber()}
		results, err := s.inspect(with.Context(), in)
		if err != nil {
			out.Fault = &pluginv1.Fault{What: err.Error()}
		}
		for i := range results {
			out.Results = append(out.Results, results[i].wire(in.GetCheck()))
		}
		if err := with.Send(out); err != nil {
			return err
		}
	}
}

func (s *server) inspect(ctx context.Context, in *pluginv1.InspectRequest) ([]Result, error) {
	for _, p := range s.plugins {
		for _, c := range p.Checks {
			if c.ID != in.GetCheck() {
				continue
			}
			g, err := given(in)
			if err != nil {
				return nil, err
			}
			return c.Inspect(ctx, g)
		}
	}
	return nil, fmt.Errorf("there is no check %s", in.GetCheck())
}
