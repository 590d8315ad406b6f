package runlog

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"strconv"
	"testing"
	"time"
)

func TestZZ(t *testing.T) {
	path, _ := benchLog(t, 500)
	data, _ := os.ReadFile(path)
	tx, _ := openText(bytes.NewReader(data), Options{MaxBytes: MaxBytes})
	l, _ := detect(tx, "bench.csv")
	data = append(data, make([]byte, spare)...)[:len(data)]
	batch := newBatch(len(l.names))
	best1, best2 := time.Hour, time.Hour
	sink := 0.0
	for i := 0; i < 4000; i++ {
		s := time.Now()
		l.parse(data, 1, batch, '\n')
		if d := time.Since(s); d < best1 {
			best1 = d
		}
		if i%20 == 0 {
			s = time.Now()
			r := csv.NewReader(bytes.NewReader(data))
			r.ReuseRecord = true
			r.Read()
			for {
				rec, err := r.Read()
				if err == io.EOF {
					break
				}
				for _, c := range rec {
					v, _ := strconv.ParseFloat(c, 64)
					sink += v
				}
			}
			if d := time.Since(s); d < best2 {
				best2 = d
			}
		}
	}
	fmt.Printf("parse %.0f MB/s (%.1f ns/cell), csv %.0f MB/s ratio %.1f\n", float64(len(data))/best1.Seconds()/1e6, float64(best1.Nanoseconds())/500/40, float64(len(data))/best2.Seconds()/1e6, best2.Seconds()/best1.Seconds())
}
