package daemon

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
	"mashward/profile"
)

// runWithin arms the day with an outage after which it may go on by itself.
func (b *bench) runWithin(within time.Duration) {
	b.Helper()
	b.write("day", wholeDay)
	b.arm("day")
	s := stated()
	s.ResumeWithin = within
	nonce, _, err := b.d.Arm("day", b.hash("day"), s)
	if err != nil {
		b.Fatal(err)
	}
	if r, err := b.d.Begin(b.Context(), nonce); err != nil || !r.Accepted {
		b.Fatal(r, err)
	}
}

// byItself tells whether it goes on without a person within five minutes, and
// holds it to being cold until then, and to why not.
func (b *bench) byItself() bool {
	b.Helper()
	pass(5 * time.Minute)
	s := b.d.Latest()
	if s.Decision.Mode == controller.Offered {
		b.cold()
		if s.Offer.Alone == "" {
			b.Error("it does not say why it does not go on by itself")
		}
		return false
	}
	first := time.Duration(0)
	for _, f := range b.seen.frames() {
		switch {
		case f.Decision.Mode != controller.Offered:
			if !strings.Contains(b.log.String(), "offered") || f.Tick.Now-first < readSpan {
				b.Errorf("it went on after %v", f.Tick.Now-first)
			}
			return true
		case first == 0:
			first = f.Tick.Now
		case f.Permitted == unit.On || f.Decision.Pump == unit.On:
			b.Error("it heats or pumps while it is offered")
		}
	}
	return true
}

func resting(s *Snapshot) bool { return in(s, profile.Rest) && s.Decision.Earned > 3*time.Minute }

// TestABatchGoesOnByItselfOnlyAsItWasChosen: through the daemon, the one case in
// which it does, and what is wrong with each of the others.
func TestABatchGoesOnByItselfOnlyAsItWasChosen(t *testing.T) {
	otherRig := func(o *Options) {
		o.RigText = []byte(rigText + "# changed\n")
	}
	clockless := func(o *Options) { o.Boot = func() wall.Boot { return wall.Boot{ID: "another"} } }
	unknown := func(o *Options) { o.Boot = nil }
	for name, c := range map[string]struct {
		within, away time.Duration
		at           func(*Snapshot) bool
		change       func(*bench)
		set          func(*Options)
		want         bool
	}{
		"as chosen":      {10 * time.Minute, 4 * time.Minute, resting, nil, as, true},
		"in the strike":  {10 * time.Minute, 4 * time.Minute, moments["strike"], nil, as, true},
		"not chosen":     {0, time.Minute, resting, nil, as, false},
		"too long":       {3 * time.Minute, 4 * time.Minute, resting, nil, as, false},
		"in the boil":    {10 * time.Minute, 4 * time.Minute, moments["boil"], nil, as, false},
		"in the lift":    {10 * time.Minute, 4 * time.Minute, moments["drain"], nil, as, false},
		"on another rig": {10 * time.Minute, 4 * time.Minute, resting, nil, otherRig, false},
		// The kettle has not cooled: by its temperature it can have been ten minutes.
		"no clock, short by the temperature":    {30 * time.Minute, time.Hour, resting, nil, clockless, true},
		"no clock, too long by the temperature": {5 * time.Minute, time.Hour, resting, nil, clockless, false},
		"nobody knows the boot":                 {10 * time.Minute, 4 * time.Minute, resting, nil, unknown, false},
		"after four restarts":                   {10 * time.Minute, 4 * time.Minute, resting, nil, func(o *Options) { o.Restarts = 4 }, false},
		"profile changed": {10 * time.Minute, 4 * time.Minute, resting, func(b *bench) {
			b.write("day", wholeDay+"# changed\n")
		}, as, false},
		"held": {10 * time.Minute, 4 * time.Minute, resting, func(b *bench) {
			if _, err := b.d.Stop(b.Context()); err != nil {
				b.Fatal(err)
			}
		}, as, false},
		"another kettle's temperature": {10 * time.Minute, 4 * time.Minute, resting, nil, func(o *Options) {
			o.Kettle.(*pan).Plant().Warm(30)
		}, false},
	} {
		t.Run(name, func(t *testing.T) {
			if testing.Short() && !c.want && name != "held" {
				t.Skip("each is a day up to there")
			}
			inBubble(t, func(b *bench) {
				b.runWithin(c.within)
				b.answered(name, c.at)
				if c.change != nil {
					c.change(b)
				}
				b.kill(c.away, c.set)
				if c.within == 0 {
					pass(5 * time.Minute)
					b.cold()
					return
				}
				if got := b.byItself(); got != c.want {
					t.Errorf("by itself: %v, offer %+v", got, b.d.Latest().Offer)
				}
			})
		})
	}
}

