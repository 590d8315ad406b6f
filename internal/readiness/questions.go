package readiness

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/expr"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
)

// questions names each log.* call by a digest of all that decides its answer beside the log
// itself: the call with its scalar inputs filled in, and the definitions of its channels.
type questions struct{ channels map[string]string }

// newQuestions takes the definitions of the channels, each with those of the channels that it
// names, as a pair: cleaning looks at both.
func newQuestions(f *car.Folder) *questions {
	q := &questions{channels: map[string]string{}}
	written := map[string]*schema.Value{}
	doc := f.Document("channels")
	if doc == nil {
		return q
	}
	for _, c := range doc.Get("channels").Items {
		if name := known(c.Get("name")); name != "" {
			written[name] = c
		}
	}
	for name := range written {
		with := map[string]bool{}
		var take func(string)
		take = func(name string) {
			if with[name] {
				return
			}
			with[name] = true
			eachText(written[name], func(text string) {
				if written[text] != nil {
					take(text)
				}
			})
		}
		take(name)
		var b strings.Builder
		for _, n := range slices.Sorted(maps.Keys(with)) {
			text, err := schema.JSON(written[n])
			if err != nil { // it cannot be worked out, and so it answers to no other definition
				text = []byte(err.Error())
			}
			b.Write(text)
		}
		q.channels[name] = b.String()
	}
	return q
}

func eachText(v *schema.Value, tell func(string)) {
	if v == nil || v.Unknown {
		return
	}
	if v.Type.Kind == schema.Text {
		tell(v.Text)
	}
	for _, i := range v.Items {
		eachText(i, tell)
	}
	for _, f := range v.Fields {
		eachText(f, tell)
	}
}

func (q *questions) key(g *kernel.Graph, a kernel.Agg) string {
	var b strings.Builder
	b.WriteString(g.Key(a))
	for _, c := range g.Channels(a) {
		fmt.Fprintf(&b, "\n%s", q.channels[c])
	}
	sum := sha256.Sum256([]byte(b.String()))
	return hex.EncodeToString(sum[:8])
}

// PostedAnswer is what one log.* call came to on a run, as its sheet keeps it.
type PostedAnswer struct {
	Key  string
	Call string // as written, "" for one inside another
	Log  string // kind of log that answered
	kernel.Answer
}

// keeper answers from a log and keeps what it said.
type keeper struct {
	expr.Answers
	questions *questions
	mu        sync.Mutex
	kept      map[string]kernel.Answer
}

func (k *keeper) Answer(ctx context.Context, g *kernel.Graph, a kernel.Agg) (kernel.Answer, bool, error) {
	ans, ok, err := k.Answers.Answer(ctx, g, a)
	if ok && err == nil {
		k.mu.Lock()
		k.kept[k.questions.key(g, a)] = ans
		k.mu.Unlock()
	}
	return ans, ok, err
}

// posted lists what was kept, as it was asked in the rules; then what one call asked for
// another.
func (k *keeper) posted(ctx context.Context, g *kernel.Graph, kind string, asks []expr.Ask) []PostedAnswer {
	var out []PostedAnswer
	done := map[string]bool{}
	put := func(key, call string) {
		if !done[key] {
			done[key] = true
			out = append(out, PostedAnswer{key, call, kind, k.kept[key]})
		}
	}
	for _, a := range asks {
		// Also those that no rule needed today: it may need them once a document has changed.
		if _, ok, err := k.Answer(ctx, g, a.Agg); ok && err == nil {
			put(k.questions.key(g, a.Agg), strings.Join(strings.Fields(a.Text), " "))
		}
	}
	for _, key := range slices.Sorted(maps.Keys(k.kept)) {
		put(key, "")
	}
	return out
}

// sheetAnswers answers from what a run sheet kept of one log.
type sheetAnswers struct {
	questions *questions
	kept      map[string]kernel.Answer
}

func (s *sheetAnswers) Answer(_ context.Context, g *kernel.Graph, a kernel.Agg) (kernel.Answer, bool, error) {
	ans, ok := s.kept[s.questions.key(g, a)]
	return ans, ok, nil
}

// answersOf reads what a run sheet kept of its log of one kind; nil if it kept nothing. An
// answer that does not read as one is none.
func answersOf(run *car.Record, kind string, q *questions) *sheetAnswers {
	out := &sheetAnswers{questions: q, kept: map[string]kernel.Answer{}}
	for _, v := range run.Body.Get("answers").Items {
		of := known(v.Get("log"))
		if of == "" {
			of = "run"
		}
		ans, ok := answerOf(v)
		if key := known(v.Get("key")); ok && key != "" && of == kind {
			out.kept[key] = ans
		}
	}
	if len(out.kept) == 0 {
		return nil
	}
	return out
}

