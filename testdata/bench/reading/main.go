// Reading is the program to compare `life` with: it reads the files of a car folder and
// parses each as YAML, one after the other, and does nothing with them.
package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"go.yaml.in/yaml/v4"
)

func main() {
	n := 0
	err := filepath.WalkDir(os.Args[1], func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".yaml") {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		var v any
		if err := yaml.Unmarshal(text, &v); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		n++
		return nil
	})
	if err != nil {
		fmt.Fprintln(os.Stderr, "reading:", err)
		os.Exit(1)
	}
	fmt.Println(n)
}
