package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"mashward/controller/loop"
	"mashward/controller/unit"
)

// TestMain lets this program be what the tests start: a daemon that is going to
// die, or its keeper.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == keepWord {
		in := io.Reader(os.Stdin)
		if os.Getenv("MASHWARD_TEST_KEEPER_DIES") != "" {
			in = fatal{in}
		}
		os.Exit(run(os.Args[1:], in, os.Stdout, os.Stderr))
	}
	if way := os.Getenv("MASHWARD_TEST_DIES_BY"); way != "" {
		s := serve{rig: "rig.yaml", profiles: ".", root: "/", listen: "127.0.0.1:0", speed: 1, watchers: []loop.Watcher{&death{way: way}}}
		if way == storageHangs {
			s.state, s.storage = "state", stalling
		}
		os.Exit(exitCode(s.run(context.Background(), &call{err: os.Stderr}), os.Stderr))
	}
	if os.Getenv("MASHWARD_TEST_IS_MASHWARD") != "" {
		os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	if way := os.Getenv("MASHWARD_TEST_TUNES"); way != "" {
		os.Exit(tuneToDie(way))
	}
	os.Exit(m.Run())
}

// storageHangs is no way to die.
const storageHangs = "storage that hangs"

// death comes in the third tick with heat.
type death struct {
	way   string
	ticks int
}

func (d *death) Watch(f *loop.Frame) {
	if f.Permitted == unit.On {
		d.ticks++
	}
	if d.ticks != 3 || d.way == storageHangs {
		return
	}
	d.ticks++
	fmt.Fprintln(os.Stderr, "now it dies")
	switch d.way {
	case "panic of the loop":
		panic(d.way)
	case "panic of another goroutine":
		go func() { panic(d.way) }()
	case "exit":
		os.Exit(0)
	case "deadlock of the loop":
		select {}
	}
}

const (
	dyingRig = `rig: Kettle of files
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K}
element: {power: 3000 W, relay: {driver: sysfs, line: %[1]s/relay, type: solid-state}}
probe: {driver: sysfs, id: %[1]s/probe, place: outlet, covered_at: 9 L}
`
	dyingDay = "profile: Warm water\nwater: 25 L\nsteps:\n  - {rest: 60 °C, for: 2 min}\n"
)

// TestHeatEndsWhenTheLoopDoes: what ends the loop from within the process, with
// the time from the last word of the daemon to the relay's file saying off. The
// service manager hears no more of it, and would end one that hangs.
func TestHeatEndsWhenTheLoopDoes(t *testing.T) {
	for way, within := range map[string]time.Duration{
		"panic of the loop":          time.Second,
		"panic of another goroutine": time.Second,
		"exit":                       time.Second,
		"deadlock of the loop":       3500 * time.Millisecond,
	} {
		t.Run(way, func(t *testing.T) {
			t.Parallel()
			folder := files(t)
			fed := manager(t, folder)
			said := dying(t, folder, way)
			heatUp(t, said)
			words(t, said, "now it dies")
			began := time.Now()
			tick := time.NewTicker(time.Millisecond)
			defer tick.Stop()
			for on(t, folder) {
				if <-tick.C; time.Since(began) > 10*time.Second {
					t.Fatal("it still heats after 10 s")
				}
			}
			took := time.Since(began)
			t.Logf("%-26s relay off after %4d ms", way, took.Milliseconds())
			if took > within {
				t.Errorf("off after %v, want %v", took, within)
			}
			// What was under way may still have been told; nothing may be after it.
			if first, last := fed(); first.IsZero() || last.Sub(began) > 500*time.Millisecond {
				t.Errorf("the watchdog was fed from %v to %v after that", first.Sub(began), last.Sub(began))
			}
		})
	}
}

// manager listens in a folder as a service manager does; fed tells when it heard
// the first and the last time that the daemon lives.
func manager(t *testing.T, folder string) (fed func() (first, last time.Time)) {
	t.Helper()
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: filepath.Join(folder, "notify"), Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { socket.Close() })
	var mu sync.Mutex
	var first, last time.Time
	go func() {
		b := make([]byte, 256)
		for {
			n, err := socket.Read(b)
			if err != nil {
				return
			}
			if !strings.Contains(string(b[:n]), "WATCHDOG=1") {
				continue
			}
			mu.Lock()
			if last = time.Now(); first.IsZero() {
				first = last
			}
			mu.Unlock()
		}
	}()
	return func() (time.Time, time.Time) {
		mu.Lock()
		defer mu.Unlock()
		return first, last
	}
}

// dying starts a daemon that is going to die; what it says comes line by line.
func dying(t *testing.T, folder, way string) *bufio.Scanner {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Dir = folder
	// The race detector would hold up each exit by a second.
	cmd.Env = append(os.Environ(), "MASHWARD_TEST_DIES_BY="+way, "GORACE=atexit_sleep_ms=0", "NOTIFY_SOCKET=notify")
	out, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	return bufio.NewScanner(out)
}

// words reads on to a line that has some words, and gives what they match.
func words(t *testing.T, said *bufio.Scanner, pattern string) string {
	t.Helper()
	find := regexp.MustCompile(pattern)
	var before strings.Builder
	for said.Scan() {
		before.WriteString(said.Text() + "\n")
		if m := find.FindString(said.Text()); m != "" {
			return m
		}
	}
	t.Fatalf("it never said %q:\n%s", pattern, before.String())
	return ""
}

func on(t *testing.T, folder string) bool {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(folder, "relay"))
	if err != nil {
		t.Error(err)
	}
	return strings.HasPrefix(string(text), "1")
}

// heatUp rehearses, arms and begins, as a person would.
func heatUp(t *testing.T, said *bufio.Scanner) {
	t.Helper()
	heatAt(t, words(t, said, `http://\S+`))
}

// heatAt does so at an address.
func heatAt(t *testing.T, address string) {
	t.Helper()
	request(t, http.MethodPost, address+"/api/v1/rehearsal", `{"profile": "day"}`)
	hash := word(t, request(t, http.MethodGet, address+"/api/v1/profiles/day", ""), "hash")
	nonce := word(t, request(t, http.MethodPost, address+"/api/v1/arm",
		fmt.Sprintf(`{"profile": "day", "hash": %q, "litres": 25, "bag_clear": true, "valve_shut": true, "rcd_tested": true}`, hash)), "nonce")
	request(t, http.MethodPost, address+"/api/v1/start", fmt.Sprintf(`{"nonce": %q}`, nonce))
}

// request wants an answer, and wants it good.
func request(t *testing.T, method, url, body string) []byte {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, url, bytes.NewReader([]byte(body)))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil || a.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s, %v\n%s", url, a.Status, err, text)
	}
	return text
}

// press posts nothing, and waits for an answer of any kind.
func press(url string) {
	if a, err := http.Post(url, "", nil); err == nil {
		a.Body.Close()
	}
}

// word is one text of an answer.
func word(t *testing.T, answer []byte, key string) string {
	t.Helper()
	var all map[string]any
	if err := json.Unmarshal(answer, &all); err != nil {
		t.Fatalf("%v\n%s", err, answer)
	}
	text, _ := all[key].(string)
	return text
}
