package pack

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/units"
)

var updateSurvivors = flag.Bool("survivors", false, "write testdata/packs/survivors.txt anew, reasons kept; read what is new before it is kept")

const survivorsFile = "../../testdata/packs/survivors.txt"

// A mutant is a rule with one thing in it changed to what it should not be. The rule's
// examples have to notice.
type mutant struct {
	rule, change string
	caught       bool
}

// slice is one rule of a pack file: the file's head, and the rule's lines.
type slice struct {
	id, head, body string
	file           string
}

var ruleStart = regexp.MustCompile(`(?m)^  - id: `)

func sliced(f File) []slice {
	text := string(f.Data)
	starts := ruleStart.FindAllStringIndex(text, -1)
	var out []slice
	for i, s := range starts {
		end := len(text)
		if i+1 < len(starts) {
			end = starts[i+1][0]
		}
		body := text[s[0]:end]
		id, _, _ := strings.Cut(strings.TrimPrefix(body, "  - id: "), "\n")
		out = append(out, slice{id, text[:starts[0][0]], body, f.Name})
	}
	return out
}

// load compiles the one rule; nil where it does not load.
func (s slice) load(body string, roots map[string]*schema.Type) *Rule {
	packs, _ := Load([]File{{s.file, []byte(s.head + body)}}, expr.Scope{Roots: roots}, nil)
	if len(packs) != 1 || len(packs[0].Rules) != 1 {
		return nil
	}
	return packs[0].Rules[0]
}

// fails says that some example of a rule comes out otherwise than it is written.
func (r *Rule) fails(roots map[string]*schema.Type) bool {
	return slices.ContainsFunc(r.tries(roots), func(e ExampleResult) bool { return !e.OK() })
}

func (r *Rule) tries(roots map[string]*schema.Type) []ExampleResult {
	var out []ExampleResult
	for _, n := range r.examples {
		out = append(out, r.try(context.Background(), n, roots))
	}
	return out
}

// judged are the keys of a rule that decide an outcome.
var (
	judged  = regexp.MustCompile(`^    (each|applies|seen|measure|holds|otherwise|fail|warn|due|fresh|cleared-by|signed):`)
	comment = regexp.MustCompile(`\s+# .*$`)
)

// swaps are the words of an expression that are turned into one another. A pattern's first group
// is what is replaced.
var swaps = []struct {
	find *regexp.Regexp
	into string
}{
	{regexp.MustCompile(`\s(<)\s`), ">"},
	{regexp.MustCompile(`\s(>)\s`), "<"},
	{regexp.MustCompile(`\s(<=)\s`), ">="},
	{regexp.MustCompile(`\s(>=)\s`), "<="},
	{regexp.MustCompile(`\s(==)\s`), "!="},
	{regexp.MustCompile(`\s(!=)\s`), "=="},
	{regexp.MustCompile(`\s(&&)\s`), "||"},
	{regexp.MustCompile(`\s(\|\|)\s`), "&&"},
	{regexp.MustCompile(`(!)[a-z(]`), ""},
	{regexp.MustCompile(`\s(\+)\s`), "-"},
	{regexp.MustCompile(`\s(-)\s`), "+"},
	{regexp.MustCompile(`\s(\*)\s`), "/"},
	{regexp.MustCompile(`\s(/)\s`), "*"},
	{regexp.MustCompile(`\b(below):`), "above"},
	{regexp.MustCompile(`\b(above):`), "below"},
	{regexp.MustCompile(`\b(log\.min)\(`), "log.max"},
	{regexp.MustCompile(`\b(log\.max)\(`), "log.min"},
	{regexp.MustCompile(`\b(log\.always)\(`), "log.ever"},
	{regexp.MustCompile(`\b(log\.ever)\(`), "log.always"},
	{regexp.MustCompile(`\b(log\.total)\(`), "log.longest"},
	{regexp.MustCompile(`\b(log\.longest)\(`), "log.total"},
	{regexp.MustCompile(`\b(log\.first)\(`), "log.last"},
	{regexp.MustCompile(`\b(log\.last)\(`), "log.first"},
	{regexp.MustCompile(`\b(least)\(`), "greatest"},
	{regexp.MustCompile(`\b(greatest)\(`), "least"},
	{regexp.MustCompile(`\.(all)\(`), "exists"},
	{regexp.MustCompile(`\.(exists)\(`), "all"},
	{regexp.MustCompile(`^    otherwise: (warn)$`), "fail"},
	{regexp.MustCompile(`\babs(\()`), "0.0 + ("},
}

