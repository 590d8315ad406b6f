package kernel

import (
	"crypto/sha256"
	"encoding/hex"
	"math"
	"strconv"
	"strings"
)

var foldNames = [...]string{"always", "ever", "total", "longest", "count", "min", "max", "mean", "quantile", "integral", "first", "last", "response", "damage"}

var formNames = [...]string{
	addForm: "+", subForm: "-", mulForm: "*", divForm: "/", leastForm: "least", greatestForm: "greatest",
	lessForm: "<", equalForm: "==", andForm: "&&", orForm: "||", notForm: "!", negForm: "neg", absForm: "abs",
	condForm: "?", curveForm: "at", slopeForm: "slope", delayForm: "delay", smoothForm: "smooth", heldForm: "held", sinceForm: "since",
}

// longest text of a node that is spelt out; a longer one is named by its SHA-256, so that
// an expression that uses itself again and again keeps a short key.
const longestKey = 1024

// Key is an aggregate as text, the same for equal aggregates in every run of the program:
// numbers exactly, operands of commutative operators sorted.
func (g *Graph) Key(a Agg) string {
	g.mu.Lock()
	defer g.mu.Unlock()
	agg := g.aggs[a]
	var b strings.Builder
	b.WriteString(foldNames[agg.fold])
	b.WriteByte('(')
	b.WriteString(g.key(agg.x))
	if agg.y != NoNode {
		b.WriteString(", ")
		b.WriteString(g.key(agg.y))
	}
	if agg.fold == Quantile {
		b.WriteString("; ")
		b.WriteString(exact(math.Float64frombits(agg.q)))
	}
	if agg.fold == Damage {
		b.WriteString("; ")
		b.WriteString(agg.wear.Text)
	}
	b.WriteByte(')')
	return b.String()
}

func (g *Graph) key(id Node) string {
	if k, ok := g.keys[id]; ok {
		return k
	}
	n := g.nodes[id]
	var k string
	switch n.form {
	case channelForm:
		k = strconv.Quote(n.name)
	case rangeForm:
		k = exact(n.low)
		if n.low != n.high {
			k += ".." + exact(n.high)
		}
	case truthForm:
		k = strconv.FormatBool(n.low == 1)
	case unsureForm:
		k = "unknown"
	default:
		var parts []string
		for _, x := range []Node{n.c, n.a, n.b} {
			if x != NoNode {
				parts = append(parts, g.key(x))
			}
		}
		switch n.form {
		case addForm, mulForm, leastForm, greatestForm, equalForm, andForm, orForm:
			if parts[1] < parts[0] {
				parts[0], parts[1] = parts[1], parts[0]
			}
		case delayForm, smoothForm, heldForm:
			parts = append(parts, exact(n.low))
		case curveForm:
			parts = append(parts, curveText(n.curve))
		}
		k = formNames[n.form] + "(" + strings.Join(parts, " ") + ")"
	}
	if len(k) > longestKey {
		sum := sha256.Sum256([]byte(k))
		k = "#" + hex.EncodeToString(sum[:])
	}
	g.keys[id] = k
	return k
}

func exact(v float64) string { return strconv.FormatFloat(v, 'x', -1, 64) }

func curveText(points []Point) string {
	var b strings.Builder
	for _, p := range points {
		b.WriteString("[" + exact(p.X) + " " + exact(p.Y) + "]")
	}
	return b.String()
}
