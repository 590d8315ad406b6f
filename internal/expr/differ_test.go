package expr

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/cel-go/cel"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
	"github.com/google/cel-go/common/types/traits"

	"github.com/paintmark/paintmark/internal/kernel"
)

// The differential test: the same per-sample text goes to plain CEL, one sample after
// the other with missing ones unknown, and through lowering to the kernel. Wherever CEL
// knows the answer the kernel must give the same one. Where CEL does not, the kernel
// may know only by bounds (0 times anything, abs, least, greatest, in, ?:), and then every
// way to fill in what is missing must give its answer.

const (
	differRows  = 2048
	differTexts = 300
)

// differChannels: a, b, i and p miss samples, c, d, j and q do not.
var differChannels = map[string]Shape{"a": Number, "b": Number, "c": Number, "d": Number, "i": Count, "j": Count, "p": YesNo, "q": YesNo}

func TestKernelAgreesWithCELPerSample(t *testing.T) {
	rng := rand.New(rand.NewPCG(59, 17))
	columns, log := differLog(rng)
	scope := Scope{Channels: map[string]Channel{}}
	opts := []cel.EnvOption{cel.CrossTypeNumericComparisons(true)}
	for name, shape := range differChannels {
		scope.Channels[name] = Channel{Shape: shape}
		opts = append(opts, cel.Variable(name, shape.celType()))
	}
	plainCEL, err := cel.NewEnv(append(opts, differFunctions()...)...)
	if err != nil {
		t.Fatal(err)
	}
	e, faults := NewEnv(scope)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	runner := kernel.NewRunner(e.Graph(), log, kernel.Options{})
	known, unknown, byBounds := 0, 0, 0
	for range differTexts {
		g := &perSample{rng: rng}
		expression := g.truth(3)
		x := compile(t, e, "log.ever("+expression+" && (a > 0.0 || q || true))", Truth)
		f := &frame{ctx: context.Background(), x: x}
		l := &lowering{frame: f, g: e.graph}
		n, err := l.node(x.root.kids[0])
		if err != nil {
			t.Fatal(err)
		}
		buckets, err := runner.Values(n, 0, differRows, differRows)
		if err != nil {
			t.Fatal(err)
		}
		a, iss := plainCEL.Compile(expression)
		if iss.Err() != nil {
			t.Fatalf("%s: %v", expression, iss.Err())
		}
		prog, err := plainCEL.Program(a)
		if err != nil {
			t.Fatal(err)
		}
		for row, b := range buckets {
			want := celSample(t, prog, columns, row)
			got := ref.Val(nil)
			if b.Seen && !b.Missing {
				got = types.Bool(b.Low == 1)
			}
			switch {
			case want != nil && got == want:
				known++
			case want == nil && got == nil:
				unknown++
			case want == nil:
				if !strings.ContainsAny(expression, "*?") && !strings.Contains(expression, "abs") && !strings.Contains(expression, "st(") && !strings.Contains(expression, " in [") {
					t.Fatalf("%s: row %d: the kernel knows %v, CEL does not", expression, row, got)
				}
				byBounds++
				for range 3 {
					filled := fill(rng, columns, row)
					if w := celSample(t, prog, filled, 0); w != got {
						t.Fatalf("%s: row %d: the kernel says %v whatever is missing, CEL %v with %v", expression, row, got, w, filled)
					}
				}
			default:
				t.Fatalf("%s: row %d: kernel %v, CEL %v", expression, row, got, want)
			}
		}
	}
	if total := known + unknown + byBounds; total < 500_000 || unknown < total/20 || known < total/4 {
		t.Errorf("%d samples known, %d unknown, %d by bounds", known, unknown, byBounds)
	}
	t.Logf("%d samples known, %d unknown, %d by bounds", known, unknown, byBounds)
}