// STOP between the start and the word to go on is heard.
func TestSTOPKeepsAnOfferedBatchFromGoingOnByItself(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.runWithin(10 * time.Minute)
		b.answered("rest", resting)
		b.kill(time.Minute, as)
		if _, err := b.d.Stop(b.Context()); err != nil {
			t.Fatal(err)
		}
		if b.byItself() {
			t.Error("it goes on after STOP")
		}
		b.goOn() // a person's word still counts
		b.mode(controller.Running)
	})
}

// STOP in the very instant in which it has been decided that it goes on: nothing
// that was decided before it happens after it.
func TestSTOPAtTheLastInstantIsHeard(t *testing.T) {
	ready := func(b *bench) {
		b.runWithin(10 * time.Minute)
		b.answered("rest", resting)
		b.kill(time.Minute, as)
	}
	var decided uint64 // the tick in which it is
	inBubble(t, func(b *bench) {
		ready(b)
		decided = b.mode(controller.Running).Number - 1
	})
	inBubble(t, func(b *bench) {
		ready(b)
		b.until("decided", func(s *Snapshot) bool { return s.Number == decided })
		if _, err := b.d.Stop(b.Context()); err != nil {
			t.Fatal(err)
		}
		pass(5 * time.Minute)
		if m := b.d.Latest().Decision.Mode; m != controller.Offered {
			t.Errorf("after STOP it is %v", m)
		}
		b.cold()
	})
}

// Two crashes in a row are one outage: the second does not make it short again.
func TestASecondCrashDoesNotMakeTheOutageShort(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.runWithin(10 * time.Minute)
		b.answered("rest", resting)
		b.kill(15*time.Minute, as)
		b.until("too long", func(s *Snapshot) bool { return s.Offer != nil && s.Offer.Alone != "" })
		b.kill(10*time.Second, as)
		if b.byItself() {
			t.Error("it went on")
		}
		if o := b.d.Latest().Offer; o == nil || o.Length < 15*time.Minute {
			t.Errorf("%+v", o)
		}
	})
}

func TestGoingOnIsRefusedOnAnotherRigAndWithoutTheStatements(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.runWithin(0)
		b.answered("rest", resting)
		b.kill(time.Minute, func(o *Options) { o.RigText = []byte(rigText + "# changed\n") })
		id := b.d.Latest().Batch.ID
		if _, err := b.d.GoOn(b.Context(), id, stated()); !errors.Is(err, ErrOtherRig) {
			t.Error(err)
		}
		b.kill(time.Minute, as)
		for name, s := range map[string]Statements{
			"nothing": {}, "too little": {Litres: 20, BagClear: true, ValveShut: true, RCDTested: true},
			"too much": {Litres: 40, BagClear: true, ValveShut: true, RCDTested: true}, "no number": {Litres: math.NaN(), BagClear: true, ValveShut: true, RCDTested: true},
			"bag": {Litres: 25, ValveShut: true, RCDTested: true}, "valve": {Litres: 25, BagClear: true, RCDTested: true}, "RCD": {Litres: 25, BagClear: true, ValveShut: true},
		} {
			var unstated *Unstated
			if _, err := b.d.GoOn(b.Context(), id, s); !errors.As(err, &unstated) {
				t.Errorf("%s: %v", name, err)
			}
		}
		for _, w := range []controller.Wish{controller.TakeUp, controller.TakeUpAlone} {
			if r, err := b.d.Do(b.Context(), controller.Command{Wish: w, Volume: 25}); err != nil || r.Accepted {
				t.Error(w, r, err)
			}
		}
		if _, err := b.d.GoOn(b.Context(), "another", stated()); !errors.Is(err, ErrNotOffered) {
			t.Error(err)
		}
		pass(time.Minute)
		b.cold()
		b.do(controller.End)
		b.mode(controller.Stopped)
		b.kill(time.Minute, as)
		if s := b.d.Latest(); s.Decision.Mode != controller.Idle || s.Offer != nil {
			t.Errorf("after its end: %v", s.Decision.Mode)
		}
	})
}

