package car

import (
	"fmt"

	"github.com/paintmark/paintmark/internal/schema"
	"github.com/paintmark/paintmark/internal/units"
)

// Noise gives the noise that somebody wrote of a channel in SI, a difference of two of its readings.
func (f *Folder) Noise(channel, text string) (float64, error) {
	c := f.Channel(channel)
	if c == nil {
		return 0, &units.Error{What: fmt.Sprintf("channels.yaml has no channel %q", channel), Remedy: "add it there, or look at the spelling"}
	}
	if c.YesNo || c.Count {
		return 0, &units.Error{What: channel + " is yes or no, or whole numbers, and has no noise", Remedy: "leave it out"}
	}
	si, err := c.difference(text)
	if err == nil && si < 0 {
		err = &units.Error{What: fmt.Sprintf("noise of %s cannot be %s", channel, text), Remedy: "it is a standard deviation, 0 or more"}
	}
	return si, err
}

// NoiseInSI is a baseline with the noise of its channels as numbers in SI: only channels.yaml says what each is a
// number of. What does not fit its channel, because that is written otherwise now or is gone, is not known.
func (f *Folder) NoiseInSI(baseline *schema.Value) *schema.Value {
	noise := baseline.Fields["noise"]
	if noise == nil || noise.Unknown {
		return baseline
	}
	out := *noise
	out.Fields = make(map[string]*schema.Value, len(noise.Fields))
	for channel, v := range noise.Fields {
		out.Fields[channel] = v
		if v.Unknown {
			continue
		}
		si, err := f.Noise(channel, v.Text)
		if err != nil {
			out.Fields[channel] = schema.Unknown(v.Type, v.Pos)
			continue
		}
		number := *v
		number.Type = &schema.Type{Kind: schema.Quantity, Name: v.Type.Name, Unit: f.Channel(channel).differenceType()}
		number.Low, number.High = si, si
		out.Fields[channel] = &number
	}
	return with(baseline, "noise", &out)
}
