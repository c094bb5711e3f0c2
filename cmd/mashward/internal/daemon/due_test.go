package daemon

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
)

// fit are facts that nothing speaks against.
func fit() due {
	return due{
		byClock: true, agree: true, age: 9 * time.Hour, readings: 10, span: 15 * time.Second,
		now: 14, least: 10, most: 18, looked: true, sameRig: true, same: true, passes: true, late: 2 * time.Second,
	}
}

func TestEachFactAloneSpeaksAgainstALaterStart(t *testing.T) {
	if why, _ := fit().against(); why != "" {
		t.Fatal(why)
	}
	if why, _ := (due{}).against(); why == "" {
		t.Error("nothing known, and nothing against it")
	}
	for name, c := range map[string]struct {
		spoil func(*due)
		why   string
		soon  bool
	}{
		"stop":     {func(f *due) { f.stopped = true }, "STOP", false},
		"trip":     {func(f *due) { f.tripped = true }, "latched", false},
		"relay":    {func(f *due) { f.relay = true }, "relay", false},
		"age":      {func(f *due) { f.age = 12*time.Hour + time.Second }, "older than 12 h", false},
		"doubt":    {func(f *due) { f.doubt = "no time server" }, "no time server", false},
		"set":      {func(f *due) { f.agree = false }, "was set", false},
		"cut":      {func(f *due) { f.cut = interlock.ProbeOut }, "cut for now", true},
		"readings": {func(f *due) { f.readings = 9 }, "good readings", true},
		"span":     {func(f *due) { f.span = 14 * time.Second }, "good readings", true},
		"cold":     {func(f *due) { f.now = 9.9 }, "left alone", false},
		"warm":     {func(f *due) { f.now = 18.1 }, "left alone", false},
		"no value": {func(f *due) { f.now = unit.Celsius(math.NaN()) }, "left alone", false},
		"unlooked": {func(f *due) { f.looked = false }, "looked at", true},
		"rig":      {func(f *due) { f.sameRig = false }, "rig file", false},
		"profile":  {func(f *due) { f.same = false }, "profile", false},
		"trial":    {func(f *due) { f.passes = false }, "rehearsal", false},
		"late":     {func(f *due) { f.late = patient + time.Second }, "passed", false},
	} {
		f := fit()
		c.spoil(&f)
		if why, soon := f.against(); !strings.Contains(why, c.why) || soon != c.soon {
			t.Errorf("%s: %q, %v", name, why, soon)
		}
	}
	f := fit()
	f.byClock, f.doubt, f.agree = false, "no time server", false
	if why, _ := f.against(); why != "" {
		t.Errorf("a length asks no wall clock: %s", why)
	}
}

// Newton's law of cooling, worked out by hand: 25 L and a vessel of 4.1 kJ/K are
// 108.5 kJ/K; with 1.5 times 7 W/K half of the way takes 7,160 s.
func TestWaterThatIsLeftAloneGoesTowardsTheRoom(t *testing.T) {
	c := controller.Config{Loss: 7, LoadWater: 108.5e3, Room: 18}
	within := func(got unit.Celsius, want float64) bool { return math.Abs(float64(got)-want) < 0.05 }
	for _, w := range []struct {
		at          unit.Celsius
		wait        time.Duration
		least, most float64
	}{
		{12, 0, 9, 15},
		{12, 7160 * time.Second, 12 - 2 - 3, 12 + 8 + 3},
		{60, 7160 * time.Second, 60 - 26 - 3, 60 + 3},
		{3, 7160 * time.Second, 1, 3 + 12.5 + 3}, // not below 1 °C
		{12, 100 * time.Hour, 8 - 3, 28 + 3},
	} {
		least, most := drifted(&c, w.at, w.wait)
		if !within(least, w.least) || !within(most, w.most) {
			t.Errorf("%v after %v: %.2f to %.2f", w.at, w.wait, least, most)
		}
	}
	c.Place = controller.Return
	if least, most := drifted(&c, 12, 0); !within(least, 5) || !within(most, 31) {
		t.Errorf("a hose: %.2f to %.2f", least, most)
	}
}

// Whatever is done to the wall clock between arming and start: it begins at its moment
// of the run clock with both clocks agreeing, or not at all, and says why.
func TestNoStepOfTheWallClockStartsHeatAtAWrongMoment(t *testing.T) {
	steps := []time.Duration{
		time.Second, 20 * time.Second, -20 * time.Second, 31 * time.Second, -31 * time.Second, -time.Minute,
		time.Hour, 14 * 24 * time.Hour, -14 * 24 * time.Hour, 10 * 365 * 24 * time.Hour, -57 * 365 * 24 * time.Hour,
	}
	rnd := rand.New(rand.NewPCG(6, 6))
	begun, kept := 0, 0
	for _, step := range steps {
		inTheEvening(t, func(e *evening) {
			b := e.waiting(soon)
			l := b.Later
			armed := e.d.Latest().Now
			if l.due-armed > 10*time.Minute {
				t.Fatalf("waits for %v: the test would be long", l.due-armed)
			}
			pass(time.Duration(rnd.Int64N(int64(l.due - armed))))
			e.step.Store(int64(step))
			pass(l.due + 3*time.Minute - e.d.Latest().Now)
			at, w := e.heated(), e.d.Latest().Waiting
			small := step.Abs() <= 30*time.Second
			switch {
			case at >= 0:
				begun++
				if !small || at < l.due || at > l.due+5*time.Second || w != nil {
					t.Errorf("set by %v: heated at %v, due at %v", step, at, l.due)
				}
			default:
				kept++
				if small || w == nil || w.Over == "" || !w.Alarm {
					t.Errorf("set by %v: not begun, %+v", step, w)
				}
			}
		})
	}
	if begun < 3 || kept < 7 {
		t.Errorf("%d begun, %d kept: it shows nothing", begun, kept)
	}
}
