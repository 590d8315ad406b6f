package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime/pprof"
	"strconv"
	"time"

	"github.com/paintmark/paintmark/internal/kernel"
	"github.com/paintmark/paintmark/internal/runlog"
)

func main() {
	dir := os.Args[1]
	n, _ := strconv.Atoi(os.Args[2])
	cache := runlog.NewCache(filepath.Join(dir, "cache"), 0)
	path := filepath.Join(dir, "log.csv")
	channels := []runlog.Channel{{Name: "rpm", InLog: "c5", Unit: "1"}, {Name: "oil_pressure", InLog: "c1", Unit: "1"}}
	options := runlog.Options{Only: []string{"c5", "c1"}}
	stored, err := cache.Digest(path, false)
	if err != nil {
		panic(err)
	}
	if _, faults := cache.Read(context.Background(), stored, options); len(faults) > 0 {
		panic(faults.Err())
	}
	if len(os.Args) > 3 {
		f, _ := os.Create(os.Args[3])
		pprof.StartCPUProfile(f)
		defer pprof.StopCPUProfile()
	}
	for range n {
		t0 := time.Now()
		raw, _ := cache.Read(context.Background(), stored, options)
		t1 := time.Now()
		log, _ := runlog.Clean(raw, channels)
		t2 := time.Now()
		g := kernel.NewGraph()
		holds := g.Op(kernel.Or, g.Op(kernel.Less, g.Channel("rpm"), g.Const(3000)), g.Op(kernel.More, g.Channel("oil_pressure"), g.Const(3.8)))
		r := kernel.NewRunner(g, log, kernel.Options{})
		t3 := time.Now()
		total := g.Aggregate(kernel.Total, 0, g.Not(holds))
		r.Want(total)
		answer, err := r.Answer(context.Background(), total)
		if err != nil {
			panic(err)
		}
		t4 := time.Now()
		if n < 200 {
			fmt.Println(t4.Sub(t0), "read", t1.Sub(t0), "clean", t2.Sub(t1), "runner", t3.Sub(t2), "answer", t4.Sub(t3), answer.Low, answer.High)
		}
	}
}