// whole are keys that can be left out.
var whole = regexp.MustCompile(`^    (applies|seen|fail|warn|due|fresh|cleared-by|otherwise):`)

// parts are pieces of an entry that can be left out or widened.
var pieces = []struct {
	find *regexp.Regexp
	into string
	what string
}{
	{regexp.MustCompile(`(within: [^,\[}]+|within: \[[^\]]+\])(?:, )?`), "", "without "},
	{regexp.MustCompile(`(after-fit: [^,\[}]+|after-fit: \[[^\]]+\])(?:, )?`), "", "without "},
	{regexp.MustCompile(`(after-job-on: [^,\[}]+|after-job-on: \[[^\]]+\])(?:, )?`), "", "without "},
	{regexp.MustCompile(`, (retained: true)`), "", "without "},
	{regexp.MustCompile(`, (tool: [^,}]+)`), "", "without "},
	{regexp.MustCompile(`, (people: 2)`), "", "without "},
	{regexp.MustCompile(`, (tol: [^,}]+)`), ", tol: 40 %", "wider "},
}

// written are the mutants made by changing the text of a rule.
func (s slice) written(try func(change, body string)) {
	lines := strings.Split(s.body, "\n")
	in := ""
	for i, line := range lines {
		switch {
		case strings.HasPrefix(line, "    examples:"):
			return
		case judged.MatchString(line):
			in = judged.FindStringSubmatch(line)[1]
		case !strings.HasPrefix(line, "      "):
			in = ""
		}
		if in == "" {
			continue
		}
		with := func(line string) string {
			out := slices.Clone(lines)
			out[i] = line
			return strings.Join(out, "\n")
		}
		bare := comment.ReplaceAllString(line, "")
		said := in + ": " + strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(bare), in+":"))
		for _, swap := range swaps {
			for k, m := range swap.find.FindAllStringSubmatchIndex(bare, -1) {
				was := bare[m[2]:m[3]]
				try(fmt.Sprintf("%s [%s%s to %s]", said, was, nth(k), swap.into), with(bare[:m[2]]+swap.into+bare[m[3]:]))
			}
		}
		for _, p := range pieces {
			for _, m := range p.find.FindAllStringSubmatchIndex(bare, -1) {
				try(fmt.Sprintf("%s [%s%s]", said, p.what, bare[m[2]:m[3]]), with(bare[:m[0]]+p.into+bare[m[1]:]))
			}
		}
		if m := longer.FindStringSubmatchIndex(bare); in == "fresh" && m != nil {
			n, _ := strconv.Atoi(bare[m[2]:m[3]])
			try(said+" [one longer]", with(bare[:m[2]]+strconv.Itoa(n+1)+bare[m[3]:]))
		}
		for k, m := range figuresIn.FindAllStringSubmatchIndex(bare, -1) {
			if in == "fresh" {
				break
			}
			v, err := strconv.ParseFloat(bare[m[2]:m[3]], 64)
			if err != nil || v == 0 {
				continue
			}
			for _, by := range []float64{0.5, 2} {
				text := strconv.FormatFloat(v*by, 'f', -1, 64)
				if strings.Contains(bare[m[2]:m[3]], ".") && !strings.Contains(text, ".") {
					text += ".0"
				}
				try(fmt.Sprintf("%s [%s%s to %s]", said, bare[m[2]:m[3]], nth(k), text), with(bare[:m[2]]+text+bare[m[3]:]))
			}
		}
		if whole.MatchString(line) {
			end := i + 1
			for end < len(lines) && strings.HasPrefix(lines[end], "      ") {
				end++
			}
			try("without "+in, strings.Join(append(slices.Clone(lines[:i]), lines[end:]...), "\n"))
		}
	}
}

