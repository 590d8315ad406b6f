package runlog

import (
	"bufio"
	"bytes"
	"context"
	"encoding/csv"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// benchLog writes a log of 40 columns at one rate: noise on slow waves, with
// one to three decimals, some 6.5 bytes in a cell.
func benchLog(tb testing.TB, rows int) (path string, size int64) {
	tb.Helper()
	path = filepath.Join(tb.TempDir(), "bench.csv")
	file, err := os.Create(path)
	if err != nil {
		tb.Fatal(err)
	}
	w := bufio.NewWriterSize(file, 1<<20)
	random := rand.New(rand.NewPCG(1, 2))
	const columns = 40
	w.WriteString("Time") //nolint:errcheck // Flush tells
	for i := 1; i < columns; i++ {
		w.WriteString(",c" + strconv.Itoa(i)) //nolint:errcheck // Flush tells
	}
	w.WriteByte('\n') //nolint:errcheck // Flush tells
	var line []byte
	for row := range rows {
		line = strconv.AppendFloat(line[:0], float64(row)/1000, 'f', 3, 64)
		for i := 1; i < columns; i++ {
			scale := [...]float64{5000, 10, 100, 250, 1}[i%5]
			v := scale * (math.Sin(float64(row)/float64(300+17*i)) + 0.02*random.NormFloat64())
			line = append(line, ',')
			line = strconv.AppendFloat(line, v, 'f', [...]int{0, 3, 2, 1, 4}[i%5], 64)
		}
		w.Write(append(line, '\n')) //nolint:errcheck // Flush tells
	}
	if err := w.Flush(); err != nil {
		tb.Fatal(err)
	}
	info, err := file.Stat()
	if err != nil {
		tb.Fatal(err)
	}
	if err := file.Close(); err != nil {
		tb.Fatal(err)
	}
	return path, info.Size()
}

const benchRows = 200_000 // some 50 MB

func BenchmarkRead(b *testing.B) {
	path, size := benchLog(b, benchRows)
	b.SetBytes(size)
	for b.Loop() {
		if _, faults := Read(context.Background(), path, Options{}); faults != nil {
			b.Fatal(faults)
		}
	}
}

// BenchmarkParse is the parser alone, on one processor, from memory.
func BenchmarkParse(b *testing.B) {
	path, _ := benchLog(b, 500)
	data, err := os.ReadFile(path)
	if err != nil {
		b.Fatal(err)
	}
	t, bad := openText(bytes.NewReader(data), Options{MaxBytes: MaxBytes})
	if bad != nil {
		b.Fatal(bad)
	}
	l, bad := detect(t, "bench.csv")
	if bad != nil {
		b.Fatal(bad)
	}
	data = append(data, make([]byte, spare)...)[:len(data)]
	batch := newBatch(len(l.names))
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		l.parse(data, 1, batch, '\n')
	}
	if batch.rows != 500 {
		b.Fatal(batch.rows)
	}
}

// BenchmarkEncodingCSV is the same work with the standard library.
func BenchmarkEncodingCSV(b *testing.B) {
	path, size := benchLog(b, benchRows)
	b.SetBytes(size)
	for b.Loop() {
		file, err := os.Open(path)
		if err != nil {
			b.Fatal(err)
		}
		r := csv.NewReader(bufio.NewReaderSize(file, 1<<20))
		r.ReuseRecord = true
		head, err := r.Read()
		if err != nil {
			b.Fatal(err)
		}
		columns := make([][]float64, len(head))
		for {
			record, err := r.Read()
			if err == io.EOF {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
			for i, cell := range record {
				v, err := strconv.ParseFloat(cell, 64)
				if err != nil {
					b.Fatal(err)
				}
				columns[i] = append(columns[i], v)
			}
		}
		file.Close() //nolint:errcheck // it was only read
	}
}
