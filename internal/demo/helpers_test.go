package demo

import (
	"bytes"
	"compress/gzip"
	"io"
	"math"
	"testing"
)

func unzip(t *testing.T, b []byte) []byte {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	out, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// held spreads a channel over all rows: each value stands until the next one.
func held(r *Recording, name string) []float64 {
	c := r.Column(name)
	v := c.Values()
	out := make([]float64, len(r.Millis))
	k, last := 0, math.NaN()
	for row := range out {
		if k < len(c.Rows) && c.Rows[k] == int32(row) {
			last = v[k]
			k++
		}
		out[row] = last
	}
	return out
}
