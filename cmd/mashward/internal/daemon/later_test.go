package daemon

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
)

// A bubble begins in 2000; these days begin in the summer of 2027.
const toSummer = 27*365*24*time.Hour + 180*24*time.Hour

// soonDone is over soon after its strike: what is rehearsed takes less of a test.
const soonDone = `profile: Short day
water: 25 L
grain: {mass: 4 kg, temperature: 18 °C}
steps:
  - {mash-in: 52 °C, for: 2 min}
`

// evening is a daemon whose clocks can part and whose files can change.
type evening struct {
	*bench
	step     atomic.Int64 // ns by which the wall clock was set
	unsynced atomic.Bool
	rig      string // file
	waits    string // file
}

func (e *evening) now() time.Time {
	return time.Now().Round(0).Add(toSummer + time.Duration(e.step.Load()))
}

func (e *evening) boot() wall.Boot {
	b := sameBoot()
	b.Synced = !e.unsynced.Load()
	return b
}

func (e *evening) set(o *Options) { o.Now, o.Boot, o.RigPath, o.Waits = e.now, e.boot, e.rig, e.waits }

// inTheEvening has a day in the folder, rehearsed, and a kettle filled with cold water.
func inTheEvening(t *testing.T, f func(*evening)) {
	t.Helper()
	inTheEveningWith(t, func(*Options) {}, f)
}

func inTheEveningWith(t *testing.T, more func(*Options), f func(*evening)) {
	t.Helper()
	folder := t.TempDir()
	e := &evening{rig: filepath.Join(folder, "rig.yaml"), waits: filepath.Join(folder, "waits")}
	if err := os.WriteFile(e.rig, []byte(rigText), 0o600); err != nil {
		t.Fatal(err)
	}
	set := func(o *Options) {
		e.set(o)
		more(o)
	}
	inBubbleWith(t, set, func(b *bench) {
		e.bench = b
		b.write("day", soonDone)
		b.d.shelf.put(b.hash("day"), dayRehearsed(t))
		pass(5 * time.Second)
		f(e)
	})
}

// dayRehearsed is how the rehearsal of that day goes, done once.
func dayRehearsed(t *testing.T) rehearse.Result {
	t.Helper()
	r, err := rehearsedOnce()
	if err != nil || r.Outcome != "complete" {
		t.Fatal(r.Outcome, err)
	}
	return r
}

var rehearsedOnce = sync.OnceValues(func() (rehearse.Result, error) {
	rig, _ := config.ParseRig("rig.yaml", []byte(rigText))
	p, _ := profile.Parse("day.yaml", []byte(soonDone))
	made, _ := plan.Make(p, rig.PlanKettle())
	d := Daemon{o: Options{Rig: rig, Plant: rig.Plant()}}
	return d.rehearsal(&Batch{Profile: p, Plan: made})
})

// wish arms the day for strike water that is hot in so long, by the clock.
func (e *evening) wish(in time.Duration) (*Batch, error) {
	e.Helper()
	s := stated()
	s.ReadyAt = e.now().Add(in)
	return e.wishSo(s)
}

func (e *evening) wishSo(s Statements) (*Batch, error) {
	nonce, b, err := e.d.Arm("day", e.hash("day"), s)
	if err != nil {
		return nil, err
	}
	r, err := e.d.Begin(e.Context(), nonce)
	if err == nil && !r.Accepted {
		err = errors.New(r.Why.String())
	}
	return b, err
}

// waiting arms and demands that it waits.
func (e *evening) waiting(in time.Duration) *Batch {
	e.Helper()
	b, err := e.wish(in)
	if err != nil {
		e.Fatal(err)
	}
	if w := e.d.Latest().Waiting; w == nil || w.Over != "" || w.Batch != b {
		e.Fatalf("%+v", w)
	}
	return b
}

// soon is when water is wished that takes 35 min and its margin.
const soon = 42 * time.Minute

// still does something while the loop stands between two ticks.
func (e *evening) still(f func()) {
	release := e.pan.hold()
	pass(2 * time.Second)
	if !e.pan.waiting.Load() {
		e.Fatal("the loop goes on")
	}
	f()
	release()
}

