package report

import (
	"encoding/json"
	"io"
	"math"
	"time"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
)

// The JSON report, as schemas/report.schema.json describes it. Times are RFC 3339 in the
// event's zone, spans are seconds, numbers are in the unit beside them. A bound that
// nothing sets is null, since JSON has no infinity.
type (
	jsonReport struct {
		Paintmark string      `json:"paintmark"`
		Verdict   string      `json:"verdict"`
		Part      string      `json:"part,omitempty"`
		Car       jsonCar     `json:"car"`
		AsOf      string      `json:"as_of"`
		Run       *int        `json:"run"`
		Counts    Counts      `json:"counts"`
		Faults    []jsonFault `json:"faults"`
		Inputs    []jsonInput `json:"inputs"`
		Items     []jsonItem  `json:"items"`
		Remarks   []string    `json:"remarks"`
		Caution   string      `json:"caution"`
	}
	jsonCar struct {
		Name   string `json:"name"`
		Number string `json:"number"`
		Setup  string `json:"setup"`
	}
	jsonWhere struct {
		File   string `json:"file"`
		Line   int    `json:"line,omitempty"`
		Column int    `json:"column,omitempty"`
	}
	jsonFault struct {
		What    string     `json:"what"`
		Remedy  string     `json:"remedy"`
		Where   *jsonWhere `json:"where"`
		Systems []string   `json:"systems"`
	}
	jsonInput struct {
		Path   string `json:"path"`
		SHA256 string `json:"sha256"`
	}
	jsonMeasured struct {
		Value *float64 `json:"value"`
		Low   *float64 `json:"low"`
		High  *float64 `json:"high"`
		Unit  string   `json:"unit"`
	}
	jsonLimit struct {
		Kind   string     `json:"kind"`
		Value  *float64   `json:"value"`
		Upper  *float64   `json:"upper,omitempty"`
		Unit   string     `json:"unit"`
		Source jsonSource `json:"source"`
		Where  *jsonWhere `json:"where"`
	}
	jsonSource struct {
		Kind      string `json:"kind"`
		Text      string `json:"text"`
		Confirmed string `json:"confirmed"`
	}
	jsonAt struct {
		Time   *float64 `json:"time_s"`
		Within *float64 `json:"within_s"`
	}
	jsonFrom struct {
		Kind   string `json:"kind"`
		Run    *int   `json:"run"`
		Record string `json:"record"`
		Age    string `json:"age"`
	}
	jsonAccept struct {
		Hats     []string `json:"hats"`
		Official bool     `json:"official"`
		Runs     int      `json:"runs"`
	}
	jsonUnseen struct {
		Channel string   `json:"channel"`
		From    *float64 `json:"from_s"`
		To      *float64 `json:"to_s"`
		Why     string   `json:"why"`
	}
	jsonItem struct {
		Rule      string         `json:"rule"`
		Item      string         `json:"item"`
		Position  string         `json:"position"`
		System    string         `json:"system"`
		Moment    []check.Moment `json:"moment"`
		Outcome   check.Outcome  `json:"outcome"`
		Open      bool           `json:"open"`
		Who       []string       `json:"who"`
		Measured  *jsonMeasured  `json:"measured"`
		Limit     *jsonLimit     `json:"limit"`
		Margin    *float64       `json:"margin"`
		Due       *jsonLimit     `json:"due"`
		At        *jsonAt        `json:"at"`
		From      jsonFrom       `json:"from"`
		Where     *jsonWhere     `json:"where"`
		Message   string         `json:"message"`
		Do        string         `json:"do"`
		Caution   string         `json:"caution"`
		Accept    jsonAccept     `json:"accept"`
		Deviation string         `json:"deviation"`
		Source    jsonSource     `json:"source"`
		Unseen    []jsonUnseen   `json:"unseen"`
	}
)

// JSON writes a look for another program; version is the program's own.
func JSON(w io.Writer, look *check.Look, version string) error {
	out := jsonReport{
		Paintmark: version, Verdict: string(look.Verdict), Part: look.Part,
		Car: jsonCar{Name: look.Car, Number: look.Number, Setup: look.Setup}, Run: positive(look.Run), Counts: Count(look.Items),
		Faults: []jsonFault{}, Inputs: []jsonInput{}, Items: []jsonItem{}, Remarks: list(look.Remarks),
		Caution: "Advice only. A pass means only that the rules found nothing. The regulations in force prevail; " +
			"the responsible engineer and the scrutineer decide.",
	}
	if look.Part != "" {
		out.Verdict = "part look"
	}
	if !look.AsOf.IsZero() {
		zone := look.Zone
		if zone == nil {
			zone = time.UTC
		}
		out.AsOf = look.AsOf.In(zone).Format(time.RFC3339)
	}
	for _, f := range look.Faults {
		out.Faults = append(out.Faults, jsonFault{What: f.What, Remedy: f.Remedy, Where: where(f.Pos), Systems: list(f.Systems)})
	}
	for _, f := range look.Inputs {
		out.Inputs = append(out.Inputs, jsonInput(f))
	}
	for i := range look.Items {
		out.Items = append(out.Items, itemJSON(&look.Items[i]))
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(out)
}

func itemJSON(it *check.Item) jsonItem {
	c := it.Card
	by := it.Acceptor()
	caution, _ := check.Hazard(c.Caution)
	j := jsonItem{
		Rule: c.ID, Item: c.Item, Position: it.Position, System: c.System, Moment: list(c.Moments), Outcome: it.Outcome,
		Open: it.Open, Who: list(it.Who), Limit: limitJSON(it.Limit), Margin: finite(it.Margin), Due: limitJSON(it.Due),
		From:  jsonFrom{Kind: it.From.Kind, Run: positive(it.From.Run), Record: it.From.Record, Age: it.From.Age},
		Where: where(it.Where), Message: it.Message, Do: c.Do, Caution: caution,
		Accept:    jsonAccept{Hats: list(by.Hats), Official: by.Official, Runs: by.Runs},
		Deviation: it.Deviation, Source: jsonSource(c.Source), Unseen: []jsonUnseen{},
	}
	if m := it.Measured; m != nil {
		j.Measured = &jsonMeasured{Value: finite(&m.Value), Low: finite(&m.Low), High: finite(&m.High), Unit: m.Unit}
	}
	if at := it.At; at != nil {
		j.At = &jsonAt{Time: finite(&at.Time), Within: finite(&at.Within)}
	}
	for _, u := range it.Unseen {
		j.Unseen = append(j.Unseen, jsonUnseen{Channel: u.Channel, From: finite(&u.From), To: finite(&u.To), Why: u.Why})
	}
	return j
}

func limitJSON(l *check.Limit) *jsonLimit {
	if l == nil {
		return nil
	}
	j := &jsonLimit{Kind: l.Kind, Value: finite(&l.Value), Unit: l.Unit, Source: jsonSource(l.Source), Where: where(l.Where)}
	if l.Kind == "a to b" {
		j.Upper = finite(&l.Upper)
	}
	return j
}

func where(p source.Pos) *jsonWhere {
	if p.File == "" {
		return nil
	}
	return &jsonWhere{File: p.File, Line: p.Line, Column: p.Column}
}

// finite is v, or nil where JSON has no number for it.
func finite(v *float64) *float64 {
	if v == nil || math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	return v
}

func positive(n int) *int {
	if n <= 0 {
		return nil
	}
	return &n
}

// list is never null in JSON.
func list[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}
