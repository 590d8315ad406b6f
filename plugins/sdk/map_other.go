//go:build !unix

package sdk

import "os"

// mapFile reads a file where it cannot be mapped.
func mapFile(path string) ([]byte, error) { return os.ReadFile(path) }
