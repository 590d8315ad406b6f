package readiness

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/demo"
)

// plantedLine is a line of faults-planted.txt: rule, what it should answer, when in the log.
var plantedLine = regexp.MustCompile(`(?m)^  ([a-z]+\.[a-z0-9-]+) +(fail|warn|no data) +([0-9.]+) ± ([0-9.]+)`)

// TestEveryPlantedFaultAndNoOther looks over the demo car: each planted fault comes out as
// the text beside it says, at its time, and nothing else is wrong.
func TestEveryPlantedFaultAndNoOther(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(tern3, "faults-planted.txt"))
	if err != nil {
		t.Fatal(err)
	}
	lines := plantedLine.FindAllStringSubmatch(string(text), -1)
	if len(lines) < 5 {
		t.Fatalf("faults-planted.txt lists only %d items", len(lines))
	}
	look := Open(t.Context(), tern3, Options{Logs: "logs", Plugins: served}).Look(t.Context())
	if look.Verdict != check.NoGo || len(look.Faults) > 0 {
		t.Errorf("verdict %s, faults %v", look.Verdict, look.Faults)
	}
	wrong := map[string]check.Item{}
	for _, it := range look.Items {
		idle := it.Outcome == check.NoData && !it.Open && len(it.Unseen) == 0 // the run did not exercise it
		if it.Outcome != check.Pass && it.Outcome != check.NotApplicable && !idle {
			wrong[it.Card.ID] = it
		}
	}
	for _, l := range lines {
		it, found := wrong[l[1]]
		delete(wrong, l[1])
		at, err1 := strconv.ParseFloat(l[3], 64)
		within, err2 := strconv.ParseFloat(l[4], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		switch {
		case !found:
			t.Errorf("%s: nothing found, want %s", l[1], l[2])
		case string(it.Outcome) != l[2]:
			t.Errorf("%s: %s, want %s", l[1], it.Outcome, l[2])
		case !seenAt(it, at, within):
			t.Errorf("%s: at %+v, unseen %+v, want %v ± %v s", l[1], it.At, it.Unseen, at, within)
		}
	}
	for id, it := range wrong {
		t.Errorf("%s %s: not among the planted faults: %s", id, it.Outcome, it.Message)
	}
}

// seenAt says that an item points at a time: where its answer stands, or, where there is
// none, that nothing is unseen before then. A rule that counts only under load misses the
// channel from the first load after.
func seenAt(it check.Item, at, within float64) bool {
	if it.Outcome != check.NoData {
		return it.At != nil && math.Abs(it.At.Time-at) <= within
	}
	for _, u := range it.Unseen {
		if u.From < at-within || u.From > at+1 {
			return false
		}
	}
	return len(it.Unseen) > 0
}

// TestHealthyIsReady: the same car on the same run without its faults.
func TestHealthyIsReady(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "healthy")
	if err := demo.Write(dir, true); err != nil {
		t.Fatal(err)
	}
	look := Open(t.Context(), dir, Options{Logs: "logs", Plugins: served}).Look(t.Context())
	if look.Verdict != check.Ready || len(look.Faults) > 0 || len(look.Items) < 100 {
		t.Errorf("verdict %s, %d items, faults %v", look.Verdict, len(look.Items), look.Faults)
	}
	for _, it := range look.Items {
		if it.Open {
			t.Errorf("%s %s: %s: %s", it.Card.ID, it.Position, it.Outcome, it.Message)
		}
	}
}
