// Logs compares reading and judging a log of 1.8 million rows and 40 columns with other
// ways to do the same: each in a process of its own, one after the other in turns, medians. It prints a
// table in Markdown.
// Run it in the folder above: go run ./logs
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// way is one way to do a piece of work.
type way struct {
	name string
	do   func(dir string) (answer string, err error)
}

// work is something that is done in several ways, ours first. most is how much longer ours may take
// than another, 0 where nothing is promised of the two.
type work struct {
	title string
	ways  []way
	most  []float64
}

func main() {
	rows := flag.Int("rows", 1_800_000, "rows of the log")
	turns := flag.Int("turns", 5, "turns")
	only := flag.String("only", "", "only the works whose title begins so")
	logs := flag.String("logs", "", "folder of logs made before; they are made there where it has none")
	flag.Parse()
	var err error
	if flag.Arg(0) == "touch" {
		err = touch(1536 << 20)
	} else if flag.Arg(0) == "prepare" {
		err = prepare(flag.Arg(2), *rows)
	} else if flag.NArg() == 3 {
		err = one(flag.Arg(0), flag.Arg(1), flag.Arg(2))
	} else {
		err = all(*rows, *turns, *only, *logs)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "logs:", err)
		os.Exit(1)
	}
}

// prepare writes the logs.
func prepare(dir string, rows int) error {
	if err := generate(filepath.Join(dir, csvName), rows); err != nil {
		return err
	}
	if err := writeHalf(dir); err != nil {
		return err
	}
	return writeParquet(dir)
}

// one does one piece of work in one way and prints its answer and the seconds the work took.
func one(title, name, dir string) error {
	for _, w := range works {
		for _, way := range w.ways {
			if w.title != title || way.name != name {
				continue
			}
			start := time.Now()
			answer, err := way.do(dir)
			if err != nil {
				return err
			}
			if worked != 0 { // the way itself knows better what belongs to the work
				fmt.Println(worked.Seconds(), answer)
			} else {
				fmt.Println(time.Since(start).Seconds(), answer)
			}
			return nil
		}
	}
	return errors.New("no such work")
}

// worked is set by ways that must prepare something that is not compared.
var worked time.Duration

func all(rows, turns int, only, dir string) error {
	self, err := os.Executable()
	if err != nil {
		return err
	}
	if dir == "" {
		if dir, err = os.MkdirTemp("", "logs"); err != nil {
			return err
		}
		defer os.RemoveAll(dir) //nolint:errcheck // nothing hangs on it
	}
	if _, err := os.Stat(filepath.Join(dir, parquetName)); err != nil { // it is written last
		// In a process of its own: what this one has used once would count as the peak of all it starts.
		prepare := exec.Command(self, "-rows", strconv.Itoa(rows), "prepare", "", dir)
		prepare.Stderr = os.Stderr
		if err := prepare.Run(); err != nil {
			return err
		}
	}
	if err := buildPaintmark(dir); err != nil {
		return err
	}
	info, err := os.Stat(filepath.Join(dir, csvName))
	if err != nil {
		return err
	}
	fmt.Printf("%d rows, %d columns, %d MB of CSV; medians of %d turns; %d processors, %s, %s/%s.\n\n", rows, columns, info.Size()/1e6, turns, runtime.NumCPU(), processor(), runtime.GOOS, runtime.GOARCH)
	fmt.Println("| work | done by | ms | peak MiB | ours / this | at most |")
	fmt.Println("|---|---|---:|---:|---:|---:|")
	for _, w := range works {
		if !strings.HasPrefix(w.title, only) {
			continue
		}
		seconds, peak, answers := make([][]float64, len(w.ways)), make([]int64, len(w.ways)), make([]string, len(w.ways))
		for turn := range turns {
			for i, way := range w.ways {
				if turn > 2 && slices.Min(seconds[i]) > 3 { // the slow ones are slow for sure
					continue
				}
				if err := exec.Command(self, "touch").Run(); err != nil {
					return err
				}
				cmd := exec.Command(self, w.title, way.name, dir)
				cmd.Stderr = os.Stderr
				out, err := cmd.Output()
				if err != nil {
					return fmt.Errorf("%s, %s: %w", w.title, way.name, err)
				}
				took, answer, _ := strings.Cut(strings.TrimSpace(string(out)), " ")
				s, err := strconv.ParseFloat(took, 64)
				if err != nil {
					return err
				}
				seconds[i], answers[i] = append(seconds[i], s), answer
				if usage, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
					peak[i] = max(peak[i], usage.Maxrss/1024)
				}
			}
		}
		ours := median(seconds[0])
		for i, way := range w.ways {
			title, ratio, most := w.title, "", ""
			if i > 0 {
				title, ratio = "", fmt.Sprintf("%.3f", ours/median(seconds[i]))
				if w.most[i] > 0 {
					most = fmt.Sprintf("%.2f", w.most[i])
				}
			}
			fmt.Printf("| %s | %s | %.1f | %d | %s | %s |\n", title, way.name, 1000*median(seconds[i]), peak[i], ratio, most)
			if answers[i] != "" && answers[0] != "" && answers[i] != answers[0] {
				return fmt.Errorf("%s: %s answers %s, %s %s", w.title, w.ways[0].name, answers[0], way.name, answers[i])
			}
		}
	}
	return nil
}

// processor is what the machine says it computes with.
func processor() string {
	text, _ := os.ReadFile("/proc/cpuinfo") // elsewhere it is not said
	for line := range strings.Lines(string(text)) {
		if name, ok := strings.CutPrefix(line, "model name"); ok {
			return strings.TrimLeft(strings.TrimSpace(name), ": \t")
		}
	}
	return "of an unknown kind"
}

// touch uses so much memory once, before every process that is measured. A virtual machine has to ask its
// host again for memory that was idle for some seconds, which takes several times as long as the machine's
// own part of a page fault: who comes after one that used much would be spared it, and who does not would not.
func touch(size int) error {
	const hugePages = 14 // MADV_HUGEPAGE
	memory, err := syscall.Mmap(-1, 0, size, syscall.PROT_READ|syscall.PROT_WRITE, syscall.MAP_ANON|syscall.MAP_PRIVATE)
	if err != nil {
		return err
	}
	_ = syscall.Madvise(memory, hugePages) // smaller ones do too
	for i := 0; i < size; i += 4096 {
		memory[i] = 1
	}
	return nil
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	return x[len(x)/2]
}
