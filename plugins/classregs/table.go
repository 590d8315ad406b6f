package classregs

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"slices"
	"sync"
	"time"
)

// Regulations are data: one file for each book, dated editions in it, bulletins that change
// them from their day on. A bulletin's changes are a JSON merge patch (RFC 7396) on the rules
// in force: what it names is replaced, null takes away, the rest stands.
//
//go:embed tables/*.json
var tables embed.FS

// Book is the regulations of one series and season.
type Book struct {
	Book, Title string
	// Invented says that no such regulations exist: the demo's.
	Invented  bool
	Editions  []Edition
	Bulletins []Bulletin

	merged sync.Map // *Rules by edition and how many bulletins of it, which many checks ask for
}

// Edition is the whole of the rules from a day on.
type Edition struct {
	InForce Day `json:"in_force"`
	Rules   json.RawMessage
}

// Bulletin changes the rules from its effective day on.
type Bulletin struct {
	No                string
	Issued, Effective Day
	About             string
	Changes           json.RawMessage
}

// Rules are what a car is held to on one day.
type Rules struct {
	// Equivalence multiplies the capacity by how the engine breathes.
	Equivalence map[string]float64
	// Classes by equivalent capacity, from the smallest; the last may have no upper end.
	Classes []Class
	// Weighed says what is on board when the car is weighed.
	Weighed struct {
		Driver bool
		Fuel   string
	}
	// MinimumWeight by equivalent capacity, like Classes.
	MinimumWeight []Weight `json:"minimum_weight"`
	Tyres         struct {
		Section  float64 `json:"section_mm"`  // greatest section width
		Diameter float64 `json:"diameter_mm"` // greatest outer diameter
		Rim      float64 `json:"rim_in"`      // greatest rim diameter
		Age      int     `json:"age_months"`  // oldest, from the week in the code
	}
	// Wing is the box it must lie in.
	Wing struct {
		AboveGround float64 `json:"above_ground_mm"`
		Span        float64 `json:"span_mm"`
		BehindAxle  float64 `json:"behind_axle_mm"`
	}
	// Safety is how long each label counts, by item and label. A label that is not here is
	// not accepted.
	Safety map[string]map[string]Label
	// Needed are the safety items that must be on board.
	Needed []string
}

// Class is one class by equivalent capacity.
type Class struct {
	Class string
	UpTo  float64 `json:"up_to_cm3"` // 0 for no upper end
}

// Weight is the least weight up to an equivalent capacity.
type Weight struct {
	UpTo float64 `json:"up_to_cm3"`
	Kg   float64
}

// Label is one standard's own rule of expiry; the earliest of what it names counts.
type Label struct {
	FromLabel        string `json:"from_label"`         // "not_valid_after": the day printed on it
	YearsFromMade    int    `json:"years_from_made"`    // from the month or year of manufacture
	To               string `json:"to"`                 // "end of year" or "month": where those years end
	MonthsFromCheck  int    `json:"months_from_check"`  // from the last check
	YearsFromCheck   int    `json:"years_from_check"`   // added to the made life, once, from the maker's check
	NotAcceptedAfter Day    `json:"not_accepted_after"` // the standard itself goes out
}

// Day is a calendar day, 2006-01-02; the zero Day is none.
type Day struct{ time.Time }

// UnmarshalJSON reads 2026-05-16.
func (d *Day) UnmarshalJSON(data []byte) error {
	var text string
	if err := json.Unmarshal(data, &text); err != nil {
		return err
	}
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return fmt.Errorf("%q is no day; write 2026-05-16", text)
	}
	d.Time = t
	return nil
}

func (d Day) String() string { return d.Format(time.DateOnly) }

// books are the tables that are built in, by short name. They are read once and not changed.
var books = sync.OnceValues(readBooks)

