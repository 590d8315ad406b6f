package readiness

import (
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/source"
)

// takenIn is the demo car with run 57 taken in and its log taken away.
func takenIn(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := demo.Write(dir, false); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(dir, "runs")); err != nil {
		t.Fatal(err)
	}
	post(t, dir, 57, "2026-05-16T09:48:00+01:00", BroughtLog{"run", filepath.Join(dir, "logs", "t3-057.csv.gz")})
	if err := os.RemoveAll(filepath.Join(dir, "logs")); err != nil {
		t.Fatal(err)
	}
	if faults := lookOver(t, dir).Faults; len(faults) > 0 {
		t.Fatal(faults)
	}
	return dir
}

// post takes a run in with its outcomes and answers.
func post(t *testing.T, dir string, no int, at string, logs ...BroughtLog) {
	t.Helper()
	postWith(t, dir, no, at, Options{Logs: "logs"}, logs...)
}

func postWith(t *testing.T, dir string, no int, at string, options Options, logs ...BroughtLog) {
	t.Helper()
	folder, faults := car.Open(dir)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	taken, faults := TakeIn(t.Context(), folder, dir, options, logs)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	var text strings.Builder
	text.WriteString("run:\n  no: " + strconv.Itoa(no) + "\n  setup: S14\n  logs:\n")
	for _, l := range taken.Logs {
		text.WriteString("    - {file: " + l.File + ", sha256: " + l.SHA256 + ", kind: " + l.Kind + "}\n")
	}
	posted := taken.Post(t.Context(), dir, folder, no, options)
	written(t, dir, "runs", at, text.String()+postedText(posted))
}

// postedText are the lines of a run sheet that hold what was posted.
func postedText(posted Posted) string {
	var text strings.Builder
	text.WriteString("  answers:\n")
	for _, a := range posted.Answers {
		text.WriteString("    - " + a.YAML() + "\n")
	}
	groups := map[bool]map[check.Outcome][]string{true: {}, false: {}}
	for _, o := range posted.Outcomes {
		groups[o.NoGo][o.Outcome] = append(groups[o.NoGo][o.Outcome], `"`+o.Name+`"`)
	}
	text.WriteString("  outcomes:\n")
	for noGo, key := range map[bool]string{true: "no_go", false: "other"} {
		text.WriteString("    " + key + ":\n")
		for o, names := range groups[noGo] { // their order says nothing
			text.WriteString("      " + strings.ReplaceAll(string(o), " ", "_") + ": [" + strings.Join(names, ", ") + "]\n")
		}
	}
	return text.String()
}

// withOutcomes puts onto the newest sheet of the demo car what `in` would have put there.
func withOutcomes(t *testing.T, dir string) {
	t.Helper()
	folder, faults := car.Open(dir)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	sheets, err := filepath.Glob(filepath.Join(dir, "runs", "*-run-57-*"))
	if err != nil || len(sheets) != 1 {
		t.Fatal(sheets, err)
	}
	sheet, err := os.ReadFile(sheets[0])
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(sheets[0]); err != nil {
		t.Fatal(err)
	}
	before, faults := car.Open(dir)
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	taken, faults := TakeIn(t.Context(), before, dir, Options{Logs: "logs"}, []BroughtLog{{"run", filepath.Join(dir, "logs", "t3-057.csv.gz")}})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	_, body, _ := strings.Cut(string(sheet), "by: SQ\n")
	written(t, dir, "runs", "2026-05-16T09:48:00+01:00", body+postedText(taken.Post(t.Context(), dir, folder, 57, Options{Logs: "logs"})))
}

// rewrite changes a file of a car folder; what is to be changed must be there.
func rewrite(t *testing.T, file, old, now string) {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(data), old) {
		t.Fatalf("%s has no %q", file, old)
	}
	if err := os.WriteFile(file, []byte(strings.ReplaceAll(string(data), old, now)), 0o666); err != nil {
		t.Fatal(err)
	}
}

func itemOf(t *testing.T, look *check.Look, name string) check.Item {
	t.Helper()
	for _, it := range look.Items {
		if it.Name() == name {
			return it
		}
	}
	t.Fatalf("no item %s", name)
	return check.Item{}
}

func lookOver(t *testing.T, dir string) *check.Look {
	t.Helper()
	return Open(t.Context(), dir, Options{Logs: "logs", Plugins: served}).Look(t.Context())
}

