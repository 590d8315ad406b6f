package car

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/paintmark/paintmark/internal/schema"
)

// A record that differs stops all of them; joined either way round, two folders hold the same.
func TestBring(t *testing.T) {
	one, two := t.TempDir(), t.TempDir()
	both := draft()
	mine, theirs := draft(), draft()
	mine.What, theirs.What = "mine", "theirs"
	for dir, list := range map[string][]Draft{one: {both, mine}, two: {both, theirs}} {
		for _, d := range list {
			if _, err := Write(dir, schema.Bundled, d); err != nil {
				t.Fatal(err)
			}
		}
	}
	brought, err := Bring(one, os.DirFS(two))
	if err != nil || len(brought) != 1 {
		t.Fatal(brought, err)
	}
	if _, err := Bring(two, os.DirFS(one)); err != nil {
		t.Fatal(err)
	}
	here, there := list(t, filepath.Join(one, "measured")), list(t, filepath.Join(two, "measured"))
	if len(here) != 3 || !slices.Equal(here, there) {
		t.Error(here, there)
	}
	if brought, err := Bring(one, os.DirFS(two)); err != nil || len(brought) != 0 {
		t.Error(brought, err)
	}

	theirs.What = "later"
	if _, err := Write(two, schema.Bundled, theirs); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(two, "measured", here[0]), []byte("edited"), 0o644); err != nil {
		t.Fatal(err)
	}
	if brought, err := Bring(one, os.DirFS(two)); err == nil || len(brought) != 0 {
		t.Error("an edited record came", brought)
	}
	if names := list(t, filepath.Join(one, "measured")); len(names) != 3 {
		t.Error(names)
	}
}
