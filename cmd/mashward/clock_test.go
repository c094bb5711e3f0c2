package main

import (
	"context"
	"errors"
	"hash/maphash"
	"log/slog"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/sensors"
	"mashward/sim"
)

// A day that is the same, bit by bit, whatever the wall clock says: the program
// from page to loop on the simulator, in a bubble of testing/synctest, with the
// wall clock put in its place.

// told is all of one tick: what the core was told and decided, what was permitted,
// and what is remembered.
type told struct {
	tick                controller.Tick
	decision            controller.Decision
	verdict             interlock.Verdict
	permitted           unit.Relay
	state, guard, watch uint64 // hashes
}

var hashing = maphash.MakeSeed()

// tale is a day as a watcher saw it.
type tale struct {
	mu    sync.Mutex
	ticks []told
	guard *interlock.Guard
	by    time.Duration // the run clock began so late
}

// Watch implements loop.Watcher.
func (x *tale) Watch(f *loop.Frame) {
	x.mu.Lock()
	defer x.mu.Unlock()
	now := told{tick: f.Tick, decision: f.Decision, verdict: f.Verdict, permitted: f.Permitted}
	state := *f.State
	now.tick.Now -= x.by
	now.tick.Reading.Taken -= x.by
	state.Last -= x.by
	state.Filter.Last.Taken -= x.by
	now.state = maphash.Comparable(hashing, state)
	if x.by == 0 { // they remember instants; what they say of them is in the verdict
		now.guard, now.watch = maphash.Comparable(hashing, *x.guard), maphash.Comparable(hashing, *f.Watch)
	}
	x.ticks = append(x.ticks, now)
}

// differs fails the test where another tale is another. What one of them does not
// remember is not compared.
func (x *tale) differs(t *testing.T, other *tale) {
	t.Helper()
	if len(x.ticks) != len(other.ticks) {
		t.Errorf("%d ticks, and %d", len(x.ticks), len(other.ticks))
	}
	for i := range min(len(x.ticks), len(other.ticks)) {
		a, b := x.ticks[i], other.ticks[i]
		if a.guard == 0 || b.guard == 0 {
			a.guard, a.watch, b.guard, b.watch = 0, 0, 0, 0
		}
		if a.state == 0 || b.state == 0 {
			a.state, b.state = 0, 0
		}
		if a != b {
			t.Fatalf("tick %d is another: wanted %v and %v, permitted %v and %v, %v %v and %v %v, earned %v and %v, states alike %v, memories alike %v",
				i, a.decision.Wanted, b.decision.Wanted, a.permitted, b.permitted, a.decision.Mode, a.decision.Stage, b.decision.Mode, b.decision.Stage,
				a.decision.Earned, b.decision.Earned, a.state == b.state, a.guard == b.guard && a.watch == b.watch)
		}
	}
}

// A day with everything in it that a clock could reach.
const clockDay = `profile: Under any clock
water: 20 L
grain: {mass: 3 kg, temperature: 18 °C}
steps:
  - {mash-in: 52 °C, for: 10 min}
  - {rest: 62 °C, for: 12 min}
  - lift
  - {boil: 6 min, additions: [{left: 4 min, add: hops}]}
  - {chill: 40 °C}
`

// belated is a simulated kettle whose run clock does not begin at nothing.
type belated struct {
	*daemon.Simulated
	by time.Duration
}

// Next implements loop.Pacer.
func (l *belated) Next() (time.Duration, bool) {
	now, ok := l.Simulated.Next()
	return now + l.by, ok
}

// Latest implements sensors.Probe.
func (l *belated) Latest() sensors.Reading {
	r := l.Simulated.Latest()
	r.Taken += l.by
	return r
}

// played is a program in a bubble.
type played struct {
	*testing.T
	began  time.Time
	now    func() time.Time
	boot   wall.Boot
	folder string // of profiles and records
	memory *record.Memory
	tale   *tale
	looks  []string // what could be seen from outside, now and then

	site *site
	end  func()
}

