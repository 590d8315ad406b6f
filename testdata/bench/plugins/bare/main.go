// Bare is the least that can be a program for go-plugin: it serves nothing over gRPC.
package main

import (
	"context"
	"errors"

	"github.com/hashicorp/go-hclog"
	"github.com/hashicorp/go-plugin"
	"google.golang.org/grpc"
)

func main() {
	plugin.Serve(&plugin.ServeConfig{
		HandshakeConfig: plugin.HandshakeConfig{ProtocolVersion: 1, MagicCookieKey: "BARE", MagicCookieValue: "bare"},
		Plugins:         plugin.PluginSet{"nothing": nothing{}},
		GRPCServer:      plugin.DefaultGRPCServer,
		Logger:          hclog.NewNullLogger(),
	})
}

type nothing struct{ plugin.NetRPCUnsupportedPlugin }

func (nothing) GRPCServer(*plugin.GRPCBroker, *grpc.Server) error { return nil }

func (nothing) GRPCClient(context.Context, *plugin.GRPCBroker, *grpc.ClientConn) (any, error) {
	return nil, errors.New("not a host")
}
