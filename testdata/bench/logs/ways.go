package main

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/apache/arrow-go/v18/arrow"
	"github.com/apache/arrow-go/v18/arrow/array"
	arrowcsv "github.com/apache/arrow-go/v18/arrow/csv"
	_ "github.com/duckdb/duckdb-go/v2"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/runlog"
)

const (
	columns     = 40 // the time among them
	csvName     = "log.csv"
	halfName    = "half.csv"
	parquetName = "log.parquet"
)

var works = []work{
	{"CSV to all columns", []way{
		{"paintmark, the file mapped and in its peak", func(dir string) (string, error) { return readOurs(filepath.Join(dir, csvName), nil) }},
		{"encoding/csv and ParseFloat", readStandard},
		{"arrow-go csv", readArrow},
		{"DuckDB, greatest of each, all processors", func(dir string) (string, error) { return duckMax(dir, "read_csv('"+filepath.Join(dir, csvName)+"')") }},
	}, []float64{0, 0.1, 0, 0.5}},
	{"CSV, twice the rows", []way{
		{"paintmark, all rows", func(dir string) (string, error) { return timesOnly(readOurs(filepath.Join(dir, csvName), nil)) }},
		{"paintmark, half of them", func(dir string) (string, error) { return timesOnly(readOurs(filepath.Join(dir, halfName), nil)) }},
	}, []float64{0, 2.2}},
	{"Parquet, 10 of 40 columns", []way{
		{"paintmark", func(dir string) (string, error) { return readOurs(filepath.Join(dir, parquetName), ten()) }},
		{"parquet-go, its page reader, all processors", readParquetGo},
		{"arrow-go, its page reader, all processors", readArrowParquet},
		{"DuckDB, ten aggregates", func(dir string) (string, error) { return "", duckTen(dir) }},
	}, []float64{0, 1, 1, 1.2}},
	{"violations of a predicate of two channels", []way{
		{"paintmark, from the warm cache", violationsOurs},
		{"DuckDB, its table in memory, of doubles", func(dir string) (string, error) {
			return violationsDuck(dir, "c1::DOUBLE AS c1, c5::DOUBLE AS c5", "c5 < 3000::DOUBLE OR c1 > 3.8::DOUBLE")
		}},
		{"DuckDB, its table in memory, as it reads the log", func(dir string) (string, error) {
			return violationsDuck(dir, "c1, c5", "c5 < 3000.0 OR c1 > 3.8")
		}},
		{"cel-go once per row, extrapolated from 1 in 20", violationsCEL},
	}, []float64{0, 1.0 / 3, 1.0 / 3, 0}},
	{"200 rules over all columns", []way{
		{"paintmark, from the warm cache", func(dir string) (string, error) { return rulesOurs(dir, manyRules) }},
		{"loops by hand, columns in memory", rulesByHand},
	}, []float64{0, 2}},
	{"twice the rules over the same columns", []way{
		{"paintmark, 200 rules", func(dir string) (string, error) { return timesOnly(rulesOurs(dir, manyRules)) }},
		{"paintmark, 100 rules", func(dir string) (string, error) { return timesOnly(rulesOurs(dir, manyRules/2)) }},
	}, []float64{0, 2}},
	{"check with 200 rules, a whole process", []way{
		{"paintmark check", wholeCheck},
		{"rules alone, and three starts of paintmark", kernelsAndStarts},
	}, []float64{0, 1.3}},
}

func timesOnly(_ string, err error) (string, error) { return "", err }

