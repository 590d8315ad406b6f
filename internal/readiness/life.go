package readiness

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/life"
	"github.com/paintmark/paintmark/internal/pack"
	"github.com/paintmark/paintmark/internal/source"
)

// Life works out the life sheet of a car folder as rules read it: with the logs at hand and
// the trends of every measure that run sheets post. What is wrong with a pack is for a look
// at the car to tell; its measures have no trend here.
func Life(ctx context.Context, dir string, folder *car.Folder, options Options) (*life.Sheet, source.Faults) {
	return withPacks(dir, folder, nil).lifeSheet(ctx, options.AsOf, options.Logs)
}

// lifeSheet is the life sheet at a time with all that rules read of it.
func (o *opened) lifeSheet(ctx context.Context, at time.Time, logs string) (*life.Sheet, source.Faults) {
	sheet, faults := life.Of(o.folder, at)
	o.tellLogs(sheet, logs)
	return sheet, append(faults, sheet.Follow(o.watches(ctx, sheet, at))...)
}

// watches are the measures that run sheets post, with the limits the rules have now.
func (o *opened) watches(ctx context.Context, sheet *life.Sheet, at time.Time) []life.Watch {
	posted := sheet.Posted()
	if len(posted) == 0 {
		return nil
	}
	roots := o.folder.Roots(at)
	roots["life"] = sheet.Value
	ev := &pack.Evidence{Roots: roots}
	var out []life.Watch
	for _, p := range o.packs {
		for _, r := range p.Rules {
			for _, item := range r.Edges(ctx, ev) {
				if !slices.Contains(posted, item.Name) {
					continue
				}
				w := life.Watch{Name: item.Name, Item: r.Item, Unit: r.Unit, Foreseen: r.Reads([]string{"life"})}
				if r.Unit == "1" {
					w.Unit = ""
				}
				for _, e := range item.Edges {
					w.Edges = append(w.Edges, life.Edge{Value: e.Value, Below: e.Below, Means: string(e.Outcome)})
				}
				out = append(out, w)
			}
		}
	}
	return out
}

// tellLogs tells the life sheet which logs are at hand.
func (o *opened) tellLogs(sheet *life.Sheet, logs string) {
	if logs == "" {
		return
	}
	dir := logs
	if !filepath.IsAbs(dir) {
		dir = filepath.Join(o.dir, filepath.FromSlash(dir))
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
	sheet.LogsAtHand(o.folder, files)
}
