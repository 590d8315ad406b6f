package main

import (
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/runlog"
)

// cacheSettings say where the columns of logs are kept between runs of the program.
type cacheSettings struct {
	Folder string // "" is the system's place for such things
	Size   int64  // bytes at most; 0 where nothing is said
}

// cacheSettingsOf reads {folder: ..., size: 4 GiB}. A folder is relative to the car's.
func cacheSettingsOf(said map[string]any, car string) (cacheSettings, error) {
	var out cacheSettings
	for _, key := range slices.Sorted(maps.Keys(said)) {
		text := fmt.Sprint(said[key])
		switch key {
		case "folder":
			if _, ok := said[key].(string); !ok || text == "" {
				return out, errors.New("the folder of cache is not text; write the name of a folder")
			}
			out.Folder = filepath.FromSlash(text)
			if !filepath.IsAbs(out.Folder) {
				out.Folder = filepath.Join(car, out.Folder)
			}
		case "size":
			size, ok := bytesIn(text)
			if !ok {
				return out, fmt.Errorf("the size of cache cannot be read: %q; write it as 500 MiB or 4 GiB", text)
			}
			out.Size = size
		default:
			return out, fmt.Errorf("no setting %q under cache; there are folder and size", key)
		}
	}
	return out, nil
}

// bytesIn reads a size such as 4 GiB.
func bytesIn(text string) (int64, bool) {
	number, unit, _ := strings.Cut(strings.TrimSpace(text), " ")
	shift, ok := map[string]int{"MiB": 20, "GiB": 30, "TiB": 40}[strings.TrimSpace(unit)]
	n, err := strconv.ParseInt(number, 10, 32)
	return n << shift, ok && err == nil && n > 0
}

// cacheFor is the cache a command uses, nil where the person wants none or the system has
// no place for one.
func (s settings) cacheFor(c *cobra.Command) *runlog.Cache {
	if flag := c.Flags().Lookup(noCache); flag != nil && flag.Value.String() == "true" {
		return nil
	}
	folder := s.Cache.Folder
	if folder == "" {
		of, err := os.UserCacheDir()
		if err != nil {
			return nil
		}
		folder = filepath.Join(of, "paintmark")
	}
	return runlog.NewCache(folder, s.Cache.Size)
}

const noCache = "no-cache"

func noCacheFlag(c *cobra.Command) {
	c.Flags().Bool(noCache, false, "read logs afresh, and keep nothing of them for the next time")
}

// tellCache says, on stderr only, why nothing of a log could be kept: no answer hangs on it.
func tellCache(c *cobra.Command, cache *runlog.Cache) {
	if err := cache.Trouble(); err != nil {
		fmt.Fprintf(c.ErrOrStderr(), "paintmark: the logs will have to be read again next time: %s; look at cache in paintmark.yaml\n", why(err))
	}
}