// heated is the run clock at which the element was on for the first time; -1: never.
func (e *evening) heated() time.Duration {
	frames := e.seen.frames()
	for i := range frames {
		if f := &frames[i]; f.Permitted == unit.On || f.Decision.Wanted == unit.On {
			return f.Tick.Now
		}
	}
	return -1
}

func TestStrikeWaterIsHotWhenItWasWished(t *testing.T) {
	inTheEvening(t, func(e *evening) {
		b := e.waiting(time.Hour)
		l := b.Later
		if l.Latest != l.Ready.Add(-l.Needs) || l.Heats != l.Latest.Add(-l.Margin) || l.Margin < 5*time.Minute || l.Needs < 20*time.Minute || l.Needs > 40*time.Minute {
			t.Errorf("%+v", l)
		}
		ready := e.until("ready", func(s *Snapshot) bool { return s.Decision.Prompt == controller.AskPour })
		if early := l.Ready.Sub(ready.Wall); early < 0 || early > 15*time.Minute {
			t.Errorf("ready %v before its time", early)
		}
		if at := e.heated(); at < l.due || at > l.due+5*time.Second {
			t.Errorf("heats at %v, was to at %v", at, l.due)
		}
		if ready.Waiting != nil || ready.Batch.Later != l || ready.Batch.Armed.Sub(l.Heats).Abs() > 5*time.Second {
			t.Errorf("%+v", ready.Waiting)
		}
		if !strings.Contains(ready.Log[0].Text+ready.Log[1].Text, "Begun by itself, armed at") {
			t.Errorf("%+v", ready.Log)
		}
		// Nobody comes: heat is off 2 h after it was ready, and nothing went beyond it.
		end := e.mode(controller.Aborted)
		if held := end.Wall.Sub(ready.Wall); held > 2*time.Hour+5*time.Second || end.Decision.Reason != controller.NobodyCame || end.Decision.Index != 0 {
			t.Errorf("%v, %v in step %d", held, end.Decision.Reason, end.Decision.Index)
		}
		pass(time.Minute)
		e.lawful(end.Batch, "armed at")
	})
}

// lawful replays a record, which holds every tick to the laws, and looks for a note.
func (e *evening) lawful(b *Batch, note string) {
	e.Helper()
	path := filepath.Join(e.records, b.ID+RecordSuffix)
	f, err := record.View(path)
	if err != nil {
		e.Fatal(err)
	}
	defer f.Close()
	r, err := record.Read(f)
	if err != nil {
		e.Fatal(err)
	}
	result, err := record.Replay(r)
	if err != nil || result.Difference != nil || result.Ticks < 1000 || result.Judged < 1000 || len(result.Broken) > 0 {
		e.Errorf("%+v, %v", result, err)
	}
	if text, _ := os.ReadFile(path); !strings.Contains(string(text), note) {
		e.Errorf("no %q in the record", note)
	}
}

// coldFor demands that nothing heats, for what reason it says.
func (e *evening) cold(by time.Duration, why string, alarm bool) {
	e.Helper()
	pass(by)
	if at := e.heated(); at >= 0 {
		e.Errorf("heated at %v", at)
	}
	w := e.d.Latest().Waiting
	if w == nil || !strings.Contains(w.Over, why) || w.Over == "" || w.Alarm != alarm {
		e.Errorf("%+v, want %q", w, why)
	}
	if mode := e.d.Latest().Decision.Mode; mode != controller.Idle {
		e.Error(mode)
	}
	records, _ := filepath.Glob(filepath.Join(e.records, "*"+RecordSuffix))
	if len(records) > 0 {
		e.Errorf("left behind: %v", records)
	}
}