// generate writes the log: noise on slow waves, one to four decimals. The seed is fixed.
func generate(path string, rows int) error {
	file, err := os.Create(path)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(file, 1<<20)
	random := rand.New(rand.NewPCG(1, 2))
	line := []byte("Time")
	for i := 1; i < columns; i++ {
		line = fmt.Appendf(line, ",c%d", i)
	}
	for row := 0; ; row++ {
		if _, err := w.Write(append(line, '\n')); err != nil {
			return err
		}
		if row == rows {
			break
		}
		line = strconv.AppendFloat(line[:0], float64(row)/1000, 'f', 3, 64)
		for i := 1; i < columns; i++ {
			scale := [...]float64{5000, 10, 100, 250, 1}[i%5]
			v := scale * (math.Sin(float64(row)/float64(300+17*i)) + 0.02*random.NormFloat64())
			line = strconv.AppendFloat(append(line, ','), v, 'f', [...]int{0, 3, 2, 1, 4}[i%5], 64)
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return file.Close()
}

// writeHalf writes the first half of the log.
func writeHalf(dir string) error {
	from, err := os.Open(filepath.Join(dir, csvName))
	if err != nil {
		return err
	}
	defer from.Close() //nolint:errcheck // it was only read
	info, err := from.Stat()
	if err != nil {
		return err
	}
	to, err := os.Create(filepath.Join(dir, halfName))
	if err != nil {
		return err
	}
	r := bufio.NewReader(from)
	if _, err := io.CopyN(to, r, info.Size()/2); err != nil {
		return err
	}
	rest, err := r.ReadString('\n')
	if err != nil {
		return err
	}
	if _, err := to.WriteString(rest); err != nil {
		return err
	}
	return to.Close()
}

func duck() (*sql.DB, error) {
	db, err := sql.Open("duckdb", "")
	if err == nil {
		db.SetMaxOpenConns(1)
	}
	return db, err
}

func writeParquet(dir string) error {
	db, err := duck()
	if err != nil {
		return err
	}
	defer db.Close() //nolint:errcheck // nothing hangs on it
	_, err = db.Exec(fmt.Sprintf("COPY (SELECT * FROM read_csv('%s', all_varchar=false)) TO '%s' (FORMAT parquet)", filepath.Join(dir, csvName), filepath.Join(dir, parquetName)))
	return err
}

func ten() []string {
	var names []string
	for i := 1; i <= 10; i++ {
		names = append(names, fmt.Sprintf("c%d", i))
	}
	return names
}

// readOurs reads a log, and gives the sum of each column's greatest number. Finding that is not compared.
func readOurs(path string, only []string) (string, error) {
	start := time.Now()
	raw, faults := runlog.Read(context.Background(), path, runlog.Options{Only: only})
	if len(faults) > 0 {
		return "", faults.Err()
	}
	worked = time.Since(start)
	lists := make([][]float64, len(raw.Columns))
	for i := range raw.Columns {
		lists[i] = raw.Columns[i].Values
	}
	return greatest(lists), nil
}

func greatest(lists [][]float64) string {
	sum := 0.0
	for _, values := range lists {
		most := math.Inf(-1)
		for _, v := range values {
			most = max(most, v)
		}
		sum += most
	}
	return strconv.FormatFloat(sum, 'f', 6, 64)
}

func readStandard(dir string) (string, error) {
	start := time.Now()
	file, err := os.Open(filepath.Join(dir, csvName))
	if err != nil {
		return "", err
	}
	r := csv.NewReader(bufio.NewReaderSize(file, 1<<20))
	r.ReuseRecord = true
	head, err := r.Read()
	if err != nil {
		return "", err
	}
	lists := make([][]float64, len(head))
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return "", err
		}
		for i, text := range record {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return "", err
			}
			lists[i] = append(lists[i], v)
		}
	}
	worked = time.Since(start)
	return greatest(lists[1:]), nil
}

func readArrow(dir string) (string, error) {
	start := time.Now()
	file, err := os.Open(filepath.Join(dir, csvName))
	if err != nil {
		return "", err
	}
	fields := []arrow.Field{{Name: "Time", Type: arrow.PrimitiveTypes.Float64}}
	for i := 1; i < columns; i++ {
		fields = append(fields, arrow.Field{Name: fmt.Sprintf("c%d", i), Type: arrow.PrimitiveTypes.Float64})
	}
	r := arrowcsv.NewReader(bufio.NewReaderSize(file, 1<<20), arrow.NewSchema(fields, nil), arrowcsv.WithHeader(true), arrowcsv.WithChunk(1<<16))
	lists := make([][]float64, columns)
	for r.Next() {
		batch := r.RecordBatch()
		for i := range lists {
			lists[i] = append(lists[i], batch.Column(i).(*array.Float64).Float64Values()...)
		}
	}
	if err := r.Err(); err != nil {
		return "", err
	}
	worked = time.Since(start)
	return greatest(lists[1:]), nil
}