var (
	longer    = regexp.MustCompile(`(\d+) (?:runs?|d)\b`)
	figuresIn = regexp.MustCompile(`[(\s](\d+(?:\.\d+)?)[)\s]`)
)

func nth(k int) string {
	if k == 0 {
		return ""
	}
	return " no " + strconv.Itoa(k+1)
}

// withLimit is the rule with one limit of its pack set to another value, in SI.
func (r *Rule) withLimit(name string, to func(*schema.Value)) *Rule {
	rule, pack := *r, *r.Pack
	limits := *pack.limits
	limits.Fields = maps.Clone(limits.Fields)
	v := *limits.Fields[name]
	v.Points = slices.Clone(v.Points)
	to(&v)
	limits.Fields[name] = &v
	pack.limits, rule.Pack = &limits, &pack
	return &rule
}

func (r *Rule) withValue(name string, si float64) *Rule {
	return r.withLimit(name, func(v *schema.Value) {
		v.Low, v.High = si, si
	})
}

// moved are the mutants made by moving the limits of a rule: one that bounds the measure to
// just beyond the value of each example, any other up and down.
func (r *Rule) moved(roots map[string]*schema.Type, try func(change string, m *Rule)) {
	for _, l := range r.Pack.Limits {
		if !slices.Contains(r.paths, "limits."+l.Name) {
			continue
		}
		bounds := false
		for _, b := range []*bound{r.fail, r.warn, r.due} {
			if b == nil {
				continue
			}
			for _, prog := range []*expr.Expr{b.lo, b.hi} {
				if prog == nil || !slices.Contains(prog.Paths(), "limits."+l.Name) || l.Value.Type.Kind == schema.Curve {
					continue
				}
				bounds = true
				for i, example := range r.examples {
					if !slices.Contains([]string{"pass", "warn", "fail"}, example.Get("answer").Text) {
						continue // no value of it stood against the limit
					}
					if to, ok := r.justBeyond(roots, i, l, prog, prog == b.lo); ok {
						try(fmt.Sprintf("limits.%s just beyond example %d", l.Name, i+1), r.withValue(l.Name, to))
					}
				}
			}
		}
		if bounds {
			continue
		}
		for _, up := range []bool{false, true} {
			what := map[bool]string{false: "less", true: "more"}[up]
			try("limits."+l.Name+" "+what, r.withLimit(l.Name, func(v *schema.Value) {
				change := func(x float64, t units.Type) float64 {
					switch {
					case t.Kind == units.Point && up:
						return x + 15
					case t.Kind == units.Point:
						return x - 15
					case up:
						return x * 1.5
					}
					return x / 1.5
				}
				v.Low, v.High = change(v.Low, v.Type.Unit), change(v.High, v.Type.Unit)
				for i := range v.Points {
					v.Points[i].Y = change(v.Points[i].Y, v.Type.Unit)
				}
			}))
		}
	}
}

