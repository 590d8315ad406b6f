package main

import (
	"context"
	"errors"
	"path/filepath"
	"time"

	"github.com/google/cel-go/cel"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	"github.com/paintmark/paintmark/internal/runlog"
)

// celEvery is of how many blocks of rows the bare evaluator is asked of one: all of them would take
// too long. Its time is extrapolated.
const celEvery = 20

// sample gives the evaluator the two channels of one row.
type sample struct{ rpm, pressure types.Double }

func (s *sample) ResolveName(name string) (any, bool) {
	switch name {
	case "rpm":
		return s.rpm, true
	case "oil_pressure":
		return s.pressure, true
	}
	return nil, false
}

func (s *sample) Parent() cel.Activation { return nil }

// violationsCEL asks cel-go, and nothing around it, once per row. What it counts is of a part of the
// rows, so it is not compared.
func violationsCEL(dir string) (string, error) {
	raw, faults := runlog.Read(context.Background(), filepath.Join(dir, parquetName), runlog.Options{Only: []string{"c5", "c1"}})
	if len(faults) > 0 {
		return "", faults.Err()
	}
	rpm, pressure := raw.Column("c5").Values, raw.Column("c1").Values
	env, err := cel.NewEnv(cel.Variable("rpm", cel.DoubleType), cel.Variable("oil_pressure", cel.DoubleType))
	if err != nil {
		return "", err
	}
	ast, issues := env.Compile("rpm < 3000.0 || oil_pressure > 3.8")
	if issues.Err() != nil {
		return "", issues.Err()
	}
	program, err := env.Program(ast, cel.EvalOptions(cel.OptOptimize))
	if err != nil {
		return "", err
	}
	start := time.Now()
	var s sample
	asked, violations := 0, 0 // the count keeps the work honest
	for block := 0; block < len(rpm); block += 1000 * celEvery {
		for i := block; i < min(block+1000, len(rpm)); i++ {
			s.rpm, s.pressure = types.Double(rpm[i]), types.Double(pressure[i])
			var holds ref.Val
			if holds, _, err = program.Eval(&s); err != nil {
				return "", err
			}
			if asked++; holds == types.False {
				violations++
			}
		}
	}
	times := float64(len(rpm)) / float64(asked)
	worked = time.Duration(float64(time.Since(start)) * times)
	if violations == 0 {
		return "", errors.New("no violation at all")
	}
	return "", nil
}
