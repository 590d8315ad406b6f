package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"github.com/paintmark/paintmark/internal/demo"
)

// drive writes the log of a run as the vehicle model drives it: drive FILE NUMBER [FAULT...],
// where stopped=SECONDS cuts it off, as a kill switch does.
func drive(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: drive FILE NUMBER [FAULT...] [stopped=SECONDS]")
	}
	number, err := strconv.Atoi(args[1])
	ts.Check(err)
	run := demo.HealthyRun57()
	run.Number, run.Seed = number, uint64(number)
	stopped := 0
	for _, word := range args[2:] {
		switch word {
		case "wing":
			run.Faults = append(run.Faults, demo.Fault{Kind: demo.WingSlow, At: 24.5, For: 1.5, Size: 0.50})
		case "oil-sensor":
			run.Faults = append(run.Faults, demo.Fault{Kind: demo.OilSensorOpen, At: 22.1})
		case "gearbox-hot":
			run.Faults = append(run.Faults, demo.Fault{Kind: demo.GearboxHot, Size: 122})
		case "cold": // it stood overnight
			run.OilStart, run.WaterAt, run.BoxStart = run.Air, run.Air, run.Air
		case "crash":
			run.Faults = append(run.Faults, demo.Fault{Kind: demo.GearCrash, At: 20, Size: 0.118})
		default:
			seconds, ok := strings.CutPrefix(word, "stopped=")
			if stopped, err = strconv.Atoi(seconds); !ok || err != nil {
				ts.Fatalf("drive: no fault %q", word)
			}
		}
	}
	log := run.Record().CSV()
	if stopped > 0 {
		log = cutAt(log, stopped)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), log, 0o666))
}

// cutAt leaves out the rows of a log from a second on.
func cutAt(log []byte, second int) []byte {
	at := bytes.Index(log, []byte("\n"+strconv.Itoa(second)+"."))
	if at < 0 {
		return log
	}
	return log[:at+1]
}

// backTo takes out of a car folder what was written from a time on: backto DIR 20260516T000000Z.
func backTo(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: backto DIR TIME")
	}
	records, err := filepath.Glob(filepath.Join(ts.MkAbs(args[0]), "*", "2*Z-*.yaml"))
	ts.Check(err)
	for _, r := range records {
		if filepath.Base(r) >= args[1] {
			ts.Check(os.Remove(r))
		}
	}
}

// TestTurnaroundTakesFewCommands counts what is typed between a run's return and the call, in
// the script of the event day. More than twelve are not typed in twenty-five minutes.
func TestTurnaroundTakesFewCommands(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(house, "testdata", "scripts", "event-day.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	_, after, ok1 := strings.Cut(string(text), "\n# 09:46 ")
	turn, _, ok2 := strings.Cut(after, "\n# 10:11 ")
	if !ok1 || !ok2 {
		t.Fatal("the script has no turnaround from 09:46 to 10:11")
	}
	var typed []string
	for line := range strings.Lines(turn) {
		if words := strings.Fields(line); len(words) > 2 && words[0] == "exits" && words[2] == "paintmark" {
			typed = append(typed, words[3])
		}
		for _, editor := range []string{"cp ", "mv ", "rm ", "exec "} {
			if strings.HasPrefix(line, editor) {
				t.Errorf("not done by a command: %s", line)
			}
		}
	}
	if len(typed) > 12 || len(typed) < 8 {
		t.Errorf("%d commands in the turnaround: %s", len(typed), strings.Join(typed, ", "))
	}
}
