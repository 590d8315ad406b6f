package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"
)

func noteCommand() *cobra.Command {
	var flags recordFlags
	var tool string
	c := &cobra.Command{
		Use:   "note ITEM VALUE... [DIR]",
		Short: "write down what was measured",
		Long: `Writes what was measured. One value is the item's; four are its corners, in the
order FL FR RL RR, and are echoed as they stand on the car; values with names
(value=0.29s supply=9.1bar) are the item's parts.`,
		Example: "paintmark note brakes.pad 18.2mm 18.0mm 15.1mm 15.3mm --by TB",
		Args:    cobra.MinimumNArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			dir, values := ".", typed(args[1:])
			if last := values[len(values)-1]; len(values) > 1 {
				if info, err := os.Stat(last); err == nil && info.IsDir() {
					dir, values = folder([]string{last}), values[:len(values)-1]
				}
			}
			value, err := noted(values)
			if err != nil {
				return err
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			b.draftNote(args[0], tool, value)
			if err := b.write(); err != nil {
				return err
			}
			if len(values) == 4 && !strings.Contains(values[0], "=") {
				b.say("%s\n  FL %-10s FR %s\n  RL %-10s RR %s", args[0], values[0], values[1], values[2], values[3])
			} else {
				b.say("%s %s", args[0], strings.Join(values, " "))
			}
			return nil
		},
	}
	flags.add(c, false)
	c.Flags().StringVar(&tool, "tool", "", "`TOOL` it was measured with, as in tools.yaml")
	return c
}

// noted writes the values of an item as YAML.
func noted(values []string) (string, error) {
	named := strings.Contains(values[0], "=")
	if !named && len(values) == 1 {
		return values[0], nil
	}
	if !named && len(values) != 4 {
		return "", fmt.Errorf("%d values are neither one nor four; write one, or those of FL FR RL RR, a value and its unit in one word: 18.2mm", len(values))
	}
	var fields []string
	for i, v := range values {
		key := [...]string{"FL", "FR", "RL", "RR"}[min(i, 3)]
		if k, rest, ok := strings.Cut(v, "="); ok != named {
			return "", errors.New("some values have names and some have none; name all of them or none")
		} else if ok {
			key, v = k, rest
		}
		fields = append(fields, key+": "+v)
	}
	return "{" + strings.Join(fields, ", ") + "}", nil
}

// draftNote drafts a measured record of one item.
func (b *bench) draftNote(item, tool, value string) {
	fields := ""
	if tool != "" {
		fields = "tool: " + yamlText(tool) + "\n"
	}
	names := strings.Split(item, ".")
	b.draftBody("measured", item, fields+fmt.Sprintf("measured: {%s: %s%s\n", strings.Join(names, ": {"), value, strings.Repeat("}", len(names))))
}