func duckMax(_, from string) (string, error) {
	start := time.Now()
	db, err := duck()
	if err != nil {
		return "", err
	}
	var parts []string
	for i := 1; i < columns; i++ {
		parts = append(parts, fmt.Sprintf("max(c%d)::DOUBLE", i))
	}
	var sum float64
	if err := db.QueryRow("SELECT " + strings.Join(parts, "+") + " FROM " + from).Scan(&sum); err != nil {
		return "", err
	}
	worked = time.Since(start)
	return strconv.FormatFloat(sum, 'f', 6, 64), nil
}

func duckTen(dir string) error {
	db, err := duck()
	if err != nil {
		return err
	}
	start := time.Now()
	var parts []string // sums: extremes stand in the file's own statistics
	for _, name := range ten() {
		parts = append(parts, "sum("+name+")::DOUBLE")
	}
	var sum float64
	err = db.QueryRow("SELECT " + strings.Join(parts, "+") + " FROM '" + filepath.Join(dir, parquetName) + "'").Scan(&sum)
	worked = time.Since(start)
	return err
}

// The predicate must hold: c5 < 3000 or c1 > 3.8. Its violations are the rows in which it does not.
func violationsOurs(dir string) (string, error) {
	cache := runlog.NewCache(filepath.Join(dir, "cache"), 0)
	path := filepath.Join(dir, csvName)
	channels := []runlog.Channel{{Name: "rpm", InLog: "c5", Unit: "1"}, {Name: "oil_pressure", InLog: "c1", Unit: "1"}}
	options := runlog.Options{Only: []string{"c5", "c1"}}
	stored, err := cache.Digest(path, false)
	if err != nil {
		return "", err
	}
	if _, faults := cache.Read(context.Background(), stored, options); len(faults) > 0 { // warm it
		return "", faults.Err()
	}
	start := time.Now()
	raw, faults := cache.Read(context.Background(), stored, options)
	if len(faults) > 0 {
		return "", faults.Err()
	}
	log, faults := runlog.Clean(raw, channels)
	if len(faults) > 0 {
		return "", faults.Err()
	}
	g := kernel.NewGraph()
	holds := g.Op(kernel.Or, g.Op(kernel.Less, g.Channel("rpm"), g.Const(3000)), g.Op(kernel.More, g.Channel("oil_pressure"), g.Const(3.8)))
	r := kernel.NewRunner(g, log, kernel.Options{})
	total := g.Aggregate(kernel.Total, 0, g.Not(holds))
	r.Want(total)
	answer, err := r.Answer(context.Background(), total)
	if err != nil {
		return "", err
	}
	worked = time.Since(start)
	// A change may lie anywhere between two rows, and the bounds leave room for that on both sides of what the
	// rows say, a row a millisecond.
	return strconv.Itoa(int(math.Round((answer.Low + answer.High) / 2 * 1000))), nil
}

// violationsDuck takes the middle one of five: of columns without a fraction DuckDB makes integers, which it must then
// convert for every compare, unless it is told to keep doubles.
func violationsDuck(dir, columns, holds string) (string, error) {
	db, err := duck()
	if err != nil {
		return "", err
	}
	if _, err := db.Exec("CREATE TABLE log AS SELECT " + columns + " FROM '" + filepath.Join(dir, parquetName) + "'"); err != nil {
		return "", err
	}
	var took []time.Duration
	var n int
	for range 5 {
		start := time.Now()
		if err := db.QueryRow("SELECT count(*) FROM log WHERE NOT (" + holds + ")").Scan(&n); err != nil {
			return "", err
		}
		took = append(took, time.Since(start))
	}
	slices.Sort(took)
	worked = took[len(took)/2]
	return strconv.Itoa(n), nil
}