// A record with a torn end, and one of a simulated kettle on a real one.
func TestWhatIsNoOrdinaryRecordIsNotTakenForOne(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.runWithin(0)
		before := b.answered("rest", resting)
		b.kill(time.Minute, func(o *Options) { o.Simulated = false })
		if s := b.d.Latest(); s.Decision.Mode != controller.Idle {
			t.Errorf("a simulated batch is offered on a real kettle: %v", s.Decision.Mode)
		}
		b.tear(7)
		b.kill(time.Minute, as)
		offeredAgain(b, before)
		b.end()
		b.records = b.TempDir()
		if err := os.WriteFile(filepath.Join(b.records, "20000101-000000-abcdef"+RecordSuffix), nil, 0o600); err != nil {
			t.Fatal(err)
		}
		b.start(as)
		if s := b.d.Latest(); s.Decision.Mode != controller.Idle {
			t.Errorf("an empty record: %v", s.Decision.Mode)
		}
	})
}

// tear takes bytes from the end of each record.
func (b *bench) tear(n int64) {
	b.Helper()
	paths, _ := filepath.Glob(filepath.Join(b.records, "*"+RecordSuffix))
	for _, p := range paths {
		about, err := os.Stat(p)
		if err == nil {
			err = os.Truncate(p, about.Size()-n)
		}
		if err != nil {
			b.Fatal(err)
		}
	}
}

func offeredAgain(b *bench, before *Snapshot) {
	b.Helper()
	s := b.d.Latest()
	if s.Decision.Mode != controller.Offered || s.Decision.Earned < before.Decision.Earned-10*time.Second {
		b.Errorf("torn: %v, earned %v, had %v\n%s", s.Decision.Mode, s.Decision.Earned, before.Decision.Earned, b.log)
	}
}

// An outage that no clock tells is reasoned from the fall of the temperature.
func TestTheFallOfTheTemperatureTellsHowLongAnOutageWas(t *testing.T) {
	c := controller.Config{Loss: 7, Room: 18}
	s := controller.State{Load: 120e3, Outage: controller.Outage{At: 62, Read: true}}
	at := func(minutes float64) unit.Celsius {
		return 18 + unit.Celsius(44*math.Exp(-7*minutes*60/120e3))
	}
	for _, minutes := range []float64{5, 30, 90, 240} {
		got := cooling(&c, &s, at(minutes))
		if want := time.Duration(minutes * float64(time.Minute)); !got.Known || got.Least > want || got.Most < want || (got.About-want).Abs() > time.Second {
			t.Errorf("%v min: %+v", minutes, got)
		}
		for _, factor := range []float64{1.0 / 1.4, 1.4} { // the lid is on, or off, otherwise than declared
			really := time.Duration(minutes * factor * float64(time.Minute))
			if got.Least > really || got.Most < really {
				t.Errorf("%v min at another loss: %v is not within %+v", minutes, really, got)
			}
		}
	}
	cold := s
	cold.Outage.At = 20
	unread := s
	unread.Outage.Read = false
	for name, got := range map[string]Cooling{
		"cold from the start": cooling(&c, &cold, 19), "cold by now": cooling(&c, &s, 20), "never read": cooling(&c, &unread, 50),
		"no loss": cooling(&controller.Config{Room: 18}, &s, 50), "no load": cooling(&c, &controller.State{Outage: s.Outage}, 50),
	} {
		if got.Known {
			t.Errorf("%s: %+v", name, got)
		}
	}
	if got := cooling(&c, &s, 70); got.About != 0 || got.Least != 0 {
		t.Errorf("warmer than before: %+v", got)
	}
}

// Without a clock that can be trusted the page says what the temperature tells.
func TestAnOutageWithoutAClockIsToldByTheTemperature(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.runWithin(0)
		b.answered("rest", resting)
		b.kill(20*time.Minute, func(o *Options) {
			o.Boot = func() wall.Boot { return wall.Boot{ID: "another", Synced: false} } // 1970, or hours off
		})
		if o := b.d.Latest().Offer; o == nil || o.Known || !o.Stopped.IsZero() || o.Weighed || o.Cause == "" {
			t.Fatalf("%+v", o)
		}
		s := b.until("weighed", func(s *Snapshot) bool { return s.Offer.Weighed })
		if !s.Offer.Cooled.Known || s.Trip != interlock.NoRule {
			t.Errorf("%+v", s.Offer)
		}
	})
}