func answerOf(v *schema.Value) (kernel.Answer, bool) {
	ok := true
	number := func(v *schema.Value, key string, otherwise float64) float64 {
		if v.Fields[key] == nil {
			return otherwise
		}
		n, err := strconv.ParseFloat(known(v.Fields[key]), 64)
		ok = ok && err == nil // unknown is no number
		return n
	}
	yes := func(key string) bool {
		f := v.Fields[key]
		ok = ok && (f == nil || !f.Unknown)
		return f != nil && known(f) == "true"
	}
	a := kernel.Answer{
		Low: number(v, "low", math.NaN()), High: number(v, "high", math.NaN()),
		At: number(v, "at", math.NaN()), Within: number(v, "within", 0),
		Empty: yes("empty"), MaybeEmpty: yes("maybe_empty"),
	}
	if (math.IsNaN(a.Low) || math.IsNaN(a.High) || a.Low > a.High) && !a.Empty {
		return a, false
	}
	for _, m := range v.Get("missing").Items {
		gap := kernel.Gap{From: number(m, "from", math.NaN()), To: number(m, "to", math.NaN()), Why: known(m.Get("why"))}
		a.Missing = append(a.Missing, kernel.Missing{Channel: known(m.Get("channel")), Gap: gap})
	}
	for _, m := range v.Get("vague").Items {
		a.Vague = append(a.Vague, kernel.Vague{Channel: known(m.Get("channel")), Said: known(m.Get("said"))})
	}
	return a, ok
}

// YAML is the answer as a run sheet writes it, on one line.
func (p *PostedAnswer) YAML() string {
	var b strings.Builder
	fmt.Fprintf(&b, "{key: %q", p.Key)
	if p.Call != "" {
		fmt.Fprintf(&b, ", call: %s", strconv.Quote(p.Call))
	}
	if p.Log != "run" {
		fmt.Fprintf(&b, ", log: %s", p.Log)
	}
	number := func(key string, v float64) {
		if !math.IsNaN(v) {
			fmt.Fprintf(&b, ", %s: %s", key, strings.TrimPrefix(strconv.FormatFloat(v, 'g', -1, 64), "+"))
		}
	}
	if p.Empty {
		b.WriteString(", empty: true")
	} else {
		number("low", p.Low)
		number("high", p.High)
	}
	if p.MaybeEmpty {
		b.WriteString(", maybe_empty: true")
	}
	number("at", p.At)
	if p.Within != 0 {
		number("within", p.Within)
	}
	list := func(key string, n int, item func(i int) string) {
		if n == 0 {
			return
		}
		var items []string
		for i := range n {
			items = append(items, item(i))
		}
		fmt.Fprintf(&b, ", %s: [%s]", key, strings.Join(items, ", "))
	}
	missing := fewSpans(p.Missing)
	list("missing", len(missing), func(i int) string {
		m := missing[i]
		return fmt.Sprintf("{channel: %s, from: %s, to: %s, why: %s}", m.Channel, strconv.FormatFloat(m.From, 'g', -1, 64), strconv.FormatFloat(m.To, 'g', -1, 64), strconv.Quote(m.Why))
	})
	list("vague", len(p.Vague), func(i int) string {
		return fmt.Sprintf("{channel: %s, said: %s}", p.Vague[i].Channel, strconv.Quote(p.Vague[i].Said))
	})
	b.WriteString("}")
	return b.String()
}

// mostSpans of one channel and reason are kept one by one; a sensor that comes and goes would
// fill the sheet.
const mostSpans = 8

// fewSpans puts the spans of one channel and reason together where they are many.
func fewSpans(all []kernel.Missing) []kernel.Missing {
	type of struct{ channel, why string }
	count := map[of]int{}
	for _, m := range all {
		count[of{m.Channel, m.Why}]++
	}
	var out []kernel.Missing
	at := map[of]int{}
	for _, m := range all {
		key := of{m.Channel, m.Why}
		if count[key] <= mostSpans {
			out = append(out, m)
			continue
		}
		if i, ok := at[key]; ok {
			out[i].From, out[i].To = min(out[i].From, m.From), max(out[i].To, m.To)
			continue
		}
		at[key] = len(out)
		out = append(out, m)
	}
	return out
}
