package expr

import (
	"slices"
	"strconv"

	"github.com/google/cel-go/common"
	"github.com/google/cel-go/common/ast"
	"github.com/google/cel-go/common/operators"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"
)

// quick parses the plain part of CEL that rules are made of: names, fields, calls,
// indexes, lists, numbers, simple texts, operators. It is some twenty times as fast as
// CEL's own parser, which is most of the time a rule takes to compile. It gives the
// same tree, with the same places, or gives up: whatever it does not know for certain,
// every macro and every fault among it, is left to CEL's parser.
type quick struct {
	src   []rune
	at    int
	fac   ast.ExprFactory
	info  *ast.SourceInfo
	id    int64
	depth int
	gone  bool // given up
}

// parseQuick is the tree of an expression, or false.
func parseQuick(t *text, src common.Source) (*ast.AST, bool) {
	if len(t.src) > maxCharacters/4 {
		return nil, false
	}
	q := &quick{src: t.src, fac: quickFactory, info: ast.NewSourceInfo(src)}
	e := q.ternary()
	q.space()
	if q.gone || q.at != len(q.src) {
		return nil, false
	}
	return ast.NewAST(e, q.info), true
}

var quickFactory = ast.NewExprFactory()

const quickDepth = 30

func (q *quick) giveUp() ast.Expr {
	q.gone = true
	return q.fac.NewUnspecifiedExpr(0)
}

func (q *quick) next(off, width int) int64 {
	q.id++
	q.info.SetOffsetRange(q.id, ast.OffsetRange{Start: int32(off), Stop: int32(off + width)})
	return q.id
}

func (q *quick) space() {
	for q.at < len(q.src) {
		switch q.src[q.at] {
		case ' ', '\t', '\r', '\n', '\f':
			q.at++
			continue
		}
		return
	}
}

func (q *quick) peek(ahead int) rune {
	if q.at+ahead < len(q.src) {
		return q.src[q.at+ahead]
	}
	return 0
}

// take steps over a sign if it is next.
func (q *quick) take(sign string) (off int, ok bool) {
	q.space()
	for i, r := range sign {
		if q.peek(i) != r {
			return 0, false
		}
	}
	off = q.at
	q.at += len(sign)
	return off, true
}

func (q *quick) ternary() ast.Expr {
	if q.depth++; q.depth > quickDepth {
		return q.giveUp()
	}
	defer func() { q.depth-- }()
	c := q.binary(0)
	off, ok := q.take("?")
	if !ok || q.gone {
		return c
	}
	id := q.next(off, 1)
	a := q.binary(0)
	if _, ok := q.take(":"); !ok {
		return q.giveUp()
	}
	return q.fac.NewCall(id, operators.Conditional, c, a, q.ternary())
}

// levels are the two-sided operators, loosest first; a longer sign before its beginning.
var levels = [][]struct{ sign, name string }{
	{{"||", operators.LogicalOr}},
	{{"&&", operators.LogicalAnd}},
	{
		{"<=", operators.LessEquals},
		{">=", operators.GreaterEquals},
		{"==", operators.Equals},
		{"!=", operators.NotEquals},
		{"<", operators.Less},
		{">", operators.Greater},
		{"in", operators.In},
	},
	{{"+", operators.Add}, {"-", operators.Subtract}},
	{{"*", operators.Multiply}, {"/", operators.Divide}, {"%", operators.Modulo}},
}

func (q *quick) binary(level int) ast.Expr {
	if level == len(levels) {
		return q.unary()
	}
	left := q.binary(level + 1)
	var terms []ast.Expr // of && and ||, which CEL balances
	var ids []int64
	for !q.gone {
		name, off, width := q.operator(level)
		if name == "" {
			break
		}
		if level < 2 {
			if terms == nil {
				terms = []ast.Expr{left}
			}
			terms = append(terms, q.binary(level+1))
			ids = append(ids, q.next(off, width))
			continue
		}
		id := q.next(off, width)
		left = q.fac.NewCall(id, name, left, q.binary(level+1))
	}
	if terms != nil {
		return q.balance(levels[level][0].name, terms, ids, 0, len(ids)-1)
	}
	return left
}

// balance joins terms as CEL does, so that a long chain is not a deep one.
func (q *quick) balance(name string, terms []ast.Expr, ids []int64, lo, hi int) ast.Expr {
	mid := (lo + hi + 1) / 2
	left, right := terms[mid], terms[mid+1]
	if mid != lo {
		left = q.balance(name, terms, ids, lo, mid-1)
	}
	if mid != hi {
		right = q.balance(name, terms, ids, mid+1, hi)
	}
	return q.fac.NewCall(ids[mid], name, left, right)
}

func (q *quick) operator(level int) (name string, off, width int) {
	for _, op := range levels[level] {
		off, ok := q.take(op.sign)
		if !ok {
			continue
		}
		switch {
		case op.sign == "in" && inName(q.peek(0)):
			q.at = off
			return "", 0, 0
		case op.sign == "/" && q.peek(0) == '/': // a comment
			q.giveUp()
			return "", 0, 0
		}
		return op.name, off, len(op.sign)
	}
	return "", 0, 0
}

func (q *quick) unary() ast.Expr {
	if off, ok := q.take("!"); ok {
		q.space()
		if q.peek(0) == '!' {
			return q.giveUp()
		}
		id := q.next(off, 1)
		return q.fac.NewCall(id, operators.LogicalNot, q.member())
	}
	if off, ok := q.take("-"); ok {
		switch r := q.peek(0); {
		case r >= '0' && r <= '9':
			q.at = off
			return q.member()
		case !inName(r) && r != '(':
			return q.giveUp()
		}
		id := q.next(off, 1)
		return q.fac.NewCall(id, operators.Negate, q.member())
	}
	return q.member()
}

