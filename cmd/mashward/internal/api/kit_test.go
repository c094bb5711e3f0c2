package api

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/config"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile/strict"
	"mashward/sensors"
)

// TestMain lets the tests run, and then asks whether the document promises
// answers that none of them has met.
func TestMain(m *testing.M) {
	code := m.Run()
	whole := !testing.Short()
	for _, part := range []string{"test.run", "test.fuzz", "test.list"} {
		whole = whole && flag.Lookup(part).Value.String() == ""
	}
	if missed := promised.unseen(); code == 0 && whole && len(missed) > 0 {
		fmt.Printf("promised by the document, met by no test:\n  %s\n", strings.Join(missed, "\n  "))
		code = 1
	}
	os.Exit(code)
}

// Everything here runs in a bubble of testing/synctest: the clock moves only
// when nobody has anything left to do.

const rigText = `rig: Test kettle
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K}
element: {power: 3000 W, relay: {driver: gpio, line: GPIO17, type: solid-state}}
pump: {relay: {driver: gpio, line: GPIO27, type: mechanical}}
probe: {driver: w1, id: 28-0000075a1c3f, place: outlet, covered_at: 9 L}
`

const warm = `profile: Warm water
water: 25 L
steps:
  - {rest: 20 °C, for: 2 min}
`

const day = `profile: A short day
water: 26 L
grain: {mass: 4.6 kg, temperature: 18 °C}
steps:
  - {mash-in: 44 °C, for: 6 min}
  - {rest: 50 °C, for: 2 min}
  - {mash-out: 55 °C, for: 2 min}
  - lift
  - {boil: 5 min, additions: [{left: 4 min, add: hops}]}
  - {chill: 40 °C}
`

// pan is a simulated kettle that can be held up and lose its probe.
type pan struct {
	*daemon.Simulated
	blind atomic.Bool
	stuck atomic.Pointer[chan struct{}] // Next waits for it
	jam   atomic.Pointer[chan struct{}] // the element's driver waits for it
	loose atomic.Bool                   // the element's driver fails
}

// element is a line whose driver can hang, or fail.
type element struct {
	loop.Element
	pan *pan
}

func (e element) Hold(r unit.Relay, lease time.Duration) error {
	if c := e.pan.jam.Load(); c != nil {
		<-*c
	}
	if e.pan.loose.Load() {
		return errors.New("wire loose")
	}
	return e.Element.Hold(r, lease)
}

func (p *pan) Element() loop.Element { return element{p.Simulated.Element(), p} }

// jammed lets the element's driver hang from now on, until release is called.
func (p *pan) jammed() (release func()) {
	c := make(chan struct{})
	p.jam.Store(&c)
	return func() {
		p.jam.Store(nil)
		close(c)
	}
}

func (p *pan) Next() (time.Duration, bool) {
	if c := p.stuck.Load(); c != nil {
		<-*c
	}
	return p.Simulated.Next()
}

// hold keeps the pacer from its next tick until release is called.
func (p *pan) hold() (release func()) {
	c := make(chan struct{})
	p.stuck.Store(&c)
	return func() {
		p.stuck.Store(nil)
		close(c)
	}
}

func (p *pan) Latest() sensors.Reading {
	r := p.Simulated.Latest()
	if p.blind.Load() {
		r.Fault = sensors.Open
	}
	return r
}

// bench is a daemon with its interface.
type bench struct {
	testing.TB
	d       *daemon.Daemon
	api     *API
	pan     *pan
	folder  string
	records string
	end     func() // of the loop; waits for it
}

// settings are what a test wants otherwise.
type settings struct {
	speed    float64
	broken   bool // the rig file is
	watchers []loop.Watcher
	files    map[string]string
	records  string // "": a new folder
	notify   *notify.Options
	tuning   string // file in the folder of profiles that the rig names; "": none
	whatIf   func(*ahead.Instant, controller.Command) (ahead.Outlook, error)
}

func inBubble(t *testing.T, s settings, f func(*bench)) {
	t.Helper()
	folder := t.TempDir()
	if s.records == "" {
		s.records = t.TempDir()
	}
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t, s, folder)
		defer func() { b.end() }()
		f(b)
	})
}

func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

func newBench(t testing.TB, s settings, folder string) *bench {
	t.Helper()
	b := &bench{TB: t, folder: folder, records: s.records}
	b.write("warm", warm)
	for id, text := range s.files {
		b.write(id, text)
	}
	rig, faults := config.ParseRig("rig.yaml", []byte(rigText))
	if strict.Refused(faults) {
		t.Fatal(faults)
	}
	if s.tuning != "" {
		rig.Tuning, rig.File = s.tuning, filepath.Join(folder, "rig.yaml")
	}
	if s.speed == 0 {
		s.speed = 1
	}
	b.pan = &pan{Simulated: daemon.NewSimulated(rig, rig.Plant(), max(s.speed, 0))}
	o := daemon.Options{
		RigPath: "rig.yaml", Rig: rig, RigText: []byte(rigText), Profiles: b.folder, Records: b.records,
		Plant: rig.Plant(), Simulated: true, Program: "test", Kettle: b.pan, Now: time.Now, Log: quiet(), Watchers: s.watchers,
		WhatIf: s.whatIf,
	}
	if s.broken {
		o.Kettle = nil
		_, o.RigFaults = config.ParseRig("rig.yaml", []byte("rig: Test kettle\n"))
	}
	b.d = daemon.New(o)
	told := Options{Daemon: b.d, Records: b.records, Now: time.Now, Log: quiet()}
	if s.notify != nil {
		s.notify.Latest, s.notify.Now, s.notify.Log = b.d.Latest, time.Now, quiet()
		told.Notify = notify.New(*s.notify)
	}
	b.api = New(told)
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		b.d.Run(ctx)
	}()
	if s.notify != nil {
		go told.Notify.Run(ctx)
	}
	b.end = func() {
		cancel()
		<-ended
	}
	return b
}