func readBooks() (map[string]*Book, error) {
	all := map[string]*Book{}
	files, err := fs.Glob(tables, "tables/*.json")
	if err != nil {
		return nil, err
	}
	for _, file := range files {
		data, err := tables.ReadFile(file)
		if err != nil {
			return nil, err
		}
		b, err := readBook(data)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		if all[b.Book] != nil {
			return nil, fmt.Errorf("%s: book %s is in two files", file, b.Book)
		}
		all[b.Book] = b
	}
	return all, nil
}

// readBook reads one table, strictly: a key it does not know is an error, so that a rule
// misspelled is not a rule left out.
func readBook(data []byte) (*Book, error) {
	var b Book
	if err := strict(data, &b); err != nil {
		return nil, err
	}
	if b.Book == "" || len(b.Editions) == 0 {
		return nil, fmt.Errorf("a book needs a name and an edition")
	}
	slices.SortStableFunc(b.Editions, func(x, y Edition) int { return x.InForce.Compare(y.InForce.Time) })
	slices.SortStableFunc(b.Bulletins, func(x, y Bulletin) int { return x.Effective.Compare(y.Effective.Time) })
	for _, e := range b.Editions {
		if e.InForce.IsZero() {
			return nil, fmt.Errorf("an edition of %s has no day it comes into force", b.Book)
		}
		if _, err := b.On(e.InForce.Time); err != nil {
			return nil, err
		}
	}
	for _, u := range b.Bulletins {
		if u.No == "" || u.Effective.IsZero() || u.Issued.IsZero() {
			return nil, fmt.Errorf("a bulletin of %s needs its number, the day it was issued and the day it takes effect", b.Book)
		}
		if _, err := b.On(u.Effective.Time); err != nil {
			return nil, fmt.Errorf("bulletin %s: %w", u.No, err)
		}
	}
	return &b, nil
}

func strict(data []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	return d.Decode(into)
}

// On is the rules in force on a day: the newest edition by then, and every bulletin of it
// that has taken effect by then, in order. Bulletins older than the edition are in it. Nobody may write to them.
func (b *Book) On(day time.Time) (*Rules, error) {
	var edition *Edition
	for i := range b.Editions {
		if !b.Editions[i].InForce.After(day) {
			edition = &b.Editions[i]
		}
	}
	if edition == nil {
		return nil, fmt.Errorf("no edition of %s is in force on %s", b.Book, day.Format(time.DateOnly))
	}
	effective := b.Effective(edition.InForce.Time, day)
	key := fmt.Sprint(edition.InForce.Unix(), len(effective))
	if r, ok := b.merged.Load(key); ok {
		return r.(*Rules), nil
	}
	whole, err := object(edition.Rules)
	if err != nil {
		return nil, err
	}
	for _, u := range effective {
		patch, err := object(u.Changes)
		if err != nil {
			return nil, err
		}
		whole = merge(whole, patch)
	}
	data, err := json.Marshal(whole)
	if err != nil {
		return nil, err
	}
	var r Rules
	if err := strict(data, &r); err != nil {
		return nil, fmt.Errorf("%s on %s: %w", b.Book, day.Format(time.DateOnly), err)
	}
	b.merged.Store(key, &r)
	return &r, nil
}

// Effective are the bulletins that took effect from a day to another, both included.
func (b *Book) Effective(from, to time.Time) []Bulletin {
	var in []Bulletin
	for _, u := range b.Bulletins {
		if !u.Effective.Before(from) && !u.Effective.After(to) {
			in = append(in, u)
		}
	}
	return in
}

func object(data json.RawMessage) (map[string]any, error) {
	var m map[string]any
	err := json.Unmarshal(data, &m)
	return m, err
}

// merge lays a patch over an object, RFC 7396.
func merge(target, patch map[string]any) map[string]any {
	if target == nil {
		target = map[string]any{}
	}
	for key, value := range patch {
		switch v := value.(type) {
		case nil:
			delete(target, key)
		case map[string]any:
			inner, _ := target[key].(map[string]any)
			target[key] = merge(inner, v)
		default:
			target[key] = v
		}
	}
	return target
}
