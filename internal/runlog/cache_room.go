package runlog

import (
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// abandoned is how old an unfinished file must be to be taken for one whose
// writer died.
const abandoned = time.Hour

// used marks a file as used just now.
func used(path string) error {
	now := time.Now()
	return os.Chtimes(path, now, now)
}

// makeRoom takes away what was used longest ago until the cache is within its
// limit. What lies in keep stays: it is in use just now.
func (c *Cache) makeRoom(keep string) error {
	type entry struct {
		path string
		size int64
		used time.Time
	}
	var entries []entry
	total := int64(0)
	now := time.Now()
	err := filepath.WalkDir(c.folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return nil //nolint:nilerr // another process may have taken it away
		}
		info, err := d.Info()
		if err != nil {
			return nil //nolint:nilerr // as above
		}
		if strings.HasPrefix(d.Name(), unfinished) {
			if now.Sub(info.ModTime()) > abandoned {
				_ = os.Remove(path)
			}
			return nil
		}
		entries = append(entries, entry{path, info.Size(), info.ModTime()})
		total += info.Size()
		return nil
	})
	if err != nil || total <= c.limit {
		return err
	}
	slices.SortFunc(entries, func(a, b entry) int {
		if n := a.used.Compare(b.used); n != 0 {
			return n
		}
		return strings.Compare(a.path, b.path)
	})
	for _, e := range entries {
		if total <= c.limit {
			break
		}
		if filepath.Dir(e.path) == keep {
			continue
		}
		if os.Remove(e.path) == nil {
			total -= e.size
			_ = os.Remove(filepath.Dir(e.path)) // where it was the last in it
		}
	}
	return nil
}
