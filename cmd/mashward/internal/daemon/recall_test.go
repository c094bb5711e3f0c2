package daemon

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile"
)

// A short day with everything in it that a power cut can hit.
const wholeDay = `profile: Short day
water: 25 L
grain: {mass: 4 kg, temperature: 18 °C}
steps:
  - {mash-in: 52 °C, for: 10 min}
  - {rest: 62 °C, for: 12 min}
  - lift
  - {boil: 12 min}
  - {chill: 40 °C}
`

// sameBoot is a computer that was not started anew.
func sameBoot() wall.Boot { return wall.Boot{ID: "7c1e", Synced: true} }

// kill ends the daemon as a kill does: what counts is what its record holds in
// this very instant, not what an orderly end adds. The new one starts after an
// outage, on the same kettle, whose lines are off.
func (b *bench) kill(outage time.Duration, set func(*Options)) {
	b.Helper()
	synctest.Wait() // what has been handed to the kernel survives a kill
	saved := b.TempDir()
	b.copyRecords(saved)
	b.end()
	pass(outage)
	b.records = saved
	if text, err := os.ReadFile(b.latched); err == nil {
		b.latched = filepath.Join(saved, "latched")
		if err := os.WriteFile(b.latched, text, 0o600); err != nil {
			b.Fatal(err)
		}
	}
	b.pan.Rearm()
	b.start(set)
}

func (b *bench) copyRecords(to string) {
	b.Helper()
	paths, err := filepath.Glob(filepath.Join(b.records, "*"+RecordSuffix))
	if err != nil {
		b.Fatal(err)
	}
	for _, p := range append(paths, filepath.Join(b.records, identityFile)) { // it is the same folder
		text, err := os.ReadFile(p)
		if err != nil {
			b.Fatal(err)
		}
		name := filepath.Join(to, filepath.Base(p))
		if err := os.WriteFile(name, text, 0o600); err != nil {
			b.Fatal(err)
		}
		if err := os.Chtimes(name, time.Now(), time.Now()); err != nil { // the clock of the bubble
			b.Fatal(err)
		}
	}
}

// start runs a daemon on what there is, and waits for its first tick.
func (b *bench) start(set func(*Options)) {
	b.Helper()
	b.seen = &lines{}
	b.serve(set)
	b.until("a tick", func(s *Snapshot) bool { return s.Number > 1 })
}

func as(*Options) {}

// answered lets the day go on, with a person who answers, until it is so.
func (b *bench) answered(what string, so func(*Snapshot) bool) *Snapshot {
	b.Helper()
	for {
		s := b.until(what, func(s *Snapshot) bool { return so(s) || say.Answer(s.Decision.Prompt) != controller.NoWish })
		if so(s) {
			return s
		}
		c := controller.Command{Wish: say.Answer(s.Decision.Prompt)}
		if c.Wish == controller.Drained {
			c.Volume = s.Batch.Say.Config.AfterLift
		}
		if r, err := b.d.Do(b.Context(), c); err != nil || !r.Accepted {
			b.Fatal(c.Wish, r, err)
		}
	}
}

// goOn makes the statements again.
func (b *bench) goOn() {
	b.Helper()
	s := b.d.Latest()
	least, most := Holds(s)
	stated := stated()
	stated.Litres = (least + most) / 2
	if s.Decision.Lifted {
		stated.Litres = float64(s.Batch.Say.Config.AfterLift)
	}
	if r, err := b.d.GoOn(b.Context(), s.Batch.ID, stated); err != nil || !r.Accepted {
		b.Fatal(r, err)
	}
}

// cold fails the test if anything has heated or pumped since the start.
func (b *bench) cold() {
	b.Helper()
	for _, f := range b.seen.frames() {
		if f.Permitted == unit.On || f.Tick.Applied == unit.On || f.Decision.Pump == unit.On || f.Decision.Armed {
			b.Fatalf("at %v: element %v, pump %v, armed %v", f.Tick.Now, f.Permitted, f.Decision.Pump, f.Decision.Armed)
		}
	}
}

