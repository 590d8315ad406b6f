// Package pluginv1 is the contract between Paintmark and a plugin, version 1, generated from
// plugin.proto.
package pluginv1

// Version is the version of the contract, said in the handshake.
const Version = 1

//go:generate sh generate.sh
