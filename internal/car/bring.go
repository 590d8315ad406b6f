package car

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
)

// Bring copies into dir the records and kept setup sheets of another folder that are not here, each whole or not at
// all, and gives their paths relative to dir, sorted. Before anything is written it refuses
// records that have the name of one here and another content, naming all of them.
func Bring(dir string, from fs.FS) ([]string, error) {
	type record struct {
		folder, name string
		content      []byte
	}
	var coming []record
	var differ []string
	for _, folder := range append(sortedKeys(recordFolders), sheets) {
		entries, err := fs.ReadDir(from, folder)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		} else if err != nil {
			return nil, fmt.Errorf("cannot read %s there: %s", folder, reason(err))
		}
		for _, e := range entries {
			if e.IsDir() || strings.HasPrefix(e.Name(), ".") || path.Ext(e.Name()) != ".yaml" {
				continue
			}
			file := path.Join(folder, e.Name())
			content, err := fs.ReadFile(from, file)
			if err != nil {
				return nil, fmt.Errorf("cannot read %s there: %s", file, reason(err))
			}
			here, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(file)))
			switch {
			case errors.Is(err, fs.ErrNotExist):
				coming = append(coming, record{folder, e.Name(), content})
			case err != nil:
				return nil, fmt.Errorf("cannot read %s: %s", file, reason(err))
			case !bytes.Equal(plainEnds(here), plainEnds(content)):
				differ = append(differ, file)
			}
		}
	}
	if len(differ) > 0 && path.Dir(differ[0]) == sheets {
		return nil, fmt.Errorf("nothing was brought: two sheets were written under one revision, %s here and there; give one of them the next revision, and take the kept one away", strings.Join(differ, ", "))
	}
	if len(differ) > 0 {
		return nil, fmt.Errorf("nothing was brought: %s differs there; one of the two was edited after it was written: put it back and correct it by a new record", strings.Join(differ, ", "))
	}
	var brought []string
	for _, r := range coming {
		file := path.Join(r.folder, r.name)
		if err := put(dir, r.folder, r.name, r.content); err != nil {
			return brought, fmt.Errorf("%s was not brought: %w", file, err)
		}
		brought = append(brought, file)
	}
	return brought, nil
}