// moments of the day at which it is killed.
var moments = map[string]func(*Snapshot) bool{
	"strike": func(s *Snapshot) bool { return s.Decision.Stage == controller.Heat && s.Heating == unit.On },
	"ready":  func(s *Snapshot) bool { return s.Decision.Prompt == controller.AskPour },
	"pour":   func(s *Snapshot) bool { return s.Decision.Stage == controller.Pour },
	"settle": func(s *Snapshot) bool { return s.Decision.Stage == controller.Settle },
	"rest":   func(s *Snapshot) bool { return in(s, profile.Rest) && s.Decision.Earned > 5*time.Minute },
	"heat-up": func(s *Snapshot) bool {
		return in(s, profile.Rest) && s.Decision.Stage == controller.Heat && s.Heating == unit.On
	},
	"lift":  func(s *Snapshot) bool { return s.Decision.Stage == controller.Hoist },
	"drain": func(s *Snapshot) bool { return s.Decision.Stage == controller.Drain },
	"boil":  func(s *Snapshot) bool { return in(s, profile.Boil) && s.Decision.Earned > 5*time.Minute },
}

func in(s *Snapshot, k profile.Kind) bool { return s.Decision.Kind == k }

// TestAKilledBatchIsOfferedColdAndGoesOnByAPersonsWord, wherever it was.
func TestAKilledBatchIsOfferedColdAndGoesOnByAPersonsWord(t *testing.T) {
	for moment, so := range moments {
		t.Run(moment, func(t *testing.T) {
			if testing.Short() && moment != "rest" && moment != "boil" {
				t.Skip("each moment is a whole day")
			}
			inBubble(t, func(b *bench) {
				b.write("day", wholeDay)
				b.run("day")
				before := b.answered(moment, so)
				if moment == "ready" { // a stage alone is not written down at once: half a minute of it may be lost
					pass(40 * time.Second)
					before = b.d.Latest()
				}
				b.kill(3*time.Minute, as)
				after := b.d.Latest()
				offered(b, before, after)
				pass(10 * time.Minute)
				b.cold()
				b.goOn()
				if moment != "rest" && moment != "lift" && moment != "boil" { // the rest of a day is the same
					if pass(2 * time.Minute); b.d.Latest().Decision.Mode != controller.Running {
						t.Errorf("two minutes on it is %v", b.d.Latest().Decision.Mode)
					}
					return
				}
				b.answered("complete", func(s *Snapshot) bool { return s.Decision.Mode.Ended() })
				end := b.d.Latest().Decision
				if end.Mode != controller.Complete {
					t.Errorf("it ended %v (%v)", end.Mode, end.Reason)
				}
				b.end()
				replays(b, after.Batch.ID)
			})
		})
	}
}

// offered holds an offer to what was before the kill.
func offered(b *bench, before, after *Snapshot) {
	b.Helper()
	was, is := &before.Decision, &after.Decision
	if is.Mode != controller.Offered || is.Reason != controller.PowerCut || after.Offer == nil || after.Batch.ID != before.Batch.ID {
		b.Fatalf("after the start: %v (%v), offer %+v\n%s", is.Mode, is.Reason, after.Offer, b.log)
	}
	if lost := was.Earned - is.Earned; lost > 5*time.Second || lost < -2*time.Second {
		b.Errorf("%v of earned time lost: %v, had %v", lost, is.Earned, was.Earned)
	}
	if is.Index != was.Index || is.Stage != was.Stage || is.Lifted != was.Lifted {
		b.Errorf("offered in step %d, %v; was in %d, %v", is.Index, is.Stage, was.Index, was.Stage)
	}
	o := after.Offer
	if !o.Known || o.Length < 3*time.Minute || o.Length > 3*time.Minute+40*time.Second || o.Stopped.IsZero() {
		b.Errorf("the outage of 3 min: %+v", o)
	}
	if before.Mashing && (!after.Mashing || after.Mash.Known()) { // for how long nobody saw the mash is not known to the enzymes
		b.Errorf("enzymes: mashing %v, %+v", after.Mashing, after.Mash)
	}
	if was, is := before.Late, after.Late; was == nil || is == nil || (was.Late-is.Late).Abs() > was.Clock-is.Clock+8*time.Second { // what the record has lost, and a reading or two
		b.Errorf("late before %+v, after %+v", was, is)
	}
	if len(after.History) == 0 || len(after.Log) == 0 {
		b.Errorf("%d points and %d sentences of the day before", len(after.History), len(after.Log))
	}
}

