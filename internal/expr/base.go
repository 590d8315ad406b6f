package expr

import (
	"slices"
	"strconv"
	"sync"

	"github.com/google/cel-go/cel"
	"github.com/google/cel-go/checker"
	"github.com/google/cel-go/common/containers"
	"github.com/google/cel-go/common/decls"
	"github.com/google/cel-go/common/functions"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/parser"
)

// base is what every expression shares: CEL's parser, and all functions, CEL's and ours.
type base struct {
	parser *parser.Parser
	types  *types.Registry                // CEL's own
	checks *checker.Env                   // knows the functions and no names
	calls  map[string]*functions.Overload // CEL's own functions, by overload and by name
	names  []string                       // of every function a person can write, sorted
	// declared is every function by name, for messages about its arguments.
	declared map[string]*decls.FunctionDecl
}

// The bounds on one expression. A rule is a few dozen characters; these keep a
// hostile one from taking time or memory.
const (
	maxCharacters = 10_000
	maxNodes      = 5_000
	maxDepth      = 100
)

// refused are CEL functions that could switch a rule off by asking whether a value is
// there or what it is.
var refused = []string{"dyn", "type"}

var theBase = sync.OnceValues(makeBase)

func makeBase() (*base, error) {
	env, err := cel.NewEnv()
	if err != nil {
		return nil, err
	}
	b := &base{calls: map[string]*functions.Overload{}, declared: map[string]*decls.FunctionDecl{}}
	b.parser, err = parser.NewParser(
		parser.Macros(parser.AllMacros...),
		parser.EnableHiddenAccumulatorName(true),
		parser.EnableIdentEscapeSyntax(true),
		parser.ExpressionSizeCodePointLimit(maxCharacters),
		parser.MaxExpressionNodeCount(maxNodes),
		parser.MaxRecursionDepth(maxDepth),
	)
	if err != nil {
		return nil, err
	}
	if b.types, err = types.NewRegistry(); err != nil {
		return nil, err
	}
	b.checks, err = checker.NewEnv(containers.DefaultContainer, b.types, checkOptions()...)
	if err != nil {
		return nil, err
	}
	for name, f := range env.Functions() {
		if slices.Contains(refused, name) {
			continue
		}
		b.declared[name] = f
		bindings, err := f.Bindings()
		if err != nil {
			return nil, err
		}
		for _, o := range bindings {
			b.calls[o.Operator] = o
		}
	}
	for name, f := range functionsByName() {
		overloads := make([]decls.FunctionOpt, len(f.takes))
		for i, s := range f.takes {
			overloads[i] = decls.Overload("@"+name+"_"+strconv.Itoa(i), s.args, s.result)
		}
		if b.declared[name], err = decls.NewFunction(name, overloads...); err != nil {
			return nil, err
		}
	}
	for name, f := range b.declared {
		if inName(rune(name[0])) && name[0] != '_' { // the others are operators
			b.names = append(b.names, name)
		}
		if err := b.checks.AddFunctions(f); err != nil {
			return nil, err
		}
	}
	slices.Sort(b.names)
	return b, nil
}

func checkOptions() []checker.Option {
	return []checker.Option{checker.CrossTypeNumericComparisons(true)}
}
