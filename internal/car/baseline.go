package car

import (
	"fmt"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/units"
)

// ByChannel are the values of a baseline that are of each channel: only channels.yaml says what each is a number of.
var ByChannel = []string{"noise", "apart"}

// OfChannel gives a baseline value that somebody wrote of a channel in SI, a difference of two readings.
func (f *Folder) OfChannel(key, channel, text string) (float64, error) {
	c := f.Channel(channel)
	switch {
	case c == nil:
		return 0, &units.Error{What: fmt.Sprintf("channels.yaml has no channel %q", channel), Remedy: "add it there, or look at the spelling"}
	case c.YesNo || c.Count:
		return 0, &units.Error{What: channel + " is yes or no, or whole numbers, and has no " + key, Remedy: "leave it out"}
	case key == "apart" && c.Pair == "":
		return 0, &units.Error{What: channel + " has no pair to be apart from", Remedy: "write its pair_with in channels.yaml"}
	}
	si, err := c.difference(text)
	if err == nil && key == "noise" && si < 0 {
		err = &units.Error{What: fmt.Sprintf("noise of %s cannot be %s", channel, text), Remedy: "it is a standard deviation, 0 or more"}
	}
	return si, err
}

// BaselineInSI is a baseline with the values of its channels as numbers in SI. What does not fit its channel, because that
// is written otherwise now or is gone, is not known.
func (f *Folder) BaselineInSI(baseline *schema.Value) *schema.Value {
	if done, ok := f.inSI.Load(baseline); ok { // many ask for a value of it each
		return done.(*schema.Value)
	}
	out := baseline
	for _, key := range ByChannel {
		if values := out.Fields[key]; values != nil && !values.Unknown {
			out = with(out, key, f.numbers(key, values))
		}
	}
	f.inSI.Store(baseline, out)
	return out
}

func (f *Folder) numbers(key string, values *schema.Value) *schema.Value {
	out := *values
	out.Fields = make(map[string]*schema.Value, len(values.Fields))
	for channel, v := range values.Fields {
		out.Fields[channel] = v
		if v.Unknown {
			continue
		}
		si, err := f.OfChannel(key, channel, v.Text)
		if err != nil {
			out.Fields[channel] = schema.Unknown(v.Type, v.Pos)
			continue
		}
		number := *v
		number.Type = &schema.Type{Kind: schema.Quantity, Name: v.Type.Name, Unit: f.Channel(channel).differenceType()}
		number.Low, number.High = si, si
		out.Fields[channel] = &number
	}
	return &out
}
