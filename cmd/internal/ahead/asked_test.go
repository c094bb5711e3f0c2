package ahead_test

import (
	"testing"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile"
	"mashward/sim/kettles"
)

// withStand is the whole day with hops in below the boil.
func withStand(k kettles.Kettle) profile.Profile {
	p := wholeDay(k)
	last := len(p.Steps) - 1
	p.Steps = append(p.Steps[:last:last], profile.Step{Kind: profile.Stand, Target: 80, For: 15 * time.Minute, Floor: 1}, p.Steps[last])
	return p
}

// The chiller's water is closed before the reading is down at a stand, for the reading
// lags. The rest of the way is the open kettle's own, and takes ten minutes on these
// kettles: a few seconds, if the water still ran.
func TestAStandFallsByItselfOnceTheWaterIsClosed(t *testing.T) {
	for _, seed := range []uint64{5, 6} {
		b, err := prepare(seed, withStand)
		if err != nil {
			t.Fatal(err)
		}
		b.standIsForeseen(t, func(s *controller.State) bool { return s.Stage == controller.Cool && !s.ChillerOn })
	}
}

// Nobody has to hang the chiller in for a stand: where he has not come after a minute,
// the wort is taken to fall by itself all the way.
func TestAStandThatNobodyChillsFallsByItself(t *testing.T) {
	b, err := prepare(6, func(k kettles.Kettle) profile.Profile {
		p := withStand(k)
		p.Steps[len(p.Steps)-2].Target = 90 // it is there before he comes
		return p
	})
	if err != nil {
		t.Fatal(err)
	}
	b.run.Delay = 25 * time.Minute
	b.standIsForeseen(t, func(s *controller.State) bool { return s.Stage == controller.Connect && s.InStage > time.Minute })
}

// standIsForeseen runs the day and holds its band at each such second of the stand to
// when its clock began.
func (b *brew) standIsForeseen(t *testing.T, looks func(*controller.State) bool) {
	t.Helper()
	type said struct {
		at      time.Duration
		reached ahead.Span
	}
	var all []said
	var counts time.Duration
	b.run.Watchers = append(b.run.Watchers, watcher(func(f *loop.Frame) {
		d := &f.Decision
		switch {
		case d.Kind != profile.Stand:
		case d.Stage == controller.Count && counts == 0:
			counts = d.Clock
		case looks(f.State):
			if fc, ok := b.day.From(f.State); ok {
				all = append(all, said{d.Clock, fc.Steps[0].Reached})
			}
		}
	}))
	if r, err := b.run.Go(); err != nil || r.Outcome != "complete" || len(all) < 300 {
		t.Fatal(err, r.Outcome, len(all))
	}
	held := 0
	for _, s := range all {
		if counts >= s.reached.Early-15*time.Second && counts <= s.reached.Late+15*time.Second {
			held++
		}
	}
	t.Logf("kettle %d: %d of %d held; at first it said %v for %v", b.seed, held, len(all), all[0].reached.At-all[0].at, counts-all[0].at)
	if float64(held) < 0.9*float64(len(all)) {
		t.Errorf("kettle %d: the band held %d of %d", b.seed, held, len(all))
	}
}

// Whatever the batch asks for now is on the list as now: also the chiller, for which a
// boil does not wait, and a chill that gets no colder where the plan did not foresee it.
func TestWhatIsAskedForIsForecastAsNow(t *testing.T) {
	asks := map[controller.Prompt]string{
		controller.AskPour: "pour", controller.AskGrainIn: "pour", controller.AskLift: "lift", controller.AskBagClear: "lift", controller.AskDrained: "lift",
		controller.AskHereLidOff: "break", controller.AskScald: "chiller", controller.AskChiller: "chill", controller.AskChillerWater: "chill",
	}
	b, err := prepare(3, wholeDay)
	if err != nil {
		t.Fatal(err)
	}
	b.run.Delay = 4 * time.Minute
	seen := map[string]int{}
	b.run.Watchers = append(b.run.Watchers, watcher(func(f *loop.Frame) {
		d, s := &f.Decision, *f.State
		of := asks[d.Prompt]
		if d.Stage == controller.Cool && f.State.InStage > 5*time.Minute {
			s.Coldest, of = time.Second, "tap" // as it asks where it falls no more
		}
		fc, ok := b.day.From(&s)
		if staying := d.Stage == controller.Break || d.Stage == controller.Cool; ok && staying != (fc.Stay > 0) || fc.Stay > 0 && fc.Stay < d.Clock {
			t.Fatalf("at %v, %v: somebody stays until %v", d.Clock, d.Stage, fc.Stay)
		}
		if of == "" || d.Mode != controller.Running {
			return
		}
		if !ok {
			return
		}
		seen[of]++
		for _, m := range fc.Moments {
			if m.Of == of && m.At == d.Clock {
				return
			}
		}
		t.Fatalf("at %v it asks %v, and forecasts %+v", d.Clock, d.Prompt, fc.Moments)
	}))
	if r, err := b.run.Go(); err != nil || r.Outcome != "complete" {
		t.Fatal(err, r.Outcome)
	}
	for _, of := range []string{"pour", "lift", "break", "chiller", "chill", "tap"} {
		if seen[of] < 100 {
			t.Errorf("%s was asked for %d s", of, seen[of])
		}
	}
}
