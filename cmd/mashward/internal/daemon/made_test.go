package daemon

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/say"
	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/enzyme"
)

// made rehearses, arms and begins a profile that was made.
func (e *evening) made(id string, litres float64) *Batch {
	e.Helper()
	_, r, err := e.d.Rehearse(id)
	if err != nil || r.Outcome != "complete" {
		e.Fatal(r.Outcome, r.Reason, err)
	}
	s := stated()
	s.Litres = litres
	nonce, b, err := e.d.Arm(id, e.hash(id), s)
	if err != nil {
		e.Fatal(err)
	}
	if r, err := e.d.Begin(e.Context(), nonce); err != nil || !r.Accepted {
		e.Fatal(r, err)
	}
	return b
}

func (e *evening) byHand(h ByHand) string {
	e.Helper()
	id, err := e.d.ByHandID(h)
	if err != nil {
		e.Fatal(err)
	}
	return id
}

func TestWaterIsHeatedByHandKeptAndOffByItself(t *testing.T) {
	inTheEvening(t, func(e *evening) {
		b := e.made(e.byHand(ByHand{Litres: 20, Target: 40, Hold: 30 * time.Minute}), 20)
		if b.Profile.Name != "20 L at 40 °C for 30 min" || !b.Profile.ByHand() {
			t.Errorf("%q", b.Profile.Name)
		}
		e.until("there", func(s *Snapshot) bool { return s.Decision.Reached })
		if s := e.d.Latest(); s.Limit != 45 || s.Decision.Target != 40 {
			t.Errorf("limit %v, target %v", s.Limit, s.Decision.Target)
		}
		began := e.d.Latest().Decision.Clock
		s := e.mode(controller.Complete)
		if kept := s.Decision.Clock - began; kept < 29*time.Minute || kept > 31*time.Minute || s.Heating != unit.Off {
			t.Errorf("kept for %v", kept)
		}
		pass(time.Minute)
		e.lawful(b, "20 L at 40 °C")
	})
}

// Heat only: it is off a minute after the water is hot.
func TestWaterIsHeatedAndNoMore(t *testing.T) {
	inTheEvening(t, func(e *evening) {
		b := e.made(e.byHand(ByHand{Litres: 20, Target: 30, Cleaning: true}), 20)
		if !strings.Contains(b.Plan.Cautions[0], "goggles and gloves") || b.Profile.Use != profile.Cleaning {
			t.Errorf("%q", b.Plan.Cautions)
		}
		e.until("there", func(s *Snapshot) bool { return s.Decision.Reached })
		at := e.d.Latest().Decision.Clock
		if s := e.mode(controller.Complete); s.Decision.Clock-at > 65*time.Second {
			t.Errorf("on for %v more", s.Decision.Clock-at)
		}
	})
}

// Whatever a person makes of it: made longer, paused, or a kettle too full for the
// plan, heat ends 4 h after the start, and no press brings it back.
func TestWaterByHandIsOffAfterFourHours(t *testing.T) {
	unrecorded := func(o *Options) { o.Records = "" } // four hours of syncs take as long as a real disk
	inTheEveningWith(t, unrecorded, func(e *evening) {
		e.made(e.byHand(ByHand{Litres: 20, Target: 30, Hold: time.Hour}), 20)
		e.until("there", func(s *Snapshot) bool { return s.Decision.Reached })
		if r, err := e.d.Do(e.Context(), controller.Command{Wish: controller.Extend, By: 5 * time.Hour}); err != nil || !r.Accepted {
			t.Fatal(r, err)
		}
		s := e.mode(controller.Held)
		if c := s.Decision.Clock; c < 4*time.Hour || c > 4*time.Hour+3*time.Second || s.Decision.Reason != controller.NotArmed {
			t.Errorf("%v after %v", s.Decision.Reason, c)
		}
		if r, err := e.d.Do(e.Context(), controller.Command{Wish: controller.Resume}); err != nil || r.Accepted || r.Why != controller.ArmingOver {
			t.Error(r, err)
		}
		frames := e.seen.frames()
		for i := range frames {
			if f := &frames[i]; f.Permitted == unit.On && f.Decision.Clock > 4*time.Hour {
				t.Fatalf("heats at %v", f.Decision.Clock)
			}
		}
		// The interlock alone would have cut it too.
		if l := e.d.loop.Limits; l.ArmedFor != 4*time.Hour || l.MashCeiling != 35 {
			t.Errorf("%+v", l)
		}
	})
}

func TestUntilATimeIsALengthFromTheArmingOn(t *testing.T) {
	inTheEvening(t, func(e *evening) {
		until := e.now().Add(60 * time.Minute).Truncate(time.Minute)
		id := e.byHand(ByHand{Litres: 20, Target: 30, Until: until})
		pass(7 * time.Minute) // looked at and rehearsed
		b := e.made(id, 20)
		e.step.Store(int64(9 * 365 * 24 * time.Hour)) // nobody asks that clock any more
		s := e.mode(controller.Complete)
		if off := until.Sub(s.Wall.Add(-time.Duration(e.step.Load()))); off < -5*time.Minute || off > 5*time.Minute {
			t.Errorf("ended %v before its time; it is kept for %v", off, b.Profile.Steps[0].For)
		}
		if !strings.HasPrefix(b.Profile.Name, "20 L at 30 °C for 4") {
			t.Error(b.Profile.Name)
		}
	})
	inTheEvening(t, func(e *evening) { // the clock was set between choice and arming
		id := e.byHand(ByHand{Litres: 20, Target: 30, Until: e.now().Add(60 * time.Minute)})
		if _, _, err := e.d.Rehearse(id); err != nil {
			t.Fatal(err)
		}
		s := stated()
		s.Litres = 20
		e.step.Store(-int64(time.Hour))
		if _, _, err := e.d.Arm(id, e.hash(id), s); !errors.Is(err, ErrChanged) {
			t.Error("set back:", err)
		}
		e.step.Store(int64(2 * time.Hour))
		if _, _, err := e.d.Arm(id, e.hash(id), s); err == nil || !strings.Contains(err.Error(), "cannot be kept until then") {
			t.Error("set on:", err)
		}
		e.unsynced.Store(true)
		e.step.Store(0)
		if _, _, err := e.d.Arm(id, e.hash(id), s); err == nil || !strings.Contains(err.Error(), "no time server") {
			t.Error("not kept:", err)
		}
	})
}

