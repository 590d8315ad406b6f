package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/viper"
)

// settingsFile holds how the program behaves, never anything about the car.
const settingsFile = "paintmark.yaml"

// settings are the contents of paintmark.yaml. Every setting may be left out.
type settings struct {
	// Logs is the folder raw logs are kept in, outside git; relative to the car folder.
	Logs string
	// Units is the unit people speak in, by what is measured: {pressure: bar}.
	Units map[string]string
	// Cache is where the columns of logs are kept from one run of the program to the next.
	Cache cacheSettings
}

// readSettings reads the settings of a car folder; a folder without the file has the defaults.
func readSettings(car string) (settings, error) {
	s := settings{Logs: "logs"}
	file := filepath.Join(car, settingsFile)
	text, err := os.ReadFile(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return s, nil
	case err != nil:
		return s, fmt.Errorf("cannot be read: %s", why(err))
	}
	v := viper.New()
	v.SetConfigType("yaml")
	if err := v.ReadConfig(bytes.NewReader(text)); err != nil {
		return s, errors.New(strings.TrimPrefix(strings.Join(strings.Fields(err.Error()), " "), "While parsing config: "))
	}
	known := []string{"cache", "logs", "units"}
	for _, key := range slices.Sorted(maps.Keys(v.AllSettings())) {
		if !slices.Contains(known, key) {
			return s, fmt.Errorf("no setting %q; there are %s", key, strings.Join(known, ", "))
		}
	}
	if v.IsSet("logs") {
		folder, ok := v.Get("logs").(string)
		if !ok {
			return s, errors.New("logs is not text; write the name of a folder")
		}
		s.Logs = folder
	}
	if v.IsSet("cache") {
		cache, ok := v.Get("cache").(map[string]any)
		if !ok {
			return s, errors.New("cache is not a map; write {folder: /var/cache/paintmark, size: 4 GiB}")
		}
		if s.Cache, err = cacheSettingsOf(cache, car); err != nil {
			return s, err
		}
	}
	if v.IsSet("units") {
		units, ok := v.Get("units").(map[string]any)
		if !ok {
			return s, errors.New("units is not a map; write {pressure: bar}")
		}
		s.Units = map[string]string{}
		for quantity, unit := range units {
			text, ok := unit.(string)
			if !ok {
				return s, fmt.Errorf("the unit of %s is not text; quote it", quantity)
			}
			s.Units[quantity] = text
		}
	}
	return s, nil
}
