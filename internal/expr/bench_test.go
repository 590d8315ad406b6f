package expr

import (
	"fmt"
	"testing"

	"github.com/google/cel-go/cel"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	"github.com/paintmark/paintmark/internal/schema"
)

// benchTexts are what rules of a commit check look like.
func benchTexts() []string {
	var all []string
	for i := range 300 {
		switch i % 5 {
		case 0:
			all = append(all, fmt.Sprintf("car.pump_on > limits.pressure + bar(%d.5)", i))
		case 1:
			all = append(all, fmt.Sprintf(`car.gearbox.shift == "hydraulic" && car.gearbox.gears >= %d`, i))
		case 2:
			all = append(all, fmt.Sprintf("measured.pad[car.corners[0].position] - plan.runs_left * mm(0.%d) > mm(1.0)", i+1))
		case 3:
			all = append(all, fmt.Sprintf("days(measured.taken, plan.last_day) < d(%d.0) || measured.checked", i))
		default:
			all = append(all, fmt.Sprintf("limits.ratio * car.share < %d.0 && (measured.checked ? limits.ratio : car.share) >= 0.%d", i, i))
		}
	}
	return all
}

func BenchmarkCompile(b *testing.B) {
	e := testEnv(b)
	texts := benchTexts()
	for b.Loop() {
		for _, s := range texts {
			if _, faults := e.Compile(plain(s), Truth); len(faults) > 0 {
				b.Fatal(faults)
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*len(texts)), "us/rule")
}

// BenchmarkCompileByCELAlone compiles and plans the same rules as a bare CEL program would.
func BenchmarkCompileByCELAlone(b *testing.B) {
	env := bareCEL(b)
	texts := benchTexts()
	for b.Loop() {
		for _, s := range texts {
			a, iss := env.Compile(s)
			if iss.Err() != nil {
				b.Fatal(iss.Err())
			}
			if _, err := env.Program(a); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*len(texts)), "us/rule")
}

// bareCEL has the test scope's names and functions, and nothing else of ours.
func bareCEL(t testing.TB) *cel.Env {
	t.Helper()
	b, err := theBase()
	if err != nil {
		t.Fatal(err)
	}
	table := newTypeTable(b.types)
	opts := []cel.EnvOption{cel.CustomTypeProvider(table), cel.CrossTypeNumericComparisons(true)}
	for name, root := range testScope().Roots {
		opts = append(opts, cel.Variable(name, table.celType(root)))
	}
	one := func(v ref.Val) ref.Val { return v }
	for _, name := range []string{"bar", "mm", "d", "percent"} {
		opts = append(opts, cel.Function(name, cel.Overload(name+"_double", []*cel.Type{cel.DoubleType}, cel.DoubleType, cel.UnaryBinding(one))))
	}
	opts = append(opts, cel.Function("days", cel.Overload("days_of", []*cel.Type{cel.TimestampType, cel.TimestampType}, cel.DoubleType,
		cel.BinaryBinding(func(a, b ref.Val) ref.Val { return types.Double(0) }))))
	env, err := cel.NewEnv(opts...)
	if err != nil {
		t.Fatal(err)
	}
	return env
}

func BenchmarkNewEnv(b *testing.B) {
	for b.Loop() {
		if _, faults := NewEnv(testScope()); len(faults) > 0 {
			b.Fatal(faults)
		}
	}
}

func BenchmarkWith(b *testing.B) {
	e := testEnv(b)
	corner := testScope().Roots["car"].Fields["corners"].Elem
	for b.Loop() {
		e.With(map[string]*schema.Type{"corner": corner})
	}
}

// BenchmarkBase is what the first expression of a process waits for.
func BenchmarkBase(b *testing.B) {
	for b.Loop() {
		if _, err := makeBase(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEval(b *testing.B) {
	e := testEnv(b)
	in := testInputs(testScope())
	var all []*Expr
	for _, s := range benchTexts() {
		all = append(all, compile(b, e, s, Truth))
	}
	for b.Loop() {
		for _, x := range all {
			x.Eval(b.Context(), in)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(all)), "ns/rule")
}

// BenchmarkCompileOnAllCores is how a check compiles its packs.
func BenchmarkCompileOnAllCores(b *testing.B) {
	e := testEnv(b)
	texts := benchTexts()
	b.RunParallel(func(pb *testing.PB) {
		for i := 0; pb.Next(); i++ {
			if _, faults := e.Compile(plain(texts[i%len(texts)]), Truth); len(faults) > 0 {
				b.Error(faults)
			}
		}
	})
}
