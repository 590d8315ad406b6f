package life

import (
	"slices"
	"testing"

	"github.com/paintmark/paintmark/internal/car"
	"github.com/paintmark/paintmark/internal/schema"
)

// Every field that the schema names is filled in by the season, the demo car or a posted measure: the schema and
// what is laid out by it cannot drift apart.
func TestEveryFieldIsFilled(t *testing.T) {
	filled, declared := map[string]bool{}, map[string]bool{}
	var fields func(path string, typ *schema.Type)
	fields = func(path string, typ *schema.Type) {
		declared[path] = true
		for _, k := range typ.Order {
			fields(path+"."+k, typ.Fields[k])
		}
		if typ.Elem != nil && len(typ.Elem.Order) > 0 {
			fields(path+"[]", typ.Elem)
		}
	}
	var values func(path string, v *schema.Value)
	values = func(path string, v *schema.Value) {
		if v.Unknown {
			return
		}
		filled[path] = true
		for _, k := range v.Keys {
			values(path+"."+k, v.Fields[k])
		}
		for _, i := range v.Items {
			values(path+"[]", i)
		}
	}
	posted := sheetOfPosts(t, []string{"1 s", "2 s", "3 s"})
	posted.Follow([]Watch{{Name: "a.b FL", Item: "It", Unit: "s", Edges: []Edge{{Value: 5, Means: "warn"}}}})
	sheets := []*Sheet{posted}
	for _, dir := range []string{season, "../../testdata/cars/tern-3"} {
		f, _ := car.Open(dir)
		s, _ := Of(f, f.AsOf)
		s.LogsAtHand(f, nil)
		sheets = append(sheets, s)
	}
	for _, s := range sheets {
		fields("life", s.Value.Type)
		values("life", s.Value)
	}
	// What neither of the two has: nothing is owed, no inspection falls due, and what
	// falls first is counted in runs, without lives of its like.
	not := []string{
		"life.owed[]", "life.inspections[].opened_by", "life.parts[].inspections[].opened_by",
		"life.inspections[].falls_in", "life.parts[].inspections[].falls_in", "life.first.risk", "life.fitted[].first_limit.risk", "life.first.ends",
	}
	for path := range declared {
		if !filled[path] && !slices.ContainsFunc(not, func(n string) bool { return path == n || len(path) > len(n) && path[:len(n)] == n }) {
			t.Errorf("%s is in the schema and in no life sheet", path)
		}
	}
}