// serve begins a process.
func (p *played) serve(by time.Duration) {
	p.Helper()
	d, params, err := sampleDay()
	if err != nil {
		p.Fatal(err)
	}
	person := &rehearse.Person{Delay: time.Minute, Do: func(sim.Kind) {}, Level: func() unit.Litres { return 0 }}
	p.tale.by = by
	p.site = newSite(daemon.Options{
		RigPath: "rig.yaml", Rig: d.rig, RigText: sampleFile("rigs"), Profiles: p.folder, Records: p.folder, Plant: params,
		Storage: func(string) (record.Storage, error) { return p.memory, nil }, Simulated: true, Program: "test",
		Kettle: &belated{daemon.NewSimulated(d.rig, params, 1), by}, Now: p.now, Boot: func() wall.Boot { return p.boot },
		Log: slog.New(slog.DiscardHandler), Person: person, Watchers: []loop.Watcher{p.tale, person},
	}, notify.Options{})
	p.tale.guard = p.site.daemon.Guard()
	ctx, stop := context.WithCancel(p.Context())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		p.site.daemon.Run(ctx)
	}()
	p.end = func() {
		stop()
		<-ended
	}
}

// until looks at what can be seen every twenty minutes until it is so.
func (p *played) until(so func(*daemon.Snapshot) bool) {
	p.Helper()
	<-time.After(500 * time.Millisecond) // between two ticks
	for tick := 0; !so(p.site.daemon.Latest()); tick++ {
		if tick > 12*3600 {
			p.Fatal("never")
		}
		if tick%1200 == 600 {
			p.look()
		}
		<-time.After(time.Second)
	}
	p.look()
}

// instants are what a clock may change of what can be seen.
var instants = regexp.MustCompile(`\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)|\d{8}-\d{6}|<time[^>]*>[^<]*</time>`)

// look keeps what page, interface, readiness and metrics say, without the time of
// day.
func (p *played) look() {
	p.Helper()
	for _, path := range []string{"/", "/api/v1/state", "/-/ready", "/metrics"} {
		w := httptest.NewRecorder()
		p.site.handler.ServeHTTP(w, httptest.NewRequest("GET", "http://127.0.0.1"+path, nil))
		if w.Code != 200 {
			p.Fatalf("%s: %d\n%s", path, w.Code, w.Body)
		}
		text := instants.ReplaceAllString(w.Body.String(), "then")
		if path == "/metrics" {
			text = ours(text)
		}
		p.looks = append(p.looks, path+"\n"+text)
	}
}

// ours are the metrics of the kettle, without those of the process and the times of
// day: when the batch is thought to be done.
func ours(text string) string {
	var kept []string
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "mashward_") && !strings.Contains(line, "_timestamp_seconds{") {
			kept = append(kept, line)
		}
	}
	return strings.Join(kept, "")
}

// playUntil serves the day under a clock and starts it, and goes on with what is to
// happen then.
func playUntil(t *testing.T, clock wallClock, by time.Duration, then func(*played)) *played {
	t.Helper()
	return inBubble(t, clock, by, func(p *played) {
		if err := start(p.Context(), p.site.daemon, 20); err != nil {
			p.Fatal(err)
		}
		then(p)
	})
}

// inBubble is the program under a clock, in a bubble, and what happens to it.
func inBubble(t *testing.T, clock wallClock, by time.Duration, then func(*played)) (p *played) {
	t.Helper()
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, sampleID+".yaml"), []byte(clockDay), 0o600); err != nil {
		t.Fatal(err)
	}
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		p = &played{
			T: t, began: began, folder: folder, memory: &record.Memory{}, tale: &tale{}, boot: wall.Boot{ID: "a"},
			now: func() time.Time { return reading(clock(time.Now(), time.Since(began)), time.Since(began)) },
		}
		p.serve(by)
		then(p)
		p.end()
	})
	return p
}

func ended(s *daemon.Snapshot) bool { return s.Decision.Mode.Ended() }

// play runs the day to its end under a clock.
func play(t *testing.T, clock wallClock, by time.Duration) *played {
	t.Helper()
	return playUntil(t, clock, by, func(p *played) { p.until(ended) })
}

