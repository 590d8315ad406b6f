package car

import (
	"fmt"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// checkRegister refuses what would let a limit or an inspection of the register fall due
// unseen: a value may be unknown, but not which there are.
func (f *Folder) checkRegister(faults *source.Faults) {
	for _, p := range items(f.list("parts")) {
		if saidUnknown(p) {
			faults.Add(p.Pos, "a part of which nothing is known", "write its serial, or take it out")
			continue
		}
		serial := text(p.Fields["serial"])
		refuse := func(v *schema.Value, what string) {
			if saidUnknown(v) {
				faults.Add(v.Pos, fmt.Sprintf("%s: what stands under %s is unknown, and would fall due unseen", serial, what), "write it, or leave the key out where there is none")
			}
		}
		for _, list := range []string{"limits", "inspect", "children"} {
			refuse(p.Fields[list], list)
			for _, v := range items(p.Fields[list]) {
				refuse(v, list)
				if v.Unknown {
					continue
				}
				for _, key := range []string{"meter", "what", "every", "after"} {
					refuse(v.Fields[key], key)
					for _, a := range items(v.Fields[key]) {
						refuse(a, key)
					}
				}
			}
		}
	}
}

// saidUnknown says that somebody wrote the word; what was refused already is unknown too.
func saidUnknown(v *schema.Value) bool { return v != nil && v.Unknown && v.Text == "unknown" }
