package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/units"
)

func weatherCommand() *cobra.Command {
	var flags recordFlags
	var instrument string
	var sure bool
	c := &cobra.Command{
		Use:   "weather VALUE... [DIR]",
		Short: "write down the weather as it is here and now",
		Long: `Writes what was seen of the weather. Values find their own place: dry, damp or wet is the
road, a pressure is the barometer as it reads here, a share the humidity, a speed the
wind, the first temperature the air; rain and "no rain" say so. The others have names:
road=10°C. The newest observation counts as a whole: what it leaves out is unknown.`,
		Example: "paintmark weather wet rain 9°C road=10°C 975hPa 88% --by SQ --instrument BR-1",
		RunE: func(c *cobra.Command, args []string) error {
			words, dir := carFolderLast(args)
			if len(words) == 0 {
				return errors.New("weather wants what was seen; see paintmark weather --help")
			}
			b, err := openBench(c, dir, flags)
			if err != nil {
				return err
			}
			return b.noteWeather(joined(typed(words)), instrument, sure)
		},
	}
	c.Flags().StringVar(&instrument, "instrument", "", "`TOOL` it was read with, as in tools.yaml")
	c.Flags().BoolVar(&sure, "sure", false, "the value was looked at twice and is so")
	flags.add(c, false)
	return c
}

func (b *bench) noteWeather(words []string, instrument string, sure bool) error {
	last := b.folder.Roots(b.when)["weather"]
	seen := map[string]string{}
	if instrument != "" {
		seen["instrument"] = instrument
	}
	for _, w := range words {
		key, value, err := weatherWord(last.Type, w)
		if err != nil {
			return err
		}
		if seen[key] != "" {
			return fmt.Errorf("%s is said twice, %s and %s; name what each is: %s=%s", key, seen[key], value, key, seen[key])
		}
		seen[key] = value
	}
	var fields []pair
	var values []readValue
	var missing, lines []string
	for _, key := range last.Type.Order {
		value := seen[key]
		if value == "" {
			if key != "instrument" {
				missing = append(missing, strings.ReplaceAll(key, "_", " "))
			}
			continue
		}
		value = yamlValue(last.Type.Fields[key], value)
		fields = append(fields, pair{key, value})
		if key == "station_pressure" || key == "air" || key == "road" {
			values = append(values, readValue{path: key, text: value, last: last.Get(key)})
		}
		line := fmt.Sprintf("  %-18s %s", strings.ReplaceAll(key, "_", " "), value)
		if was := textOf(last.Get(key)); was != "" && was != value {
			line += ", was " + was
		}
		lines = append(lines, line)
	}
	if err := b.ask(values, sure); err != nil {
		return err
	}
	b.draft("weather", "weather", "weather", fields...)
	if err := b.write(); err != nil {
		return err
	}
	for _, l := range lines {
		b.say("%s", l)
	}
	if len(missing) > 0 {
		b.say("Unknown from now on: %s.", strings.Join(missing, ", "))
	}
	return nil
}

// weatherWord finds what a word says of the weather.
func weatherWord(t *schema.Type, word string) (key, value string, err error) {
	if key, value, ok := strings.Cut(word, "="); ok {
		if t.Fields[key] == nil {
			return "", "", fmt.Errorf("weather has no %q; %s", key, nearestOf(key, "it has", t.Order))
		}
		return key, value, nil
	}
	switch word {
	case "rain":
		return "rain", "true", nil
	case "no rain":
		return "rain", "false", nil
	}
	if slices.Contains(t.Fields["road_state"].Enum, word) {
		return "road_state", word, nil
	}
	q, err := units.Parse(word)
	if err != nil {
		return "", "", fmt.Errorf("%q says nothing of the weather; write %s, rain, no rain, or a name and its value: road=10°C", word, strings.Join(t.Fields["road_state"].Enum, ", "))
	}
	for _, key := range []string{"air", "station_pressure", "humidity", "wind"} {
		if _, err := units.Check(q, t.Fields[key].Unit); err == nil && q.Unit != "" {
			return key, word, nil
		}
	}
	return "", "", fmt.Errorf("%s is nothing that weather has; %s", word, "it has "+strings.Join(t.Order, ", "))
}
