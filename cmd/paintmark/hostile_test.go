package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/paintmark/paintmark/internal/demo"
	"github.com/paintmark/paintmark/internal/pluginhost"
	pluginv1 "github.com/paintmark/paintmark/schemas/plugin/v1"
)

// hostileKinds are the ways of testdata/yard/hostile, with the one fault that comes of each. Where the
// plugin could be asked at all, its item is there and is no data.
var hostileKinds = []struct{ how, says string }{
	{"exits at start", "plugin hostile: it ended before it served; it said: no licence for this yard"},
	{"never serves", "plugin hostile: it did not serve within 4s"},
	{"floods at start", `plugin hostile: it said "noise noise noise`},
	{"speaks a newer contract", "plugin hostile: it speaks version 2 of the plugin contract, this paintmark 1: update paintmark"},
	{"speaks an older contract", "plugin hostile: it speaks version 0 of the plugin contract, this paintmark 1: build it with a newer kit"},
	{"hangs in Describe", "plugin hostile: no answer after 2s"},
	{"describes nothing of sense", `plugin hostile: it gives hostile the version "first", not one like 1.2.0`},
	{"panics", "hostile.item: panicked: no oil at main.go:"},
	{"hangs in Inspect", "hostile.item: no answer after 2s"},
	{"floods when asked", "hostile.item: no answer after 2s; it said: "},
	{"replies with 100 MB", "hostile.item: its answer is over 8 MiB"},
	{"replies with too many", "hostile.item: its answer is over 8 MiB"},
	{"trickles", "hostile.item: no answer after 2s"},
	{"is killed half way", "hostile.item: it ended before it answered"},
	{"sends garbage", "hostile.item: it answered: "},
	{"answers another check", `hostile.item: it sent a result for "brakes.pads"`},
	{"has no outcome", "hostile.item: it sent the outcome 0, which is none"},
	{"measures NaN", "hostile.item: it measured no number"},
	{"says nothing", "hostile.item: it sent a result that says nothing"},
	{"passes what is outside", "hostile.item: it passes what is not inside its limit"},
	{"calls a sensor dead", "hostile.item: it calls spans dead and is no check of health"},
	{"answers twice", `hostile.item: it sent two results for ""`},
	{"sends an empty finding", "hostile.item: it sent neither a result nor a fault"},
	{"sends nothing", "hostile.item: it sent no result"},
	{"hangs in Inspect in a conversation", "hostile.item: no answer after 2s"},
	{"floods when asked in a conversation", "hostile.item: no answer after 2s; it said: "},
	{"replies with 100 MB in a conversation", "hostile.item: its answer is over 8 MiB"},
	{"replies with too many in a conversation", "hostile.item: its answer is over 8 MiB"},
	{"is killed half way in a conversation", "hostile.item: it ended before it answered"},
	{"sends garbage in a conversation", "hostile.item: it answered: "},
	{"answers another check in a conversation", `hostile.item: it sent a result for "brakes.pads"`},
	{"answers another question in a conversation", "hostile.item: it answered what it was not asked"},
	{"has no outcome in a conversation", "hostile.item: it sent the outcome 0, which is none"},
	{"measures NaN in a conversation", "hostile.item: it measured no number"},
	{"answers twice in a conversation", `hostile.item: it sent two results for ""`},
	{"sends an empty answer in a conversation", "hostile.item: it sent no result"},
	{"sends nothing in a conversation", "hostile.item: it sent no result"},
	{"changed after it was admitted", "plugin hostile: it is not the program that was admitted: its SHA-256 starts "},
	{"floods and answers", ""},
	{"leaves a child", ""},
}

