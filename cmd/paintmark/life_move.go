package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/life"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

func lifeSend() *cobra.Command {
	var flags recordFlags
	var to string
	c := &cobra.Command{
		Use:   "send SERIAL [DIR]",
		Short: "a part leaves for another car, with a statement of its life",
		Long: `Writes that a part left this car, with its life back to birth. The file it
writes is the statement that goes with the part; the other car takes it in with
life receive.`,
		Example: "paintmark life send GS-04 --to \"Tern 2\" --by PO",
		Args:    atMostOneFolder("life send", "a serial"),
		RunE: func(c *cobra.Command, args []string) error {
			if to == "" {
				return fmt.Errorf("say where it goes: --to CAR")
			}
			return aboutPart(c, args, flags, func(b *bench, p *life.Part) {
				as := "counted"
				if p.Estimated {
					as = "estimated"
				}
				used, band, since := statement(p)
				b.record("left", p.Serial+" left", pair{"serial", yamlText(p.Serial)}, pair{"kind", yamlText(p.Kind)}, pair{"to", yamlText(to)},
					pair{"car", yamlText(chassis(b))}, pair{"as", as}, pair{"used", used}, pair{"band", band}, pair{"since_overhaul", since})
			}, "%s left this car. Its statement is the file above: give it with the part.")
		},
	}
	c.Flags().StringVar(&to, "to", "", "the `CAR` or shelf it goes to")
	flags.add(c, false)
	return c
}

func chassis(b *bench) string {
	if v := b.folder.Roots(b.when)["car"].Get("chassis"); !v.Unknown {
		return v.Text
	}
	return ""
}

// statement writes a part's life back to birth: the middle of what is uncertain, with a band.
func statement(p *life.Part) (used, band, since string) {
	var u, b, o []string
	for _, t := range p.Totals {
		unit := ""
		if t.Meter.Unit != "1" && t.Meter.Unit != "" {
			unit = " " + t.Meter.Unit
		}
		write := func(a life.Amount) string {
			if math.IsInf(a.High, 1) {
				return t.Meter.Name + ": unknown"
			}
			return t.Meter.Name + ": " + life.Exact((a.Low+a.High)/2) + unit
		}
		u = append(u, write(t.Used))
		if w := t.Used.High - t.Used.Low; w > 0 && !math.IsInf(w, 1) {
			b = append(b, t.Meter.Name+": "+life.Exact(w/2)+unit)
		}
		if t.SinceOverhaul != t.Used {
			o = append(o, write(t.SinceOverhaul))
		}
	}
	return flow(u), flow(b), flow(o)
}

func flow(fields []string) string {
	if len(fields) == 0 {
		return ""
	}
	return "{" + strings.Join(fields, ", ") + "}"
}

func lifeReceive() *cobra.Command {
	var flags recordFlags
	c := &cobra.Command{
		Use:   "receive FILE [DIR]",
		Short: "a part comes from another car, with its statement",
		Long: `Takes in the statement that came with a part from another car: its life back to
birth counts on from there. The part must be in parts.yaml, with its limits.`,
		Example: "paintmark life receive ../tern-2/fitted/20260510T080000Z-PO-gs-07-left-1a2b3c.yaml --by PO",
		Args:    atMostOneFolder("life receive", "a statement"),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := openBench(c, folder(args[1:]), flags)
			if err != nil {
				return err
			}
			left, err := readStatement(args[0])
			if err != nil {
				return err
			}
			serial := left.Get("serial").Text
			if _, err := b.part(serial); err != nil {
				return err
			}
			fields := []pair{{"serial", yamlText(serial)}}
			for _, k := range []string{"kind", "car"} {
				fields = append(fields, pair{k, yamlText(left.Get(k).Text)})
			}
			fields = append(fields, pair{"statement", yamlText(filepath.Base(args[0]))}, pair{"as", left.Get("as").Text})
			for _, k := range []string{"used", "band", "since_overhaul"} {
				var inside []string
				if v := left.Fields[k]; v != nil {
					for _, m := range v.Keys {
						inside = append(inside, m+": "+v.Fields[m].Text)
					}
				}
				fields = append(fields, pair{k, flow(inside)})
			}
			b.record("received", serial+" received", fields...)
			if err := b.write(); err != nil {
				return err
			}
			b.arrived(serial)
			return nil
		},
	}
	flags.add(c, false)
	return c
}

// readStatement reads the record of a part that left another car.
func readStatement(file string) (*schema.Value, error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be read: %s; name the file that came with the part", file, why(err))
	}
	t, err := schema.Bundled.Document("fitted")
	if err != nil {
		return nil, err
	}
	node, faults := source.ParseYAML(filepath.ToSlash(file), data)
	if err := faults.Err(); err != nil {
		return nil, err
	}
	v, faults := schema.Read(node, t)
	if err := faults.Err(); err != nil {
		return nil, err
	}
	left := v.Fields["left"]
	if left == nil {
		return nil, fmt.Errorf("%s says of no part that it left a car; name the file that came with the part", file)
	}
	return left, nil
}