func TestEachReasonAloneKeepsAStrikeThatWasArmedForLaterFromHeating(t *testing.T) {
	for name, c := range map[string]struct {
		happens func(*evening)
		why     string
		quiet   bool // somebody wanted it so
	}{
		"STOP": {func(e *evening) {
			go e.d.Stop(context.WithoutCancel(e.Context())) // the loop answers when it goes on
		}, "STOP was pressed", true},
		"a heat cut":                {func(e *evening) { e.d.loop.Guard.Marks[interlock.HeatingWhileOff].State = interlock.Tripped }, "a heat cut is latched", false},
		"the clock is not kept":     {func(e *evening) { e.unsynced.Store(true) }, "no time server", false},
		"the clock is set by 1 min": {func(e *evening) { e.step.Store(int64(time.Minute)) }, "was set since", false},
		"the clock is set back":     {func(e *evening) { e.step.Store(-int64(2 * time.Hour)) }, "was set since", false},
		"the clock goes to 1970":    {func(e *evening) { e.step.Store(-int64(57 * 365 * 24 * time.Hour)) }, "before this program was made", false},
		"the probe is lost":         {func(e *evening) { e.pan.blind.Store(true) }, "does not give good readings", false},
		"warm":                      {func(e *evening) { e.pan.Plant().Warm(24) }, "left alone", false},
		"the probe hangs out":       {func(e *evening) { e.pan.Plant().Warm(4) }, "left alone", false},
		"another rig file":          {func(e *evening) { e.change(e.rig, rigText+"# \n") }, "rig file", false},
		"another tuning":            {func(e *evening) { e.d.o.Rig.Found = &config.Tuning{Name: "older"} }, "its tuning", false},
		"another profile":           {func(e *evening) { e.write("day", soonDone+"# \n") }, "the profile", false},
		"no profile":                {func(e *evening) { os.Remove(filepath.Join(e.folder, "day.yaml")) }, "the profile", false},
		"it does not pass any more": {func(e *evening) { e.d.o.Plant.Element.Power = 300 }, "rehearsal", false},
	} {
		t.Run(name, func(t *testing.T) {
			inTheEvening(t, func(e *evening) {
				b := e.waiting(soon)
				pass(30 * time.Second)
				e.still(func() { c.happens(e) })
				e.cold(b.Later.due+3*time.Minute, c.why, !c.quiet)
			})
		})
	}
}

func (e *evening) change(path, text string) {
	e.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		e.Fatal(err)
	}
}

// A loop that was away over the moment does not begin afterwards.
func TestWhatHasPassedItsMomentDoesNotBegin(t *testing.T) {
	inTheEvening(t, func(e *evening) {
		b := e.waiting(soon)
		pass(b.Later.due - e.d.Latest().Now - 30*time.Second)
		e.still(func() {
			for range 200 { // seconds in which nobody looks
				e.pan.Simulated.Next()
			}
		})
		e.cold(10*time.Minute, "", true)
	})
}

func TestALaterStartIsRefusedWithAReason(t *testing.T) {
	at := func(in time.Duration) func(*evening) Statements {
		return func(e *evening) Statements {
			s := stated()
			s.ReadyAt = e.now().Add(in)
			return s
		}
	}
	for name, c := range map[string]struct {
		say func(*evening) Statements
		why string
	}{
		"too soon":     {at(10 * time.Minute), "at the earliest"},
		"yesterday":    {at(-time.Hour), "at the earliest"},
		"too far":      {at(14 * time.Hour), "good for 12 h"},
		"both":         {func(e *evening) Statements { s := at(time.Hour)(e); s.ReadyIn = time.Hour; return s }, "not both"},
		"nothing said": {func(e *evening) Statements { s := at(time.Hour)(e); s.RCDTested = false; return s }, "RCD"},
		"no length":    {func(*evening) Statements { s := stated(); s.ReadyIn = -time.Hour; return s }, "at the earliest"},
		"unsynced":     {func(e *evening) Statements { e.unsynced.Store(true); return at(2 * time.Hour)(e) }, "say in how long"},
		"1970": {func(e *evening) Statements {
			e.step.Store(-int64(57 * 365 * 24 * time.Hour))
			pass(2 * time.Second)
			return at(2 * time.Hour)(e)
		}, "1970"},
		"blind": {func(e *evening) Statements { e.pan.blind.Store(true); pass(time.Minute); return at(2 * time.Hour)(e) }, "no good reading"},
	} {
		t.Run(name, func(t *testing.T) {
			inTheEvening(t, func(e *evening) {
				_, err := e.wishSo(c.say(e))
				var unstated *Unstated
				if !errors.As(err, &unstated) || !strings.Contains(err.Error(), c.why) {
					t.Error(err)
				}
				if e.d.Latest().Waiting != nil {
					t.Error("it waits")
				}
			})
		})
	}
	inTheEvening(t, func(e *evening) { // water that waits for nobody
		e.arm("warm")
		s := stated()
		s.ReadyIn = 3 * time.Hour
		if _, _, err := e.d.Arm("warm", e.hash("warm"), s); err == nil || !strings.Contains(err.Error(), "no mash-in") {
			t.Error(err)
		}
	})
}