// A plugin of any kind is a fault of its own in a whole check of the demo car, in one line and with
// exit code 2; every other item is there and as it is without the plugin, those of the bundled
// plugins too, and nothing of the plugin is left running.
func TestHostilePlugins(t *testing.T) {
	if testing.Short() || runtime.GOOS != "linux" {
		t.Skip("looks at the car forty times, and for processes in /proc")
	}
	y := newHostileYard(t)
	before, code := y.check(t)
	if code != exitReady || len(before.Items) == 0 {
		t.Fatalf("without it: exit code %d, %d items", code, len(before.Items))
	}
	for _, k := range hostileKinds {
		t.Run(k.how, func(t *testing.T) {
			sum := y.admit(t, k.how)
			after, code := y.check(t)
			var others, own []hostileItem
			for _, it := range after.Items {
				if it.Rule == "hostile.item" {
					own = append(own, it)
				} else {
					others = append(others, it)
				}
			}
			if !reflect.DeepEqual(others, before.Items) {
				t.Error("another item is not what it was")
			}
			switch {
			case k.says == "":
				if code != exitReady || len(after.Faults) > 0 || len(own) != 1 || own[0].Outcome != "pass" {
					t.Errorf("exit code %d, faults %v, its items %v", code, after.Faults, own)
				}
			case code != exitFault || after.Verdict != "no-go" || len(after.Faults) != 1 || !strings.HasPrefix(after.Faults[0].What, k.says) || strings.ContainsAny(after.Faults[0].What, "\n\r"):
				t.Errorf("exit code %d, %s, faults %v; want %q", code, after.Verdict, after.Faults, k.says)
			case len(own) > 1 || len(own) == 1 && own[0].Outcome != "no data":
				t.Errorf("its items: %v", own)
			}
			if left := running(t, sum); len(left) > 0 {
				t.Errorf("left running: %v", left)
			}
		})
	}
}

// A host that is killed takes its plugins with it, whatever they are at.
func TestHostKilled(t *testing.T) {
	if testing.Short() || runtime.GOOS != "linux" {
		t.Skip("looks for processes in /proc")
	}
	y := newHostileYard(t)
	for _, how := range []string{"hangs in Inspect", "floods when asked", "trickles", "never serves"} {
		t.Run(how, func(t *testing.T) {
			sum := y.admit(t, how)
			self, err := os.Executable()
			if err != nil {
				t.Fatal(err)
			}
			host := exec.Command(self, "check", y.car)
			host.Env = append(os.Environ(), "PAINTMARK_RUN_MAIN=1")
			if err := host.Start(); err != nil {
				t.Fatal(err)
			}
			await(t, "started", func() bool { return len(running(t, sum)) > 0 })
			ours := children(t, host.Process.Pid)
			_ = host.Process.Kill()
			_ = host.Wait()
			await(t, "gone", func() bool { return len(running(t, sum)) == 0 })
			for _, pid := range ours {
				await(t, "gone", func() bool { return !alive(pid) })
			}
		})
	}
}

// hostileYard is the healthy demo car, and a hostile program to admit.
type hostileYard struct {
	car     string
	program []byte
	limits  string // as the car has them
	store   *pluginhost.Store
}

type hostileItem struct{ Rule, Position, Outcome, Message string }

type hostileReport struct {
	Verdict string
	Faults  []struct{ What string }
	Items   []hostileItem
}

