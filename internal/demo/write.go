package demo

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"github.com/paintmark/paintmark/testdata/cars"
)

// Names of the logs.
const (
	log55     = "t3-055.csv"
	log56     = "t3-056.csv"
	log57     = "t3-057.csv.gz"
	logFallow = "f9-214.txt.gz"
)

// folder is the demonstration car among the embedded ones.
const folder = "tern-3"

// file is one file of the demonstration, by its slashed path in the car folder.
type file struct {
	path    string
	content []byte
}

// older gives logs and run sheets of runs 55 and 56, which are never stored. Their
// digests are worked out here, once, so that the folder is whole on any machine.
var older = sync.OnceValue(func() []file {
	var out []file
	for _, l := range []struct {
		run  Run
		name string
	}{{Run55(), log55}, {Run56(), log56}} {
		rec := l.run.Record()
		log := rec.CSV()
		sheet, text := rec.runSheet(l.name, digestOf(log))
		out = append(out, file{path.Join("logs", l.name), log}, file{path.Join("runs", sheet), text})
	}
	return out
})

// newest gives log and run sheet of run 57.
func newest(run Run) ([]file, error) {
	rec := run.Record()
	log, err := Zip(rec.CSV())
	if err != nil {
		return nil, err
	}
	sheet, text := rec.runSheet(log57, digestOf(log))
	return []file{{path.Join("logs", log57), log}, {path.Join("runs", sheet), text}}, nil
}

// WriteLogs writes the logs of runs 55 and 56 into dir. Their digests are the ones
// that the run sheets of the demonstration car give.
func WriteLogs(dir string) error {
	for _, f := range older() {
		if path.Dir(f.path) == "logs" {
			if err := put(filepath.Join(dir, path.Base(f.path)), f.content); err != nil {
				return err
			}
		}
	}
	return nil
}

// Write writes the whole demonstration car into dir, which must be new or empty: as it
// stands after run 57 with its planted faults, or, healthy, after the same run without them.
func Write(dir string, healthy bool) error {
	if healthy {
		return WriteAfter(dir, HealthyRun57())
	}
	return write(dir, nil, false)
}

// WriteAfter writes the demonstration car as it stands after any run 57: the log and the
// run sheet are that run's, all else is the healthy car.
func WriteAfter(dir string, run57 Run) error {
	if run57.Number != 57 {
		return fmt.Errorf("run %d cannot be the newest run of the demonstration: number it 57", run57.Number)
	}
	made, err := newest(run57)
	if err != nil {
		return err
	}
	return write(dir, made, true)
}

// write copies the stored car and adds what was made; other says that run 57 is not the stored one.
func write(dir string, made []file, other bool) error {
	if there, err := os.ReadDir(dir); err == nil && len(there) > 0 {
		return fmt.Errorf("%s is not empty: name a new folder", dir)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := copyCar(dir, other); err != nil {
		return err
	}
	for _, f := range slices.Concat(older(), made) {
		if err := put(filepath.Join(dir, filepath.FromSlash(f.path)), f.content); err != nil {
			return err
		}
	}
	return nil
}

// copyCar copies what is the same in every variant.
func copyCar(dir string, other bool) error {
	return fs.WalkDir(cars.Folders, folder, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel := strings.TrimPrefix(p, folder+"/")
		if replaced(rel, other) {
			return nil
		}
		content, err := cars.Folders.ReadFile(p)
		if err != nil {
			return err
		}
		if other && strings.HasPrefix(rel, "measured/") {
			rel, content = healthyRecord(rel, content)
		}
		return put(filepath.Join(dir, filepath.FromSlash(rel)), content)
	})
}

// replaced says that a file of the stored car is made anew, or belongs to the planted
// faults alone.
func replaced(rel string, other bool) bool {
	if !strings.HasPrefix(rel, "runs/") {
		return other && (rel == "logs/"+log57 || rel == plantedName)
	}
	return strings.Contains(rel, "-run-55-") || strings.Contains(rel, "-run-56-") || other && strings.Contains(rel, "-run-57-")
}

// What is measured differently where nothing is wrong: planted fault 3 has its cause in the paddock.
const (
	tapeOn  = "duct_tape: on"
	tapeOff = "duct_tape: off"
)

// healthyRecord gives a measured record as it is without the planted faults: its name ends in the
// digest of what it says.
func healthyRecord(rel string, content []byte) (string, []byte) {
	if !bytes.Contains(content, []byte(tapeOn)) {
		return rel, content
	}
	content = bytes.Replace(content, []byte(tapeOn), []byte(tapeOff), 1)
	return rel[:len(rel)-len("123456.yaml")] + digestOf(content)[:6] + ".yaml", content
}

func put(name string, content []byte) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return err
	}
	return os.WriteFile(name, content, 0o644)
}
