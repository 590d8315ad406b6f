//go:build !unix

package runlog

import "os"

// mapFile reads a file: what is mapped could not be moved over or taken away here.
func mapFile(path string) ([]byte, error) { return os.ReadFile(path) }

func unmap([]byte) error { return nil }

// mapText maps nothing: the text is read a block at a time.
func mapText(*os.File, int64) []byte { return nil }

func (t *text) unmap() {}
