package readiness

import (
	"math"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/internal/check"
	"github.com/paintmark/paintmark/internal/source"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// A team's limit takes the place of a plugin's where it is a number of the same, and where that may be: what is no-go or a
// regulation is only ever tightened. 3 °C apart is 3 K.
func TestLimitOfPluginReplaced(t *testing.T) {
	for _, c := range []struct {
		unit, tighten, value string
		strict               bool
		si                   float64 // NaN: it stays as it is
		says                 string
	}{
		{"bar", "down", "3 bar", false, 3e5, ""},
		{"bar", "down", "8 bar", false, 8e5, ""},
		{"bar", "down", "3 bar", true, 3e5, ""},
		{"bar", "down", "5 bar", true, 5e5, ""},
		{"bar", "down", "8 bar", true, math.NaN(), "8 bar is looser than the plugin's limit most, which may only be tightened, down"},
		{"bar", "up", "3 bar", true, math.NaN(), "3 bar is looser than the plugin's limit most, which may only be tightened, up"},
		{"bar", "up", "8 bar", true, 8e5, ""},
		{"bar", "", "3 bar", true, math.NaN(), "the limit most may not be changed"},
		{"bar", "", "3 bar", false, 3e5, ""},
		{"bar", "down", "3 s", false, math.NaN(), "the limit most: `3 s` is "},
		{"barg", "down", "3 bara", false, math.NaN(), "the limit most: `3 bara` is "},
		{"K", "down", "3 K", false, 3, ""},
		{"K", "down", "3 °C", false, 3, ""},
		{"°C", "down", "3 °C", false, 276.15, ""},
		{"%", "down", "3 deg", false, math.NaN(), "the limit most: `3 deg` is "},
		{"%", "down", "3 %", false, 0.03, ""},
		{"", "down", "3", false, 3, ""},
		{"", "down", "3 bar", false, math.NaN(), "the limit most: `3 bar` is "},
	} {
		of := &pluginv1.Limit{Name: "most", Value: 5, Unit: c.unit, Tighten: c.tighten}
		shown, err := unitOfLimit(of)
		if err != nil {
			t.Fatal(err)
		}
		before := pluginLimit{si: 5, source: check.Source{Kind: "practice"}}
		if shown.Symbol != "" {
			before.si = shown.SI(5)
		}
		node, faults := source.ParseYAML("limits.yaml", []byte("{value: "+c.value+", source: {kind: test, text: bench, confirmed: 2026-05-10 by SQ}}"))
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		own, says := before, ""
		if err := own.replace(of, shown, node, c.strict); err != nil {
			says = err.Error()
		}
		want := pluginLimit{si: c.si, source: check.Source{Kind: "test", Text: "bench", Confirmed: "2026-05-10 by SQ"}}
		if c.says != "" {
			want = before
		}
		if math.Abs(own.si-want.si) > 1e-9*want.si || own.source != want.source || c.says == "" && says != "" || !strings.HasPrefix(says, c.says) {
			t.Errorf("%s for 5 %s, tighten %q, strict %v: %+v, %q; want %+v, %q", c.value, c.unit, c.tighten, c.strict, own, says, want, c.says)
		}
	}
}

// A check that asks for what this car's folder cannot have is a fault, and is not asked.
func TestWhatDoesNotFit(t *testing.T) {
	c := Open(t.Context(), tern3, Options{Logs: "nowhere"})
	channel := func(name, quantity, reads string) *pluginv1.Needs {
		return &pluginv1.Needs{Channels: []*pluginv1.ChannelNeed{{Name: name, Quantity: quantity, Reads: reads}}}
	}
	for _, k := range []struct {
		needs *pluginv1.Needs
		says  string
	}{
		{&pluginv1.Needs{Documents: []string{"car.engine", "channels", "baseline.noise"}}, ""},
		{&pluginv1.Needs{Documents: []string{"car.engin"}}, "it reads car.engin, which no document has"},
		{&pluginv1.Needs{Limits: []*pluginv1.Limit{{Name: "most", Unit: "bra"}}}, "the limit most: "},
		{channel("oil_pressure", "pressure", "gauge"), ""},
		{channel("oil_pressure", "pressure", "absolute"), "it takes the channel oil_pressure for absolute pressure, which it is not"},
		{channel("oil_pressure", "temperature", ""), "it takes the channel oil_pressure for temperature, which it is not"},
		{channel("oil_pressure", "yes-no", ""), "it takes the channel oil_pressure for yes-no, which it is not"},
		{channel("oil_pressure", "count", ""), "it takes the channel oil_pressure for count, which it is not"},
		{channel("oil_pressure", "presure", ""), `there is no quantity "presure"`},
		{channel("wing_command", "yes-no", ""), ""},
		{channel("wing_command", "number", ""), "it takes the channel wing_command for number, which it is not"},
		{channel("not_logged", "presure", ""), ""},
	} {
		says := ""
		if err := c.fit(&pluginCheck{wire: &pluginv1.Check{Needs: k.needs}, limits: map[string]pluginLimit{}}, nil); err != nil {
			says = err.Error()
		}
		if k.says == "" && says != "" || !strings.HasPrefix(says, k.says) {
			t.Errorf("%v: %q, want %q", k.needs, says, k.says)
		}
	}
}
