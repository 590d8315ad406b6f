package runlog

import (
	"math"
	"slices"
	"strconv"
)

// Identity is what a log says about where it comes from. Each is "" with a
// zero Pos where the log does not say it.
type Identity struct {
	Serial, Car, Run, Date Meta
}

// Keys of the lines above the header that tell the logger, the car and the
// run, as plainName gives them.
var (
	serialKeys = []string{"logger", "logger serial", "logger serial number", "logger no", "logger id", "serial", "serial number", "serial no", "device", "device serial", "ecu serial"}
	carKeys    = []string{"car", "vehicle", "chassis", "chassis number", "chassis no", "vehicle id", "car id", "car no"}
	runKeys    = []string{"run counter", "run", "run number", "run no", "run id", "outing", "session number", "log number", "log no", "file number"}
	dateKeys   = []string{"date", "log date", "start date", "start", "start time", "recorded", "created"}
)

// Identity reads who recorded the log off the lines above its header. counter
// is the logger's name of its run counter, a line or a column; it may be "".
func (r *Raw) Identity(counter string) Identity {
	id := Identity{Serial: r.metaOf(serialKeys), Car: r.metaOf(carKeys), Date: r.metaOf(dateKeys)}
	if counter != "" {
		id.Run = r.metaOf([]string{plainName(counter)})
		if c := r.Column(counter); c != nil && id.Run.Value == "" {
			id.Run = c.constant()
		}
	}
	if id.Run.Value == "" {
		id.Run = r.metaOf(runKeys)
	}
	return id
}

// metaOf is the line with the first of the keys that is there.
func (r *Raw) metaOf(keys []string) Meta {
	for _, key := range keys {
		i := slices.IndexFunc(r.Meta, func(m Meta) bool { return plainName(m.Key) == key && m.Value != "" })
		if i >= 0 {
			return r.Meta[i]
		}
	}
	return Meta{}
}

// constant is a column that holds one whole number throughout.
func (c *Column) constant() Meta {
	first := math.NaN()
	for i, v := range c.Values {
		switch {
		case c.IsBad(i):
		case math.IsNaN(first):
			first = v
		case v != first:
			return Meta{}
		}
	}
	if math.IsNaN(first) || first != math.Trunc(first) {
		return Meta{}
	}
	return Meta{Key: c.Name, Value: strconv.FormatFloat(first, 'f', -1, 64), Pos: c.Pos}
}