// justBeyond is the value of a limit at which what it bounds comes to lie on the other side
// of what an example measures, by a thousandth; ok is false where the example measures nothing.
func (r *Rule) justBeyond(roots map[string]*schema.Type, example int, l *Limit, prog *expr.Expr, least bool) (to float64, ok bool) {
	ctx := context.Background()
	at := func(r *Rule) (v, bound float64, ok bool) {
		var f form
		ev := r.shown(&f, r.examples[example], roots)
		items, stopped := r.items(ctx, ev)
		if stopped != nil || len(items) == 0 {
			return 0, 0, false
		}
		in := expr.Inputs{Roots: items[0].roots}
		if len(ev.Logs) > 0 {
			in.Log = ev.Logs[0].Answers
		}
		m, b := r.measure.Eval(ctx, in), prog.Eval(ctx, in)
		if m.Open || m.Empty || m.NotFitted || b.Open || b.Empty || b.NotFitted || math.IsInf(m.Low, 0) || math.IsInf(m.High, 0) {
			return 0, 0, false
		}
		return interval{m.Low, m.High}.value(), interval{b.Low, b.High}.value(), true
	}
	v, b0, ok := at(r)
	if !ok {
		return 0, false
	}
	var f form
	if res := r.Judge(ctx, r.shown(&f, r.examples[example], roots)); res[0].Cleared != "" {
		return 0, false // a proof on stands decided, not what the run measured
	}
	step := math.Max(math.Abs(l.Value.Low), 1e-3) * 1e-3
	_, b1, ok := at(r.withValue(l.Name, l.Value.Low+step))
	if slope := (b1 - b0) / step; ok && slope != 0 {
		beyond := 1e-3 * math.Max(math.Max(math.Abs(v), math.Abs(b0))*1e-1, math.Abs(b0-v))
		target := v + math.Copysign(beyond, v-b0)
		if v == b0 && !least { // on a greatest value: beyond it is less
			target = v - beyond
		}
		return l.Value.Low + (target-b0)/slope, true
	}
	return 0, false
}

func mutantsOf(s slice, roots map[string]*schema.Type) (out []mutant, stillborn int) {
	rule := s.load(s.body, roots)
	if rule == nil || rule.fails(roots) {
		return []mutant{{s.id, "does not stand by itself", false}}, 0
	}
	s.written(func(change, body string) {
		m := s.load(body, roots)
		if m == nil {
			stillborn++
			return
		}
		out = append(out, mutant{s.id, change, m.fails(roots)})
	})
	rule.moved(roots, func(change string, m *Rule) { out = append(out, mutant{s.id, change, m.fails(roots)}) })
	return out, stillborn
}

// Of all the small changes that a bundled rule could suffer, nine in ten are caught by its
// examples; the others are listed with the reason in testdata/packs/survivors.txt.
func TestExamplesCatchMutants(t *testing.T) {
	if testing.Short() {
		t.Skip("compiles 1,300 packs as others compile a few")
	}
	types := roots(t)
	var all []slice
	for _, f := range bundled(t) {
		all = append(all, sliced(f)...)
	}
	found, stillborn := make([][]mutant, len(all)), make([]int, len(all))
	inParallel(len(all), func(i int) { found[i], stillborn[i] = mutantsOf(all[i], types) })
	caught, total, unborn := 0, 0, 0
	var survivors []string
	for i := range found {
		unborn += stillborn[i]
		for _, m := range found[i] {
			total++
			if m.caught {
				caught++
				continue
			}
			survivors = append(survivors, m.rule+": "+m.change)
		}
	}
	t.Logf("%d mutants of %d rules, %d caught, %.1f %%; %d more did not load", total, len(all), caught, 100*float64(caught)/float64(total), unborn)
	if 10*caught < 9*total {
		t.Errorf("%d of %d mutants caught, less than nine in ten", caught, total)
	}
	slices.Sort(survivors)
	survivors = slices.Compact(survivors)
	data, err := os.ReadFile(survivorsFile)
	if err != nil && !*updateSurvivors {
		t.Fatal(err)
	}
	reasons := map[string]string{}
	for _, line := range strings.Split(string(data), "\n") {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		what, why, ok := strings.Cut(line, " | ")
		if !ok && !*updateSurvivors {
			t.Errorf("%s has no reason", line)
		}
		reasons[what] = why
	}
	if *updateSurvivors {
		var b strings.Builder
		b.WriteString("# Changes to a bundled rule that its examples do not notice, each with the reason why that is left.\n# internal/pack/mutants_test.go compares this list exactly.\n\n")
		for _, s := range survivors {
			fmt.Fprintf(&b, "%s | %s\n", s, reasons[s])
		}
		if err := os.WriteFile(survivorsFile, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	for _, s := range survivors {
		if reasons[s] == "" {
			t.Errorf("not caught, and no reason is written down: %s", s)
		}
		delete(reasons, s)
	}
	for s := range reasons {
		t.Errorf("listed as not caught, but it is caught or no longer there: %s", s)
	}
}