func (b *bench) write(id, text string) {
	b.Helper()
	if err := os.WriteFile(filepath.Join(b.folder, id+".yaml"), []byte(text), 0o600); err != nil {
		b.Fatal(err)
	}
}

// pass lets time pass.
func pass(d time.Duration) { <-time.After(d) }

// request is one as a client sends it; header is "Name: value".
func request(method, path, body string, header ...string) *http.Request {
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	if body != "" {
		r.Header.Set("Content-Type", jsonKind)
	}
	for _, h := range header {
		name, value, _ := strings.Cut(h, ": ")
		r.Header.Set(name, value)
	}
	return r
}

// ask sends a request past the network, and holds what comes to the document.
func (b *bench) ask(method, path, body string, header ...string) *httptest.ResponseRecorder {
	b.Helper()
	r, w := request(method, Prefix+path, body, header...), httptest.NewRecorder()
	b.api.ServeHTTP(w, r)
	promised.hold(b, r, body, w)
	return w
}

func (b *bench) get(path string) *httptest.ResponseRecorder {
	b.Helper()
	return b.ask("GET", path, "")
}

// post sends JSON and demands a status.
func (b *bench) post(path, body string, status int, header ...string) *httptest.ResponseRecorder {
	b.Helper()
	w := b.ask("POST", path, body, header...)
	if w.Code != status {
		b.Fatalf("POST %s %s: %d, want %d: %s", path, body, w.Code, status, w.Body)
	}
	return w
}

// into reads an answer.
func into[T any](t testing.TB, w *httptest.ResponseRecorder) T {
	t.Helper()
	var v T
	if err := json.Unmarshal(w.Body.Bytes(), &v); err != nil {
		t.Fatalf("%v: %s", err, w.Body)
	}
	return v
}

// no demands a problem of that type and status.
func no(t testing.TB, w *httptest.ResponseRecorder, status int, name string) Problem {
	t.Helper()
	p := into[Problem](t, w)
	if w.Code != status || p.Type != "/problems/"+name {
		t.Errorf("%d %s, want %d /problems/%s: %s", w.Code, p.Type, status, name, w.Body)
	}
	return p
}

func (b *bench) state() State {
	b.Helper()
	return into[State](b, b.get("state"))
}

// until waits for a state that is as wanted, for a day at most.
func (b *bench) until(what string, so func(*daemon.Snapshot) bool) *daemon.Snapshot {
	b.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 24*time.Hour)
	defer cancel()
	for {
		changed := b.d.Changed()
		if s := b.d.Latest(); so(s) {
			return s
		}
		select {
		case <-changed:
		case <-ctx.Done():
			b.Fatalf("never: %s", what)
		}
	}
}

// rehearse rehearses a profile and gives its hash.
func (b *bench) rehearse(id string) string {
	b.Helper()
	r := into[Rehearsed](b, b.post("rehearsal", `{"profile": "`+id+`"}`, 200))
	if !r.Passed {
		b.Fatalf("%+v", r.Result)
	}
	return r.Hash
}

// toArm is the body of arm.
func toArm(id, hash string, litres float64) string {
	return fmt.Sprintf(`{"profile": %q, "hash": %q, "litres": %g, "bag_clear": true, "valve_shut": true, "rcd_tested": true}`, id, hash, litres)
}

// arm rehearses if need be, arms, and gives the body of start.
func (b *bench) arm(id string) string {
	b.Helper()
	p := into[ShownProfile](b, b.get("profiles/"+id))
	if !p.Rehearsed {
		b.rehearse(id)
	}
	litres := 25.0
	if id == "day" {
		litres = 26
	}
	return `{"nonce": "` + into[Armed](b, b.post("arm", toArm(id, p.Hash, litres), 200)).Nonce + `"}`
}

// run has a batch heating.
func (b *bench) run(id string) {
	b.Helper()
	b.post("start", b.arm(id), 200)
	b.until("heating", func(s *daemon.Snapshot) bool { return s.Heating == unit.On })
}

// tracks notes what each tick did, as a watcher.
type tracks struct {
	mu  sync.Mutex
	all []track
}

// track is all that could tell one run from another.
type track struct {
	now             time.Duration
	permitted, pump bool
	reading         float64
	duty            float64
	wish            string
	mode, step      string
	clock, earned   time.Duration
	events          uint8
}

func (x *tracks) Watch(f *loop.Frame) {
	x.mu.Lock()
	defer x.mu.Unlock()
	d := &f.Decision
	x.all = append(x.all, track{
		f.Tick.Now, f.Permitted == unit.On, d.Pump == unit.On, float64(f.Tick.Reading.Value), float64(d.Duty),
		f.Tick.Command.Wish.String(), d.Mode.String(), d.Kind.String(), d.Clock, d.Earned, d.Count,
	})
}