// macros are calls that CEL's parser turns into something else.
var macros = []string{"has", "all", "exists", "exists_one", "existsOne", "map", "filter", "transformList", "transformMap", "transformMapEntry"}

func (q *quick) member() ast.Expr {
	e := q.primary()
	for !q.gone {
		if off, ok := q.take("."); ok {
			name, _ := q.name()
			if name == "" {
				return q.giveUp()
			}
			if paren, ok := q.take("("); ok {
				if slices.Contains(macros, name) {
					return q.giveUp()
				}
				id := q.next(paren, 1)
				e = q.fac.NewMemberCall(id, name, e, q.items(")")...)
				continue
			}
			e = q.fac.NewSelect(q.next(off, 1), e, name)
			continue
		}
		if off, ok := q.take("["); ok {
			id := q.next(off, 1)
			index := q.ternary()
			if _, ok := q.take("]"); !ok {
				return q.giveUp()
			}
			e = q.fac.NewCall(id, operators.Index, e, index)
			continue
		}
		return e
	}
	return q.giveUp()
}

func (q *quick) name() (name string, off int) {
	q.space()
	off = q.at
	if r := q.peek(0); !inName(r) || r >= '0' && r <= '9' {
		return "", off
	}
	for inName(q.peek(0)) {
		q.at++
	}
	name = string(q.src[off:q.at])
	if name == "in" || name == "true" || name == "false" || name == "null" {
		return "", off
	}
	return name, off
}

func (q *quick) primary() ast.Expr {
	q.space()
	r := q.peek(0)
	switch {
	case r == '(':
		q.at++
		e := q.ternary()
		if _, ok := q.take(")"); !ok {
			return q.giveUp()
		}
		return e
	case r == '[':
		id := q.next(q.at, 1)
		q.at++
		return q.fac.NewList(id, q.items("]"), nil)
	case r == '-' || r >= '0' && r <= '9':
		return q.number()
	case r == '"' || r == '\'':
		return q.quoted(r)
	}
	if q.word("true") {
		return q.literal(q.at-len("true"), types.True)
	}
	if q.word("false") {
		return q.literal(q.at-len("false"), types.False)
	}
	name, off := q.name()
	if name == "" || slices.Contains(celWords, name) && !slices.Contains(conversions, name) {
		return q.giveUp()
	}
	if len(name) == 1 && (q.peek(0) == '"' || q.peek(0) == '\'') { // r"..." and b"..."
		return q.giveUp()
	}
	if paren, ok := q.take("("); ok {
		if slices.Contains(macros, name) {
			return q.giveUp()
		}
		id := q.next(paren, 1)
		return q.fac.NewCall(id, name, q.items(")")...)
	}
	return q.fac.NewIdent(q.next(off, len(name)), name)
}

// conversions are CEL's type names that are functions too.
var conversions = []string{"double", "int", "string", "timestamp", "duration"}

// word steps over a whole word if it is next.
func (q *quick) word(w string) bool {
	for i, r := range w {
		if q.peek(i) != r {
			return false
		}
	}
	if inName(q.peek(len(w))) {
		return false
	}
	q.at += len(w)
	return true
}

// items are expressions between commas up to a closing bracket.
func (q *quick) items(closing string) []ast.Expr {
	var all []ast.Expr
	if _, ok := q.take(closing); ok {
		return all
	}
	for !q.gone {
		all = append(all, q.ternary())
		if _, ok := q.take(closing); ok {
			return all
		}
		if _, ok := q.take(","); !ok {
			q.giveUp()
		}
	}
	return nil
}

func (q *quick) literal(off int, v ref.Val) ast.Expr {
	return q.fac.NewLiteral(q.next(off, q.at-off), v)
}

func (q *quick) number() ast.Expr {
	off := q.at
	if q.peek(0) == '-' {
		q.at++
	}
	digits := func() bool {
		from := q.at
		for q.peek(0) >= '0' && q.peek(0) <= '9' {
			q.at++
		}
		return q.at > from
	}
	if !digits() {
		return q.giveUp()
	}
	whole := true
	if q.peek(0) == '.' {
		q.at++
		whole = false
		if !digits() {
			return q.giveUp()
		}
	}
	if inName(q.peek(0)) || q.peek(0) == '.' { // 3e5, 0x1F, 3u, 1.2.3
		return q.giveUp()
	}
	written := string(q.src[off:q.at])
	if whole {
		i, err := strconv.ParseInt(written, 10, 64)
		if err != nil {
			return q.giveUp()
		}
		return q.literal(off, types.Int(i))
	}
	d, err := strconv.ParseFloat(written, 64)
	if err != nil {
		return q.giveUp()
	}
	return q.literal(off, types.Double(d))
}

func (q *quick) quoted(quote rune) ast.Expr {
	off := q.at
	q.at++
	for q.at < len(q.src) && q.src[q.at] != quote {
		if r := q.src[q.at]; r == '\\' || r == '\n' || r == '\r' {
			return q.giveUp()
		}
		q.at++
	}
	if q.at == len(q.src) {
		return q.giveUp()
	}
	q.at++
	if q.at-off == 2 && q.peek(0) == quote { // """
		return q.giveUp()
	}
	return q.literal(off, types.String(string(q.src[off+1:q.at-1])))
}
