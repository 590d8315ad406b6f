// Package schemas holds the JSON Schemas of a car's documents and records.
// They are the one place where fields are named: editors complete from them,
// files are validated against them, and rules are typed by them.
package schemas

import "embed"

// Files holds <name>.schema.json for every document and kind of record.
//
//go:embed *.schema.json
var Files embed.FS
