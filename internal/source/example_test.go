package source_test

import (
	"fmt"

	"github.com/paintmark/paintmark/internal/source"
)

func ExampleParseYAML() {
	_, faults := source.ParseYAML("packs/house.yaml", []byte("holds: !car.wing.locked\nmeasure: a ? b : c\n"))
	fmt.Println(faults)
	// Output:
	// packs/house.yaml:1:8: !car.wing.locked is a tag here, not an expression; quote it
	// packs/house.yaml:2:16: `: ` inside a plain value starts a value of its own; use a | block or quotes
}

func ExampleNode_At() {
	n, _ := source.ParseYAML("pack.yaml", []byte("holds: |\n  a &&\n    misspelt\n"))
	text, _ := n.Get("holds").CELText()
	fmt.Printf("%q\n", text)
	fmt.Println(n.Get("holds").At(2, 2)) // where CEL says line 2, column 2
	// Output:
	// "a &&\n  misspelt\n"
	// pack.yaml:3:5
}