// replays demands that the record, over the restart, gives the same decisions,
// and that it ends with the batch.
func replays(b *bench, id string) {
	b.Helper()
	f, err := record.View(filepath.Join(b.records, id+RecordSuffix))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	r, err := record.Read(f)
	if err != nil {
		b.Fatal(err)
	}
	got, err := record.Replay(r)
	if err != nil || !got.Same() || !got.Exact || got.Skipped > 0 {
		b.Errorf("replay: %v, difference %v, drift %v, exact %v, %d skipped", err, got.Difference, got.Drift, got.Exact, got.Skipped)
	}
	if got.Judged != got.Ticks || len(got.Broken) > 0 {
		b.Errorf("%d of %d ticks held to what must always hold: %v", got.Judged, got.Ticks, got.Broken)
	}
	if r, err = record.Read(f); err != nil {
		b.Fatal(err)
	}
	if sum, err := record.Summarize(r); err != nil || !sum.Ended || sum.Outcome != controller.Complete {
		b.Errorf("summary: ended %v, %v, %v", sum.Ended, sum.Outcome, err)
	}
}

// A trip outlives the daemon, and so does the batch that it holds.
func TestABatchHeldByATripIsOfferedWithIt(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.write("day", wholeDay)
		b.run("day")
		b.pan.blind.Store(true)
		b.until("tripped", func(s *Snapshot) bool { return s.Trip == interlock.Stale })
		b.kill(time.Minute, func(o *Options) { o.Latched = "" }) // by its record alone
		s := b.d.Latest()
		if s.Decision.Mode != controller.Offered || s.Trip != interlock.Stale || s.Decision.Prompt != controller.AskLookAtFault {
			t.Fatalf("%v, trip %v, prompt %v", s.Decision.Mode, s.Trip, s.Decision.Prompt)
		}
		if _, err := b.d.GoOn(b.Context(), s.Batch.ID, stated()); err != ErrTripped {
			t.Errorf("going on under a trip: %v", err)
		}
		b.pan.blind.Store(false)
		pass(2 * time.Minute)
		b.cold()
		if s := b.d.Latest(); s.Trip != interlock.Stale {
			t.Errorf("the trip is %v now", s.Trip)
		}
		b.do(controller.ClearTrip)
		b.until("cleared", func(s *Snapshot) bool { return s.Trip == interlock.NoRule })
		b.goOn()
		b.until("heat", func(s *Snapshot) bool { return s.Heating == unit.On })
	})
}

// A trip that stands when the batch is over, or without one, outlives the daemon
// too; one that was cleared does not come back.
func TestNoRestartClearsATripThatNoBatchHolds(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		b.pan.blind.Store(true)
		b.until("tripped", func(s *Snapshot) bool { return s.Trip == interlock.Stale })
		b.do(controller.End)
		b.mode(controller.Aborted)
		b.kill(time.Minute, as)
		if s := b.d.Latest(); s.Decision.Mode != controller.Idle || s.Trip != interlock.Stale {
			t.Fatalf("%v, trip %v", s.Decision.Mode, s.Trip)
		}
		b.pan.blind.Store(false)
		pass(time.Minute)
		hash := b.hash("warm")
		b.d.shelf.put(hash, rehearse.Result{Outcome: "complete"})
		if _, _, err := b.d.Arm("warm", hash, stated()); !errors.Is(err, ErrTripped) {
			t.Errorf("armed under a trip: %v", err)
		}
		b.do(controller.ClearTrip)
		b.until("cleared", func(s *Snapshot) bool { return s.Trip == interlock.NoRule })
		b.kill(time.Minute, as)
		if s := b.d.Latest(); s.Trip != interlock.NoRule {
			t.Errorf("a cleared trip is back: %v", s.Trip)
		}
	})
}

// A file that makes no sense permits nothing until a person has looked.
func TestAStrangeFileOfTripsIsATrip(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.kill(time.Second, as)
		b.end()
		if err := os.WriteFile(b.latched, []byte("\x00garbage\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		b.start(as)
		if s := b.d.Latest(); s.Trip != interlock.Implausible {
			t.Errorf("trip %v", s.Trip)
		}
	})
}
