package readiness

import (
	"os"
	"path/filepath"

	"github.com/paintmark/paintmark/internal/life"
)

// tellLogs tells the life sheet which logs are at hand.
func (c *Car) tellLogs(sheet *life.Sheet) {
	if c.options.Logs == "" {
		return
	}
	dir := c.options.Logs
	if !filepath.IsAbs(dir) {
		dir = filepath.Join(c.dir, filepath.FromSlash(dir))
	}
	entries, err := os.ReadDir(dir) // sorted
	if err != nil {
		return // the logs are on another computer
	}
	var files []string
	for _, e := range entries {
		if !e.IsDir() {
			files = append(files, e.Name())
		}
	}
	sheet.LogsAtHand(c.folder, files)
}
