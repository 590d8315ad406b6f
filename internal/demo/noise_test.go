package demo

import (
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/paintmark/paintmark/testdata/cars"
)

// The noise that the demonstration car's baselines have, and how far its pair is apart, are those of the run they were
// taken from, worked out again from its counts: how far each is from the middle of its neighbours, put anywhere within its rounding, and of that the
// median, which of normal noise lies at 0.67449 standard deviations.
func TestBaselineNoiseIsThatOfItsRun(t *testing.T) {
	run := Run56().Record()
	one := regexp.MustCompile(`([a-z_]+): (-?[0-9.]+) ([^,}]+)`)
	files, err := fs.Glob(cars.Folders, "tern-3/baselines/*")
	if err != nil {
		t.Fatal(err)
	}
	checked, pairs := 0, 0
	for _, file := range files {
		text, err := cars.Folders.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		_, noise, _ := strings.Cut(string(text), "noise: {")
		noise, apart, _ := strings.Cut(noise, "}, apart: {")
		for _, m := range one.FindAllStringSubmatch(apart, -1) {
			pairs++
			one, other := run.Column(m[1]), run.Column(strings.TrimSuffix(m[1], "_b"))
			var off []float64
			for i, n := range one.Counts {
				off = append(off, float64(n-other.Counts[i])/10)
			}
			slices.Sort(off)
			if want := fmt.Sprint(off[len(off)/2]); m[2] != want {
				t.Errorf("%s: the record says %s, the run has %s; take it anew: paintmark baseline apart", m[1], m[2], want)
			}
		}
		for _, m := range one.FindAllStringSubmatch(noise, -1) {
			c := run.Column(m[1])
			written, err := strconv.ParseFloat(m[2], 64)
			if c == nil || err != nil || c.Unit != m[3] {
				t.Errorf("%s: %s is no channel of the run in that unit", file, m[0])
				continue
			}
			src := rand.New(rand.NewPCG(3, 1))
			var off []float64
			for i := 2; i < len(c.Counts); i++ {
				bend := float64(c.Counts[i]) - 2*float64(c.Counts[i-1]) + float64(c.Counts[i-2])
				off = append(off, math.Abs(bend+src.Float64()-0.5))
			}
			slices.Sort(off)
			want := off[len(off)/2] / 0.67449 / math.Sqrt(6) / math.Pow10(c.Decimals)
			if math.Abs(written/want-1) > 0.04 {
				t.Errorf("%s: the record says %s, the run has %.4g; take it anew: paintmark baseline noise", m[1], m[2]+" "+m[3], want)
			}
			checked++
		}
	}
	numbers := 0
	for _, c := range run.Columns {
		if c.Unit != "state" && c.Unit != "count" {
			numbers++
		}
	}
	if pairs != 1 {
		t.Errorf("the baselines have %d pairs", pairs)
	}
	if checked != numbers {
		t.Errorf("the baselines have the noise of %d of %d channels", checked, numbers)
	}
}