func newHostileYard(t *testing.T) *hostileYard {
	t.Helper()
	dir := t.TempDir()
	y := &hostileYard{car: filepath.Join(dir, "car")}
	if err := demo.Write(y.car, true); err != nil {
		t.Fatal(err)
	}
	limits, err := os.ReadFile(filepath.Join(y.car, "limits.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	y.limits = string(limits)
	file := filepath.Join(dir, "hostile")
	build := exec.Command("go", "build", "-ldflags", "-s -w", "-o", file, "./hostile")
	build.Dir = filepath.Join(house, "testdata", "yard")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	t.Setenv("HOME", dir) // not before: the build has its own things there
	t.Setenv("XDG_CACHE_HOME", filepath.Join(dir, "cache"))
	if y.program, err = os.ReadFile(file); err != nil {
		t.Fatal(err)
	}
	if y.store, err = pluginhost.NewStore(); err != nil {
		t.Fatal(err)
	}
	return y
}

// admit has the car use a program that behaves in a way, and gives its SHA-256. What it describes is
// known, as after admitting, where that is not what it breaks.
func (y *hostileYard) admit(t *testing.T, how string) (sum string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "hostile")
	if err := os.WriteFile(file, append(bytes.Clone(y.program), "\nhow: "+how...), 0o700); err != nil {
		t.Fatal(err)
	}
	sum, err := y.store.Add(file)
	if err != nil {
		t.Fatal(err)
	}
	path, _ := y.store.Program(sum)
	t.Cleanup(func() { _ = os.Remove(path) })
	switch how {
	case "hangs in Describe", "describes nothing of sense":
	case "changed after it was admitted":
		if err := os.WriteFile(path, y.program, 0o700); err != nil {
			t.Fatal(err)
		}
		fallthrough
	default:
		d := &pluginv1.Description{Plugins: []*pluginv1.Plugin{{Name: "hostile", Version: "1.0.0", Checks: []*pluginv1.Check{{
			Id: "hostile.item", Item: "an item", System: "engine", Moments: []string{"run"}, Do: "Look.", Source: &pluginv1.Source{Kind: "practice"},
		}}}}}
		if err := y.store.Keep(sum, d); err != nil {
			t.Fatal(err)
		}
	}
	admitted := fmt.Sprintf("plugins:\n  - name: hostile\n    version: \"1.0.0\"\n    sha256: {%s: %s}\n", pluginhost.Platform(), sum)
	limits := strings.Replace(y.limits, "plugins: [", "plugins: [hostile, ", 1)
	for name, text := range map[string]string{"admitted.yaml": admitted, "limits.yaml": limits} {
		if err := os.WriteFile(filepath.Join(y.car, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return sum
}

// check looks the car over, with less patience than the program has.
func (y *hostileYard) check(t *testing.T) (r hostileReport, code int) {
	t.Helper()
	host := pluginhost.New(pluginhost.Limits{Start: 4 * time.Second, Call: 2 * time.Second, Reply: 8 << 20})
	var out bytes.Buffer
	code = runWith(t.Context(), host, []string{"check", y.car, "--format", "json"}, &out, io.Discard)
	host.Close()
	if err := json.Unmarshal(out.Bytes(), &r); err != nil {
		t.Fatalf("exit code %d: %v\n%s", code, err, &out)
	}
	return r, code
}

// running are the processes that run a copy of the program with a digest.
func running(t *testing.T, sum string) (pids []int) {
	t.Helper()
	return processes(t, func(pid int) bool {
		line, err := os.ReadFile(fmt.Sprintf("/proc/%d/cmdline", pid))
		return err == nil && bytes.Contains(line, []byte(sum))
	})
}

// children are the processes that a process has started.
func children(t *testing.T, parent int) []int {
	t.Helper()
	return processes(t, func(pid int) bool {
		stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
		_, after, _ := strings.Cut(string(stat), ") ")
		fields := strings.Fields(after)
		return err == nil && len(fields) > 1 && fields[1] == strconv.Itoa(parent)
	})
}

func processes(t *testing.T, is func(pid int) bool) (pids []int) {
	t.Helper()
	all, err := os.ReadDir("/proc")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all {
		if pid, err := strconv.Atoi(p.Name()); err == nil && alive(pid) && is(pid) {
			pids = append(pids, pid)
		}
	}
	return pids
}

// alive says that a process runs: one that has ended and was not waited for does not.
func alive(pid int) bool {
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	return err == nil && !strings.Contains(string(stat), ") Z ")
}

func await(t *testing.T, what string, done func() bool) {
	t.Helper()
	for range 400 {
		if done() {
			return
		}
		time.Sleep(25 * time.Millisecond)
	}
	t.Fatalf("it is not %s after ten seconds", what)
}
