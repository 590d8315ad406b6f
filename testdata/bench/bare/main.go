// Bare is the program to compare with: cel-go and nothing around it. It parses the same
// files into typed variables, compiles the same expressions in sequence, evaluates each
// once, and counts. No positions, no units, no unknowns, no evidence.
package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/google/cel-go/cel"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
	"go.yaml.in/yaml/v4"
)

var scales = map[string]float64{"bar": 1e5, "mm": 1e-3, "kg": 1, "V": 1}

func main() {
	if err := run(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "bare:", err)
		os.Exit(2)
	}
}

func run(dir string) error {
	var car struct {
		Car struct {
			Bench map[string]string
		}
	}
	if err := read(filepath.Join(dir, "car.yaml"), &car); err != nil {
		return err
	}
	var pack struct {
		Rules []struct {
			ID, Item, System, Holds, Do string
			Moments                     []string
			Examples                    []map[string]any
		}
	}
	if err := read(filepath.Join(dir, "packs", "bench.yaml"), &pack); err != nil {
		return err
	}
	var options []cel.EnvOption
	vars := map[string]any{}
	for name, text := range car.Car.Bench {
		number, unit, _ := strings.Cut(text, " ")
		v, err := strconv.ParseFloat(number, 64)
		if err != nil {
			return err
		}
		options = append(options, cel.Variable("car.bench."+name, cel.DoubleType))
		vars["car.bench."+name] = v * scales[unit]
	}
	for name, scale := range map[string]float64{"bar": 1e5, "mm": 1e-3, "kg": 1, "volts": 1} {
		options = append(options, cel.Function(name, cel.Overload(name+"_double", []*cel.Type{cel.DoubleType}, cel.DoubleType,
			cel.UnaryBinding(func(v ref.Val) ref.Val { return v.(types.Double) * types.Double(scale) }))))
	}
	env, err := cel.NewEnv(options...)
	if err != nil {
		return err
	}
	holds, fails := 0, 0
	for _, rule := range pack.Rules {
		ast, issues := env.Compile(rule.Holds)
		if issues.Err() != nil {
			return fmt.Errorf("%s: %w", rule.ID, issues.Err())
		}
		program, err := env.Program(ast)
		if err != nil {
			return err
		}
		value, _, err := program.Eval(vars)
		if err != nil {
			return fmt.Errorf("%s: %w", rule.ID, err)
		}
		if value == types.True {
			holds++
		} else {
			fails++
		}
	}
	fmt.Println(holds, fails)
	return nil
}

func read(file string, into any) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	return yaml.Unmarshal(text, into)
}