// playCut runs the day with an end of the program in its rest. Four minutes later
// another begins, on a computer that was started anew, and a person has it go on.
func playCut(t *testing.T, clock wallClock, boot wall.Boot) *played {
	t.Helper()
	return playUntil(t, clock, 0, func(p *played) {
		p.until(func(s *daemon.Snapshot) bool { return s.Decision.Index == 2 && s.Decision.Earned > 4*time.Minute })
		id := p.site.daemon.Latest().Batch.ID
		if now := time.Since(p.began); now < 51*time.Minute+30*time.Second || now > 53*time.Minute+30*time.Second {
			p.Errorf("it ends after %v", now)
		}
		p.end()
		path := filepath.Join(p.folder, id+daemon.RecordSuffix)
		if err := os.WriteFile(path, p.memory.Bytes, 0o600); err != nil {
			p.Fatal(err)
		}
		if err := os.Chtimes(path, p.now(), p.now()); err != nil {
			p.Fatal(err)
		}
		<-time.After(4 * time.Minute)
		p.boot, p.looks = boot, nil
		p.serve(0)
		<-time.After(5*time.Minute + 300*time.Millisecond) // between two ticks
		s := p.site.daemon.Latest()
		if s.Offer == nil {
			p.Fatalf("nothing is offered: %v", s.Decision.Mode)
		}
		stated := daemon.Statements{Litres: 21, BagClear: true, ValveShut: true, RCDTested: true}
		if r, err := p.site.daemon.GoOn(p.Context(), s.Batch.ID, stated); err != nil || !r.Accepted {
			p.Fatal(r, err)
		}
		p.until(func(s *daemon.Snapshot) bool { return s.Decision.Index > 2 })
	})
}

// recorded are the ticks and the states of a record.
func (p *played) recorded(t *testing.T) (ticks []record.Tick, states []record.Checkpoint) {
	t.Helper()
	r, err := record.Read(p.memory)
	if err != nil {
		t.Fatal(err)
	}
	for {
		b, err := r.Next()
		if err != nil {
			break
		}
		switch b.Kind {
		case record.KindTick:
			ticks = append(ticks, b.Tick)
		case record.KindStart, record.KindCheckpoint:
			states = append(states, b.Checkpoint)
		}
	}
	if len(ticks) < 3600 || len(states) < 60 {
		t.Fatalf("a record of %d ticks and %d states", len(ticks), len(states))
	}
	return ticks, states
}

// same demands that two days were the same: each tick, each record, each look.
func same(t *testing.T, one, other *played) {
	t.Helper()
	one.tale.differs(t, other.tale)
	shift := other.tale.by - one.tale.by
	ticks, states := one.recorded(t)
	again, statesAgain := other.recorded(t)
	for i := range min(len(ticks), len(again)) {
		other := again[i].In
		other.Now, other.Reading.Taken = other.Now-shift, other.Reading.Taken-shift
		if ticks[i].Hash != again[i].Hash || ticks[i].In != other || ticks[i].Permitted != again[i].Permitted {
			t.Fatalf("tick %d is recorded as another", i)
		}
	}
	if len(ticks) != len(again) || len(states) != len(statesAgain) {
		t.Errorf("%d ticks and %d states are recorded, and %d and %d", len(ticks), len(states), len(again), len(statesAgain))
	}
	for i := range min(len(states), len(statesAgain)) {
		if shift == 0 && states[i] != statesAgain[i] {
			t.Fatalf("state %d is recorded as another", i)
		}
	}
	for i := range min(len(one.looks), len(other.looks)) {
		lines, others := strings.Split(one.looks[i], "\n"), strings.Split(other.looks[i], "\n")
		for l := range min(len(lines), len(others)) {
			if lines[l] != others[l] {
				t.Fatalf("look %d at %s shows another line %d:\n%s\n%s", i, lines[0], l, lines[l], others[l])
			}
		}
		if len(lines) != len(others) {
			t.Fatalf("look %d at %s shows %d lines, and %d", i, lines[0], len(lines), len(others))
		}
	}
	if len(one.looks) != len(other.looks) || len(one.looks) < 12 {
		t.Errorf("%d looks, and %d", len(one.looks), len(other.looks))
	}
}

