// Package cars holds the invented cars of the demonstration and the tests.
package cars

import "embed"

// Folders are the car folders, by name.
//
//go:embed tern-3 fallow-9
var Folders embed.FS
