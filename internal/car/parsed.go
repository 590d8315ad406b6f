package car

import (
	"slices"
	"sync"

	"github.com/paintmark/paintmark/internal/source"
)

// parsed are files as they were read last, by their path: a command that writes reads the folder before and after, and most
// of it is as it was. What is in a tree is never changed, so that all who read the same bytes may have the same.
var parsed sync.Map

type parsedFile struct {
	digest string
	node   *source.Node
	faults source.Faults
}

// parse is source.ParseYAML of bytes with a digest, done anew where the file is not as it was.
func parse(path, digest string, data []byte) (*source.Node, source.Faults) {
	if last, ok := parsed.Load(path); ok {
		if f := last.(*parsedFile); f.digest == digest {
			return f.node, slices.Clone(f.faults)
		}
	}
	node, faults := source.ParseYAML(path, data)
	parsed.Store(path, &parsedFile{digest, node, faults})
	return node, slices.Clone(faults)
}