// A question is another one once a channel of it, or its pair, is defined in another way.
func TestChangedChannelHasNoAnswer(t *testing.T) {
	dir := takenIn(t)
	const shift, water = "hydraulics.shift-pressure", "cooling.water-peak"
	if it := itemOf(t, lookOver(t, dir), shift); it.Outcome != check.Fail || it.From.Kind != "run sheet" || it.From.Age == "" {
		t.Fatalf("from the sheet: %v %+v %s", it.Outcome, it.From, it.Message)
	}
	channels := filepath.Join(dir, "channels.yaml")
	rewrite(t, channels, "range: 0 bar..250 bar, within: 0.35 bar", "range: 0 bar..240 bar, within: 0.35 bar")
	look := lookOver(t, dir)
	if it := itemOf(t, look, shift); it.Outcome != check.NoData || !strings.HasPrefix(it.Message, "the sheet of run 57 has no answer to log.max(hyd_pressure)") {
		t.Errorf("after its channel was changed: %v %s", it.Outcome, it.Message)
	}
	if it := itemOf(t, look, water); it.Outcome != check.Pass {
		t.Errorf("of another channel: %v %s", it.Outcome, it.Message)
	}
}

func TestAnswersReadBack(t *testing.T) {
	set := &schema.Set{}
	typ, err := set.Document("run")
	if err != nil {
		t.Fatal(err)
	}
	nan := math.NaN()
	gap := func(c string, from, to float64) kernel.Missing {
		return kernel.Missing{Channel: c, Gap: kernel.Gap{From: from, To: to, Why: `reads "its" fault value`}}
	}
	for _, a := range []kernel.Answer{
		{Low: 1, High: 1, At: nan},
		{Low: 0.1, High: math.Inf(1), At: 3.25, Within: 0.005},
		{Low: math.Inf(-1), High: -2e-300, At: 0},
		{Low: nan, High: nan, Empty: true, At: nan},
		{Low: 1.0 / 3, High: 2.0 / 3, At: nan, MaybeEmpty: true, Missing: []kernel.Missing{gap("a", 0, 1), gap("b", 2, 3.5)}},
		{Low: 5, High: 6, At: 1, Vague: []kernel.Vague{{Channel: "a", Said: "reads within 0.5 bar"}}},
	} {
		p := PostedAnswer{Key: "0123456789abcdef", Call: `log.min(x, s == "a")`, Log: "run", Answer: a}
		node, faults := source.ParseYAML("run.yaml", []byte("at: 2026-05-16T09:48:00Z\nby: SQ\nrun: {no: 1, answers: ["+p.YAML()+"]}\n"))
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		value, faults := schema.Read(node, typ)
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		got, ok := answerOf(value.Get("run.answers").Items[0])
		if !ok {
			t.Errorf("%s is not read", p.YAML())
		}
		for _, v := range []*float64{&got.Low, &got.High, &got.At, &a.Low, &a.High, &a.At} {
			if math.IsNaN(*v) {
				*v = -12345 // which equals itself
			}
		}
		if !reflect.DeepEqual(got, a) {
			t.Errorf("%s\nreads %+v\nwas   %+v", p.YAML(), got, a)
		}
	}
}

// Damage to an answer makes it none; it is never taken for a value.
func TestDamagedAnswersAreNone(t *testing.T) {
	set := &schema.Set{}
	typ, err := set.Document("run")
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{
		"{key: k}", "{key: k, low: 1}", "{key: k, low: 2, high: 1}", "{key: k, low: one, high: 1}", "{key: k, low: unknown, high: 1}",
		"{key: k, low: 1, high: 1, empty: unknown}", "{key: k, low: 1, high: 1, at: soon}",
	} {
		node, faults := source.ParseYAML("run.yaml", []byte("at: 2026-05-16T09:48:00Z\nby: SQ\nrun: {no: 1, answers: ["+text+"]}\n"))
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		value, _ := schema.Read(node, typ)
		if _, ok := answerOf(value.Get("run.answers").Items[0]); ok {
			t.Errorf("%s is taken for an answer", text)
		}
	}
}

func TestManySpansAreKeptAsOne(t *testing.T) {
	var many []kernel.Missing
	for i := range 20 {
		many = append(many, kernel.Missing{Channel: "a", Gap: kernel.Gap{From: float64(i), To: float64(i) + 0.5, Why: "gone"}})
	}
	many = append(many, kernel.Missing{Channel: "b", Gap: kernel.Gap{From: 1, To: 2, Why: "gone"}})
	if got := fewSpans(many); len(got) != 2 || got[0].From != 0 || got[0].To != 19.5 || got[1].Channel != "b" {
		t.Errorf("%+v", got)
	}
}
