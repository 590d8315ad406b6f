// Package rules holds the bundled rule packs: rules/<pack>/<pack>.yaml.
// Their limits are data with a source each, never law: the car's own sheets and the
// regulations in force prevail.
package rules

import "embed"

// Files holds every bundled pack.
//
//go:embed */*.yaml
var Files embed.FS