// TestVagueReadingsAgreeWithCEL does the same where c and d read only within something: what the kernel says
// of a row must be what CEL says wherever within it the true values lie.
func TestVagueReadingsAgreeWithCEL(t *testing.T) {
	rng := rand.New(rand.NewPCG(59, 18))
	scope := Scope{Channels: map[string]Channel{}}
	opts := []cel.EnvOption{cel.CrossTypeNumericComparisons(true)}
	for name, shape := range differChannels {
		scope.Channels[name] = Channel{Shape: shape}
		opts = append(opts, cel.Variable(name, shape.celType()))
	}
	plainCEL, err := cel.NewEnv(append(opts, differFunctions()...)...)
	if err != nil {
		t.Fatal(err)
	}
	decided, open := 0, 0
	for range differTexts {
		e, faults := NewEnv(scope)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		g := &perSample{rng: rng}
		expression := g.truth(3)
		x := compile(t, e, "log.always("+expression+" && (a > 0.0 || q || true))", Truth)
		a, iss := plainCEL.Compile(expression)
		if iss.Err() != nil {
			t.Fatalf("%s: %v", expression, iss.Err())
		}
		prog, err := plainCEL.Program(a)
		if err != nil {
			t.Fatal(err)
		}
		for range 40 {
			columns, log := differRow(rng)
			ans := x.Eval(context.Background(), Inputs{Log: OnLog(kernel.NewRunner(e.Graph(), log, kernel.Options{}))})
			if ans.Fault != nil {
				t.Fatalf("%s: %v", expression, ans.Fault)
			}
			if ans.Open {
				open++
				continue
			}
			decided++
			for range 6 {
				filled := fill(rng, columns, 0)
				for name, c := range log.Columns {
					if c.Within > 0 {
						off := c.Within * float64(rng.IntN(5)-2) / 2
						filled[name] = []ref.Val{types.Double(c.Values[0] + off)}
					}
				}
				if w := celSample(t, prog, filled, 0); w != types.Bool(ans.Truth == True) {
					t.Fatalf("%s: the kernel says %v, CEL %v with %v", expression, ans.Truth, w, filled)
				}
			}
		}
	}
	if total := decided + open; open < total/20 || decided < total/4 {
		t.Errorf("%d rows decided, %d open", decided, open)
	}
	t.Logf("%d rows decided, %d open", decided, open)
}

// differRow is a log of one row, in which c and d read within something and a or b may be missing.
func differRow(rng *rand.Rand) (columns map[string][]ref.Val, log *kernel.Log) {
	columns = map[string][]ref.Val{}
	log = &kernel.Log{Times: []float64{0}, Columns: map[string]*kernel.Column{}, End: 1}
	for _, name := range []string{"a", "b", "c", "d", "i", "j", "p", "q"} {
		v, x := randomSample(rng, differChannels[name])
		c := &kernel.Column{Period: 1, Hold: 3, Values: []float64{x}}
		columns[name] = []ref.Val{v}
		switch {
		case name == "c" || name == "d":
			c.Within = float64(1+rng.IntN(4)) / 2
		case name <= "b" && rng.IntN(8) == 0:
			columns[name][0], c.Values[0], c.Bad = nil, 0, []uint64{1}
		}
		log.Columns[name] = c
	}
	return columns, log
}

// differLog has a row per second; nil in columns is a sample that is missing.
func differLog(rng *rand.Rand) (columns map[string][]ref.Val, log *kernel.Log) {
	columns = map[string][]ref.Val{}
	log = &kernel.Log{Columns: map[string]*kernel.Column{}, End: differRows}
	for i := range differRows {
		log.Times = append(log.Times, float64(i))
	}
	for _, name := range []string{"a", "b", "c", "d", "i", "j", "p", "q"} {
		c := &kernel.Column{Period: 1, Hold: 3, Values: make([]float64, differRows), Bad: make([]uint64, (differRows+63)/64)}
		columns[name] = make([]ref.Val, differRows)
		gap := 0
		for i := range differRows {
			v, x := randomSample(rng, differChannels[name])
			columns[name][i], c.Values[i] = v, x
			if gap == 0 && rng.IntN(12) == 0 {
				gap = 1 + rng.IntN(9)
			}
			if gap > 0 {
				gap--
				if strings.Contains("abip", name) {
					columns[name][i], c.Values[i] = nil, 0
					c.Bad[i/64] |= 1 << (i % 64)
				}
			}
		}
		log.Columns[name] = c
	}
	return columns, log
}

func randomSample(rng *rand.Rand, s Shape) (ref.Val, float64) {
	switch s {
	case Number:
		x := float64(rng.IntN(17)-8) / 2
		return types.Double(x), x
	case Count:
		x := rng.IntN(7)
		return types.Int(x), float64(x)
	}
	x := rng.IntN(2)
	return types.Bool(x == 1), float64(x)
}

// fill is one row with a value for everything that is missing.
func fill(rng *rand.Rand, columns map[string][]ref.Val, row int) map[string][]ref.Val {
	filled := map[string][]ref.Val{}
	for _, name := range []string{"a", "b", "c", "d", "i", "j", "p", "q"} {
		v := columns[name][row]
		if v == nil {
			v, _ = randomSample(rng, differChannels[name])
			if d, ok := v.(types.Double); ok {
				v = d * types.Double(math.Pow(10, float64(rng.IntN(6))))
			}
		}
		filled[name] = []ref.Val{v}
	}
	return filled
}

// sampleOf is one row as CEL's variables; missing samples are unknown.
type sampleOf struct {
	columns map[string][]ref.Val
	row     int
}

func (s *sampleOf) ResolveName(name string) (any, bool) {
	if v := s.columns[name][s.row]; v != nil {
		return v, true
	}
	return types.NewUnknown(1, nil), true
}
func (s *sampleOf) Parent() cel.Activation { return nil }

