package daemon

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sensors"
)

// Everything here runs in a bubble of testing/synctest: the clock moves only
// when nobody has anything left to do, so that a kettle at its own speed is
// quick and exact.

const rigText = `rig: Test kettle
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K}
element: {power: 3000 W, relay: {driver: gpio, line: GPIO17, type: solid-state}}
pump: {relay: {driver: gpio, line: GPIO27, type: mechanical}}
probe: {driver: w1, id: 28-0000075a1c3f, place: outlet, covered_at: 9 L}
`

// One rest of water, a little above the tap's 12 °C: over in some ten minutes.
const profileText = `profile: Warm water
water: 25 L
steps:
  - {rest: 20 °C, for: 2 min}
`

// pan is a simulated kettle that can be held up, loses its probe, and tells
// what was done to it.
type pan struct {
	*Simulated
	blind   atomic.Bool
	stuck   atomic.Pointer[chan struct{}] // Next waits for it
	waiting atomic.Bool                   // Next does

	mu   sync.Mutex
	done []string
}

func (p *pan) Next() (time.Duration, bool) {
	if c := p.stuck.Load(); c != nil {
		p.waiting.Store(true)
		<-*c
		p.waiting.Store(false)
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

func (p *pan) Drop() {
	p.Simulated.Drop()
	p.did("drop")
}

func (p *pan) Rearm() {
	p.Simulated.Rearm()
	p.did("rearm")
}

// Restore leaves it as it is: this kettle outlives the daemon.
func (p *pan) Restore(profile.Profile, controller.State) {}

func (p *pan) did(what string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done = append(p.done, what)
}

func (p *pan) deeds() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.done)
}

// lines notes what each tick did, as a watcher.
type lines struct {
	mu  sync.Mutex
	all []loop.Frame
}

func (l *lines) Watch(f *loop.Frame) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.all = append(l.all, *f)
}

func (l *lines) frames() []loop.Frame {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.all[:len(l.all):len(l.all)]
}

// bench is a daemon with everything around it.
type bench struct {
	*testing.T
	d       *Daemon
	pan     *pan
	seen    *lines
	folder  string
	records string
	latched string // file
	log     *text
	end     func() // and waits for it
}

// text is a log that can be read while it is written.
type text struct {
	mu  sync.Mutex
	all []byte
}

func (x *text) Write(p []byte) (int, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.all = append(x.all, p...)
	return len(p), nil
}

func (x *text) String() string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return string(x.all)
}

// inBubble runs a daemon at real speed on a clock of its own.
func inBubble(t *testing.T, f func(*bench)) { inBubbleWith(t, func(*Options) {}, f) }

func inBubbleWith(t *testing.T, set func(*Options), f func(*bench)) {
	t.Helper()
	folder, records := t.TempDir(), t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		b := &bench{T: t, folder: folder, records: records, seen: &lines{}, log: &text{}, latched: filepath.Join(records, "latched")}
		b.write("warm", profileText)
		rig, faults := config.ParseRig("rig.yaml", []byte(rigText))
		if strict.Refused(faults) {
			t.Fatal(faults)
		}
		b.pan = &pan{Simulated: NewSimulated(rig, rig.Plant(), 1)}
		b.serve(set)
		defer func() { b.end() }()
		f(b)
	})
}

// serve runs a daemon on what there is.
func (b *bench) serve(set func(*Options)) {
	b.Helper()
	rig, _ := config.ParseRig("rig.yaml", []byte(rigText))
	o := Options{
		RigPath: "rig.yaml", Rig: rig, RigText: []byte(rigText), Profiles: b.folder, Records: b.records, Latched: b.latched,
		Plant: rig.Plant(), Simulated: true, Program: "test", Kettle: b.pan, Now: time.Now, Boot: sameBoot,
		Log: slog.New(slog.NewTextHandler(b.log, nil)), Watchers: []loop.Watcher{b.seen},
	}
	set(&o)
	b.d = New(o)
	ctx, cancel := context.WithCancel(b.Context())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		b.d.Run(ctx)
	}()
	b.end = func() {
		cancel()
		<-ended
	}
}

func (b *bench) write(id, text string) {
	b.Helper()
	if err := os.WriteFile(filepath.Join(b.folder, id+".yaml"), []byte(text), 0o600); err != nil {
		b.Fatal(err)
	}
}

// pass lets time pass.
func pass(d time.Duration) { <-time.After(d) }

// until waits for a snapshot that is as wanted, for a day at most.
func (b *bench) until(what string, so func(*Snapshot) bool) *Snapshot {
	b.Helper()
	ctx, cancel := context.WithTimeout(b.Context(), 24*time.Hour)
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

func (b *bench) mode(m controller.Mode) *Snapshot {
	b.Helper()
	return b.until(m.String(), func(s *Snapshot) bool { return s.Decision.Mode == m })
}

// stated are all four statements.
func stated() Statements {
	return Statements{Litres: 25, BagClear: true, ValveShut: true, RCDTested: true}
}

// hash is that of a profile in the folder.
func (b *bench) hash(id string) string {
	b.Helper()
	p, _, err := b.d.Plan(id)
	if err != nil {
		b.Fatal(err)
	}
	return p.Hash
}

// arm arms the profile as if it had been rehearsed.
func (b *bench) arm(id string) string {
	b.Helper()
	hash := b.hash(id)
	b.d.shelf.put(hash, rehearse.Result{Outcome: "complete"})
	nonce, _, err := b.d.Arm(id, hash, stated())
	if err != nil {
		b.Fatal(err)
	}
	return nonce
}

// run arms and begins, and waits until the element heats.
func (b *bench) run(id string) {
	b.Helper()
	r, err := b.d.Begin(b.Context(), b.arm(id))
	if err != nil || !r.Accepted {
		b.Fatal(r, err)
	}
	b.until("heating", func(s *Snapshot) bool { return s.Heating == unit.On })
}

func (b *bench) do(w controller.Wish) {
	b.Helper()
	if r, err := b.d.Do(b.Context(), controller.Command{Wish: w}); err != nil || !r.Accepted {
		b.Fatal(w, r, err)
	}
}

// dropped tells whether both lines would refuse heat.
func (b *bench) dropped() bool {
	return b.pan.Element().Hold(unit.On, loop.Lease) != nil
}

type frame = loop.Frame