func TestWhatCannotBeDoneByHandIsRefused(t *testing.T) {
	inTheEvening(t, func(e *evening) {
		for name, h := range map[string]ByHand{
			"no water":   {Target: 40},
			"no target":  {Litres: 20},
			"too long":   {Litres: 20, Target: 40, Hold: 4*time.Hour + time.Second},
			"both":       {Litres: 20, Target: 40, Hold: time.Hour, Until: e.now().Add(2 * time.Hour)},
			"past":       {Litres: 20, Target: 40, Until: e.now().Add(-time.Minute)},
			"too late":   {Litres: 20, Target: 40, Until: e.now().Add(5 * time.Hour)},
			"backwards":  {Litres: 20, Target: 40, Hold: -time.Minute},
			"above 100":  {Litres: 20, Target: 101},
			"no figures": {Litres: math.Inf(1), Target: 40},
		} {
			var unstated *Unstated
			if id, err := e.d.ByHandID(h); !errors.As(err, &unstated) {
				t.Errorf("%s: %s, %v", name, id, err)
			}
		}
		for name, h := range map[string]ByHand{
			"near the boil":   {Litres: 20, Target: 93, Hold: time.Minute},
			"4 h and heating": {Litres: 20, Target: 40, Hold: 4 * time.Hour},
			"element bare":    {Litres: 11, Target: 40, Hold: time.Minute},
			"over the rim":    {Litres: 60, Target: 40, Hold: time.Minute},
		} {
			var refused *Refusal
			if _, _, err := e.d.Rehearse(e.byHand(h)); !errors.As(err, &refused) {
				t.Errorf("%s: %v", name, err)
			}
		}
		for _, id := range []string{"~by-hand~", "~by-hand~20000~40000", "~by-hand~20000~40000~60~x", "~by-hand~020000~40000~60", "~by-hand~20000~40000~99999999", "~water-brew~", "~water-brew~nowhere", "~water-brew~~water-brew~day", "~water-brew~../day", "~boil~20000~40000~60", "~"} {
			if _, _, err := e.d.Plan(id); !errors.Is(err, ErrNoProfile) {
				t.Errorf("%s: %v", id, err)
			}
		}
	})
}

// The whole day with water: each prompt comes, and it is told from a mash.
func TestAWaterBrewGoesThroughTheWholeDay(t *testing.T) {
	inTheEvening(t, func(e *evening) {
		e.write("day", wholeDay)
		b := e.made(WaterBrewOf("day"), 25)
		asked := map[controller.Prompt]bool{}
		for {
			s := e.until("something", func(s *Snapshot) bool {
				return s.Decision.Mode.Ended() || s.Decision.Mode == controller.Held || s.Decision.Prompt != controller.NoPrompt
			})
			p := s.Decision.Prompt
			if p == controller.NoPrompt {
				break
			}
			if asked[p] && p != controller.AskDidGrainGo {
				t.Fatalf("%v twice", p)
			}
			asked[p] = true
			text := b.Say.Prompt(p)
			if p == controller.AskPour && !strings.Contains(text, "Pour nothing") {
				t.Error(text)
			}
			e.do(say.Answer(p))
			pass(2 * time.Second)
		}
		s := e.d.Latest()
		if s.Decision.Mode != controller.Complete || s.Decision.Clock > 3*time.Hour {
			t.Fatalf("%v (%v) after %v: %v", s.Decision.Mode, s.Decision.Reason, s.Decision.Clock, s.Log)
		}
		for _, p := range []controller.Prompt{controller.AskPour, controller.AskGrainIn, controller.AskLift, controller.AskBagClear, controller.AskDrained, controller.AskHereLidOff, controller.AskChiller} {
			if !asked[p] {
				t.Errorf("%v was not asked", p)
			}
		}
		if s.Mashing || s.Mash != (enzyme.State{}) || e.d.learner != nil {
			t.Error("its water was followed as a mash")
		}
		if b.Profile.Name != "Water brew: Short day" {
			t.Error(b.Profile.Name)
		}
		pass(time.Minute)
		e.lawful(b, "water-brew")
		if left, _ := filepath.Glob(filepath.Join(e.folder, "*")); len(left) != 2 { // warm and day
			t.Errorf("%v", left)
		}
	})
	inTheEvening(t, func(e *evening) { // another brew since it was looked at
		e.write("day", wholeDay)
		id := WaterBrewOf("day")
		hash := e.hash(id)
		if _, _, err := e.d.Rehearse(id); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(e.folder, "day.yaml"), []byte(strings.Replace(wholeDay, "62 °C", "64 °C", 1)), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, _, err := e.d.Arm(id, hash, stated()); !errors.Is(err, ErrChanged) {
			t.Error(err)
		}
		if _, _, err := e.d.Plan(WaterBrewOf("warm")); err == nil || !strings.Contains(err.Error(), "no grain") {
			t.Error(err)
		}
	})
}
