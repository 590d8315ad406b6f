package main

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

func TestSettings(t *testing.T) {
	for _, c := range []struct {
		text, fault string
		want        settings
	}{
		{"logs: ../raw\nunits: {pressure: psi}\n", "", settings{Logs: "../raw", Units: map[string]string{"pressure": "psi"}}},
		{"", "", settings{Logs: "logs"}},
		{"log: x\n", `no setting "log"; there are cache, logs, units`, settings{}},
		{"logs: [a]\n", "logs is not text; write the name of a folder", settings{}},
		{"units: psi\n", "units is not a map; write {pressure: bar}", settings{}},
		{"units: {pressure: 1}\n", "the unit of pressure is not text; quote it", settings{}},
		{"logs: {\n", "yaml: line 1: did not find expected node content", settings{}},
	} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, settingsFile), []byte(c.text), 0o644); err != nil {
			t.Fatal(err)
		}
		got, err := readSettings(dir)
		switch {
		case c.fault == "" && (err != nil || !reflect.DeepEqual(got, c.want)):
			t.Errorf("%q: %+v, %v, want %+v", c.text, got, err, c.want)
		case c.fault != "" && (err == nil || err.Error() != c.fault):
			t.Errorf("%q: %v, want %s", c.text, err, c.fault)
		}
	}
	if got, err := readSettings(t.TempDir()); err != nil || got.Logs != "logs" {
		t.Errorf("no file: %+v, %v", got, err)
	}
}
