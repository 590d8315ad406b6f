// Command compiles says whether a module compiles for other systems: it reads and type-checks
// every package for each of them, which takes seconds where building them all, with the
// standard library and what they import, takes minutes on a machine that never did it.
//
//	compiles FOLDER SYSTEM...
//
// A SYSTEM is as in "windows/amd64", or "here". Tests are read along. Of the code of others
// only what it declares is read. Exits with 1 where something does not compile.
package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/tools/go/packages"
)

func main() {
	if len(os.Args) < 3 {
		fail("name the module's folder, and the systems it must compile for")
	}
	root, err := filepath.Abs(os.Args[1])
	if err != nil {
		fail(err.Error())
	}
	wrong := 0
	for _, system := range os.Args[2:] {
		read, found, err := check(root, system)
		if err != nil {
			fail(err.Error())
		}
		fmt.Printf("   %s: %d packages\n", system, read)
		for _, line := range found {
			fmt.Fprintln(os.Stderr, "   "+line)
		}
		wrong += len(found)
	}
	if wrong > 0 {
		os.Exit(1)
	}
}

// check returns how many packages of the module it read, and what is wrong with them.
func check(root, system string) (int, []string, error) {
	env := os.Environ()
	if system != "here" {
		name, chip, ok := strings.Cut(system, "/")
		if !ok {
			return 0, nil, fmt.Errorf("%q is no system: write it as in windows/amd64", system)
		}
		env = append(env, "GOOS="+name, "GOARCH="+chip, "CGO_ENABLED=0")
	}
	ours := root + string(filepath.Separator)
	loaded, err := packages.Load(&packages.Config{
		Mode:  packages.LoadAllSyntax,
		Dir:   root,
		Env:   env,
		Tests: true,
		ParseFile: func(files *token.FileSet, name string, text []byte) (*ast.File, error) {
			file, err := parser.ParseFile(files, name, text, parser.SkipObjectResolution)
			if file != nil && !strings.HasPrefix(name, ours) {
				dropBodies(file)
			}
			return file, err
		},
	}, "./...")
	if err != nil {
		return 0, nil, fmt.Errorf("for %s: %w", system, err)
	}
	var wrong []string
	for _, p := range loaded {
		if strings.HasSuffix(p.PkgPath, ".test") {
			continue // written by go test, and not from here
		}
		for _, e := range p.Errors {
			wrong = append(wrong, system+": "+e.Error())
		}
	}
	if len(loaded) == 0 {
		wrong = append(wrong, system+": no package was found")
	}
	return len(loaded), wrong, nil
}

// dropBodies takes the insides of functions out of a file of somebody else's.
func dropBodies(file *ast.File) {
	for _, d := range file.Decls {
		if f, ok := d.(*ast.FuncDecl); ok {
			f.Body = nil
		}
	}
}

func fail(why string) {
	fmt.Fprintln(os.Stderr, "compiles: "+why)
	os.Exit(2)
}