// celSample is what CEL makes of one row: true, false, or nil where it does not know.
func celSample(t *testing.T, prog cel.Program, columns map[string][]ref.Val, row int) ref.Val {
	v, _, err := prog.Eval(&sampleOf{columns, row})
	if err != nil {
		t.Fatalf("row %d: %v", row, err)
	}
	if types.IsUnknown(v) {
		return nil
	}
	return v
}

// differFunctions are ours, bound for plain CEL.
func differFunctions() []cel.EnvOption {
	pick := func(want types.Int) func(a, b ref.Val) ref.Val {
		return func(a, b ref.Val) ref.Val {
			if a.(traits.Comparer).Compare(b) == want {
				return a
			}
			return b
		}
	}
	d, i := cel.DoubleType, cel.IntType
	abs := cel.UnaryBinding(func(x ref.Val) ref.Val {
		switch x := x.(type) {
		case types.Double:
			return types.Double(math.Abs(float64(x)))
		case types.Int:
			return max(x, -x)
		}
		return types.NewErr("no number")
	})
	return []cel.EnvOption{
		cel.Function("abs", cel.Overload("abs_d", []*cel.Type{d}, d, abs), cel.Overload("abs_i", []*cel.Type{i}, i, abs)),
		cel.Function("least", cel.Overload("least_d", []*cel.Type{d, d}, d, cel.BinaryBinding(pick(-1))), cel.Overload("least_i", []*cel.Type{i, i}, i, cel.BinaryBinding(pick(-1)))),
		cel.Function("greatest", cel.Overload("greatest_d", []*cel.Type{d, d}, d, cel.BinaryBinding(pick(1))), cel.Overload("greatest_i", []*cel.Type{i, i}, i, cel.BinaryBinding(pick(1)))),
	}
}

// perSample makes random per-sample expressions.
type perSample struct{ rng *rand.Rand }

func (g *perSample) one(of ...string) string { return of[g.rng.IntN(len(of))] }

func (g *perSample) truth(depth int) string {
	if depth == 0 {
		return g.one("p", "q", "p", "true", "false")
	}
	switch g.rng.IntN(9) {
	case 0:
		return g.truth(0)
	case 1:
		return "!(" + g.truth(depth-1) + ")"
	case 2:
		return "(" + g.truth(depth-1) + " && " + g.truth(depth-1) + ")"
	case 3:
		return "(" + g.truth(depth-1) + " || " + g.truth(depth-1) + ")"
	case 4:
		return "(" + g.truth(depth-1) + g.one(" == ", " != ") + g.truth(depth-1) + ")"
	case 5:
		return "(" + g.whole(depth-1) + g.one(" < ", " <= ", " > ", " >= ", " == ", " != ") + g.whole(depth-1) + ")"
	case 6:
		return "(" + g.whole(depth-1) + " in [1, 3, " + g.one("i", "j", "4") + "])"
	}
	return "(" + g.number(depth-1) + g.one(" < ", " <= ", " > ", " >= ", " == ", " != ") + g.number(depth-1) + ")"
}

func (g *perSample) number(depth int) string {
	literal := fmt.Sprintf("%.1f", float64(g.rng.IntN(13)-6)/2)
	if depth == 0 {
		return g.one("a", "b", "c", "d", literal)
	}
	switch g.rng.IntN(10) {
	case 0:
		return g.number(0)
	case 1:
		return "abs(" + g.number(depth-1) + ")"
	case 2:
		return g.one("least", "greatest") + "(" + g.number(depth-1) + ", " + g.number(depth-1) + ")"
	case 3:
		return "(" + g.number(depth-1) + " / " + g.one("2.0", "-0.5", "3.0") + ")"
	case 4:
		return "(" + g.number(depth-1) + " * " + g.number(depth-1) + ")"
	case 5:
		return "(" + g.truth(depth-1) + " ? " + g.number(depth-1) + " : " + g.number(depth-1) + ")"
	case 6:
		return "-(" + g.number(depth-1) + ")"
	case 7:
		return "double(" + g.whole(depth-1) + ")"
	}
	return "(" + g.number(depth-1) + g.one(" + ", " - ") + g.number(depth-1) + ")"
}

func (g *perSample) whole(depth int) string {
	if depth == 0 {
		return g.one("i", "j", "2", "3", "-1")
	}
	switch g.rng.IntN(4) {
	case 0:
		return g.whole(0)
	case 1:
		return "(" + g.whole(depth-1) + g.one(" + ", " - ", " * ") + g.whole(depth-1) + ")"
	case 2:
		return g.one("least", "greatest") + "(" + g.whole(depth-1) + ", " + g.whole(depth-1) + ")"
	}
	return "abs(" + g.whole(depth-1) + ")"
}