// A board without a time server: it is said how long, and no wall clock is asked.
func TestALengthNeedsNoWallClock(t *testing.T) {
	inTheEvening(t, func(e *evening) {
		e.unsynced.Store(true)
		s := stated()
		s.ReadyIn = soon
		b, err := e.wishSo(s)
		if err != nil {
			t.Fatal(err)
		}
		e.step.Store(int64(9 * 365 * 24 * time.Hour))
		e.until("ready", func(s *Snapshot) bool { return s.Decision.Prompt == controller.AskPour })
		if at := e.heated(); at < b.Later.due || at > b.Later.due+5*time.Second {
			t.Errorf("%v, due %v", at, b.Later.due)
		}
	})
}

func TestWhatWaitsIsCalledOffAndTheKettleIsFreeAgain(t *testing.T) {
	inTheEvening(t, func(e *evening) {
		e.waiting(time.Hour)
		if _, err := e.wish(3 * time.Hour); !errors.Is(err, ErrWaiting) {
			t.Error(err)
		}
		// A start that was sent before the other began to wait, and is taken after it.
		other, _, err := e.d.Plan("day")
		if err != nil {
			t.Fatal(err)
		}
		r, err := e.d.send(e.Context(), &order{command: controller.Command{Wish: controller.Start}, batch: other, after: e.d.queue.stops.Load()})
		if err != nil || r.Accepted || e.d.Latest().Waiting == nil {
			t.Errorf("%+v, %v", r, err)
		}
		pass(10 * time.Minute)
		if r, err := e.d.Do(e.Context(), controller.Command{Wish: controller.End}); err != nil || !r.Accepted {
			t.Fatal(r, err)
		}
		if w := e.d.Latest().Waiting; w != nil {
			t.Errorf("%+v", w)
		}
		pass(time.Hour)
		if at := e.heated(); at >= 0 {
			t.Errorf("heated at %v", at)
		}
		if r, err := e.d.CallOff(e.Context()); err != nil || r.Accepted {
			t.Error("called off what is not there", r, err)
		}
		e.waiting(soon)
		e.until("heating", func(s *Snapshot) bool { return s.Heating == unit.On })
	})
}

func TestNoRestartStartsWhatWasArmedForLater(t *testing.T) {
	for name, kill := range map[string]bool{"killed": true, "ended in order": false} {
		t.Run(name, func(t *testing.T) {
			inTheEvening(t, func(e *evening) {
				b := e.waiting(soon)
				pass(time.Minute)
				if kill {
					e.kill(5*time.Minute, e.set)
				} else {
					e.end()
					e.serve(e.set)
				}
				e.cold(30*time.Minute, `mashward ended while "Short day" waited to heat at `+b.Later.Heats.Format("15:04"), true)
				e.d.shelf.put(e.hash("day"), dayRehearsed(t))
				e.waiting(soon) // a person arms anew
				e.until("heating", func(s *Snapshot) bool { return s.Heating == unit.On })
				pass(2 * time.Second)
				if text, err := os.ReadFile(e.waits); err != nil || len(text) > 0 {
					t.Errorf("%q, %v", text, err)
				}
			})
		})
	}
}

// A trip between arming and start, which the loop sees first.
func TestNothingIsPutOffWhileATripStands(t *testing.T) {
	inTheEvening(t, func(e *evening) {
		s := stated()
		s.ReadyIn = time.Hour
		_, b, err := e.d.Arm("day", e.hash("day"), s)
		if err != nil {
			t.Fatal(err)
		}
		e.still(func() { e.d.loop.Guard.Marks[interlock.HeatingWhileOff].State = interlock.Tripped })
		pass(2 * time.Second)
		r, err := e.d.send(e.Context(), &order{batch: b, after: e.d.queue.stops.Load()})
		if err != nil || r.Accepted || e.d.Latest().Waiting != nil {
			t.Errorf("%+v, %v", r, err)
		}
	})
}