// TestNoWallClockChangesADay: whatever the wall clock does, the day is the same.
func TestNoWallClockChangesADay(t *testing.T) {
	plain := play(t, right, 0)
	for name, clock := range some(wallClocks(t)) {
		t.Run(name, func(t *testing.T) {
			same(t, plain, play(t, clock, 0))
		})
	}
}

// TestNoBeginningOfTheRunClockChangesADay: the clock of a board that has run for
// long, 2^31 and 2^32 ms of it passing in the middle of the day (49.7 d; counters
// of 32 bits run over there), 2^31 s, and odd fractions of a second.
func TestNoBeginningOfTheRunClockChangesADay(t *testing.T) {
	plain := play(t, right, 0)
	beginnings := []time.Duration{
		1<<32*time.Millisecond - set + 7777777, 1<<31*time.Millisecond - set, 1<<31*time.Second - set, 1, time.Second / 3, 100 * year,
	}
	if !everyClock {
		beginnings = beginnings[:1]
	}
	for _, by := range beginnings {
		t.Run(by.String(), func(t *testing.T) { same(t, plain, play(t, right, by)) })
	}
}

// TestNoWallClockChangesWhatComesAfterAPowerCut: where nobody keeps the clock, what
// it shows is not asked how long the outage was. Where it is believed, for the
// computer was not started anew, and was set meanwhile, the length of the outage
// is another and nothing else.
func TestNoWallClockChangesWhatComesAfterAPowerCut(t *testing.T) {
	unkept, kept := wall.Boot{ID: "b"}, wall.Boot{ID: "a"}
	plain := playCut(t, right, unkept)
	clocks := wallClocks(t)
	clocks["a year ahead meanwhile"] = func(now time.Time, since time.Duration) time.Time {
		if since < 54*time.Minute+30*time.Second { // the program is off from 52.5 to 56.5 min
			return now
		}
		return now.Add(year)
	}
	for name, clock := range some(clocks) {
		t.Run(name, func(t *testing.T) {
			plain.tale.differs(t, playCut(t, clock, unkept).tale)
			if !strings.HasSuffix(name, "meanwhile") {
				return
			}
			lied := playCut(t, clock, kept).tale
			for i := range lied.ticks {
				lied.ticks[i].state = 0 // the length stands in it
			}
			plain.tale.differs(t, lied)
		})
	}
}

// TestAnArmingLastsFiveMinutesByNoWallClock: whatever sets the clock in between
// neither ends it early nor keeps it.
func TestAnArmingLastsFiveMinutesByNoWallClock(t *testing.T) {
	steps := []time.Duration{-10 * year, 10 * year, 0, -4 * time.Minute, 6 * time.Minute}
	if !everyClock {
		steps = steps[:1]
	}
	for _, by := range steps {
		for wait, want := range map[time.Duration]error{4*time.Minute + 50*time.Second: nil, 5*time.Minute + 10*time.Second: daemon.ErrNonce} {
			clock := func(now time.Time, since time.Duration) time.Time {
				if since > 2*time.Minute {
					now = now.Add(by)
				}
				return now
			}
			inBubble(t, clock, 0, func(p *played) {
				d := p.site.daemon
				b, _, err := d.Rehearse(sampleID)
				if err != nil {
					p.Fatal(err)
				}
				nonce, _, err := d.Arm(sampleID, b.Hash, daemon.Statements{Litres: 20, BagClear: true, ValveShut: true, RCDTested: true})
				if err != nil {
					p.Fatal(err)
				}
				<-time.After(wait)
				if _, err := d.Begin(p.Context(), nonce); !errors.Is(err, want) {
					p.Errorf("set by %v, begun after %v: %v; want %v", by, wait, err, want)
				}
			})
		}
	}
}
