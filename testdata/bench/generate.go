package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
)

// The size of the comparison.
const (
	fields = 400
	rules  = 300
)

// quantity is one kind of field: its schema name, its unit in YAML, its function in CEL.
type quantity struct{ prefix, name, unit, function string }

var quantities = []quantity{
	{"p", "gauge pressure", "bar", "bar"},
	{"l", "length", "mm", "mm"},
	{"m", "mass", "kg", "kg"},
	{"v", "voltage", "V", "volts"},
}

// generate writes a car of 400 fields and a pack of 300 rules over them. The seed is fixed:
// every run compares the same work.
func generate(dir string) error {
	random := rand.New(rand.NewPCG(1, 2))
	var schema, car, pack strings.Builder
	schema.WriteString(`{"x-extends": "car", "type": "object", "properties": {"car": {"type": "object", "properties": {"bench": {"type": "object", "description": "fields to compare on", "additionalProperties": false, "properties": {` + "\n")
	car.WriteString("car:\n  name: Bench\n  chassis: B-1\n  number: \"1\"\n  bench:\n")
	for i := range fields {
		q := quantities[i%len(quantities)]
		comma := ","
		if i == fields-1 {
			comma = ""
		}
		fmt.Fprintf(&schema, "  %q: {\"type\": \"string\", \"x-quantity\": %q, \"description\": \"a field\"}%s\n", field(i), q.name, comma)
		fmt.Fprintf(&car, "    %s: %.2f %s\n", field(i), 1+random.Float64()*9, q.unit)
	}
	schema.WriteString("}}}}}}\n")
	pack.WriteString("pack: bench\nversion: 1.0.0\ntitle: Generated rules\nrules:\n")
	for i := range rules {
		a, b, c := pick(random, i), pick(random, i), pick(random, i)
		f := quantities[i%len(quantities)].function
		low, high := random.Float64()*4, 5+random.Float64()*6
		expression := []string{
			fmt.Sprintf("car.bench.%s > %s(%.3f) && car.bench.%s < %s(%.3f)", a, f, low, b, f, high),
			fmt.Sprintf("car.bench.%s - car.bench.%s < %s(%.3f) || car.bench.%s > %s(%.3f)", a, b, f, low, c, f, high),
			fmt.Sprintf("(car.bench.%s > car.bench.%s ? car.bench.%s : car.bench.%s) / car.bench.%s < %.3f", a, b, a, b, c, high),
			fmt.Sprintf("!(car.bench.%s < %s(%.3f)) && [car.bench.%s, car.bench.%s].all(x, x < %s(%.3f))", a, f, low, b, c, f, high),
		}[(i/len(quantities))%4]
		fmt.Fprintf(&pack, "  - id: bench.r%03d\n    item: Generated rule %d\n    system: chassis\n    moments: [commit]\n    holds: %s\n", i, i, quote(expression))
		pack.WriteString("    accept: {fail: {hats: [lead-engineer]}, no-data: {hats: [lead-engineer]}}\n    do: Nothing to do.\n    source: {kind: practice}\n    examples:\n")
		for _, answer := range []string{"pass", "fail", "no data"} {
			fmt.Fprintf(&pack, "      - shown: {car: {bench: {%s: 5.00 %s}}}\n        answer: %s\n", a, quantities[i%len(quantities)].unit, answer)
		}
	}
	for name, text := range map[string]string{
		"car.yaml":                car.String(),
		"packs/bench.yaml":        pack.String(),
		"schemas/car.schema.json": schema.String(),
		"limits.yaml":             "packs: [packs/bench.yaml]\n",
		"people.yaml":             "people:\n  - {initials: HW, name: Hanne Wulfram, hats: [lead-engineer]}\n",
	} {
		file := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			return err
		}
	}
	return nil
}

func field(i int) string { return fmt.Sprintf("%s%03d", quantities[i%len(quantities)].prefix, i) }

// pick is a field of the quantity that rule i is about.
func pick(random *rand.Rand, i int) string {
	n := len(quantities)
	return field(random.IntN(fields/n)*n + i%n)
}

// quote keeps YAML from reading anything into the expression.
func quote(s string) string { return "'" + s + "'" }
