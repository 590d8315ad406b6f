package main

import (
	"embed"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"github.com/paintmark/paintmark/internal/pack"
)

// newFiles are the documents a car folder starts with.
//
//go:embed new/*
var newFiles embed.FS

func newCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "new DIR",
		Short: "start a car folder",
		Long: `Starts a car folder in DIR, which must be new or empty, with every value unknown.
Nothing unknown passes, so the first check says NO-GO and lists what to fill in.`,
		Example: "paintmark new my-car",
		Args:    oneFolder("new"),
		RunE: func(c *cobra.Command, args []string) error {
			if err := startFolder(args[0]); err != nil {
				return err
			}
			_, err := fmt.Fprintf(c.OutOrStdout(), `Started a car folder in %s.
Fill in car.yaml, plan.yaml, people.yaml; then, with a log of any run:
  paintmark channels LOG --yaml > %s
  paintmark check %s
`, args[0], filepath.Join(args[0], "channels.yaml"), args[0])
			return err
		},
	}
}

// startFolder writes the first documents; a folder with anything in it is left alone.
func startFolder(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("%s cannot be made: %s", dir, why(err))
	}
	if there, err := os.ReadDir(dir); err != nil {
		return fmt.Errorf("%s cannot be read: %s", dir, why(err))
	} else if len(there) > 0 {
		return fmt.Errorf("%s is not empty: name a new folder", dir)
	}
	entries, err := fs.ReadDir(newFiles, "new")
	if err != nil {
		return err
	}
	for _, e := range entries {
		text, err := fs.ReadFile(newFiles, path.Join("new", e.Name()))
		if err != nil {
			return err
		}
		name := e.Name()
		if path.Ext(name) == "" {
			name = "." + name // embed leaves out files that start with a dot
		}
		out := strings.ReplaceAll(string(text), "@PACKS@", strings.Join(pack.Bundled(), ", "))
		if err := os.WriteFile(filepath.Join(dir, name), []byte(out), 0o644); err != nil {
			return fmt.Errorf("%s cannot be written: %s", name, why(err))
		}
	}
	return nil
}
