package car

import (
	"reflect"
	"testing"
	"testing/fstest"
)

// A folder that is read again says what it says now, faults and all, however much of it is as it was.
func TestReadAgain(t *testing.T) {
	folder := fstest.MapFS{
		"car.yaml":   {Data: []byte("car: {name: Plover, number: 7}\n")},
		"plan.yaml":  {Data: []byte("plan: {event: [}\n")},
		"notes.yaml": {Data: []byte("\n")},
	}
	first, wrong := OpenFS(folder)
	if len(wrong) < 2 {
		t.Fatalf("faults %v", wrong)
	}
	again, same := OpenFS(folder)
	if !reflect.DeepEqual(wrong, same) {
		t.Errorf("faults %v, read again %v", wrong, same)
	}
	name := func(f *Folder) string { return f.Document("car").Get("car.name").Text }
	if name(first) != "Plover" || name(again) != "Plover" {
		t.Errorf("named %q, read again %q", name(first), name(again))
	}
	folder["car.yaml"] = &fstest.MapFile{Data: []byte("car: {name: Curlew, number: 7}\n")}
	folder["plan.yaml"] = &fstest.MapFile{Data: []byte("plan: {event: {place: Coldharrow}}\n")}
	changed, less := OpenFS(folder)
	if name(changed) != "Curlew" || name(first) != "Plover" || len(less) >= len(wrong) {
		t.Errorf("changed it is named %q (before %q), faults %v", name(changed), name(first), less)
	}
}
