package daemon

import (
	"math"
	"testing"
	"time"

	"mashward/controller"
	"mashward/profile"
)

// The plan that people see is that of the grain as it was weighed, also in the process
// after a crash; the limit stays as it was armed.
func TestGrainAsItWasWeighedIsInThePlanAlsoAfterACrash(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.write("day", wholeDay)
		b.run("day")
		armed := b.d.Latest()
		r, err := b.d.Do(b.Context(), controller.Command{Wish: controller.GrainIs, Grain: 4.4, At: 10})
		if err != nil || !r.Accepted {
			t.Fatal(r, err)
		}
		holds := func(s *Snapshot, when string) {
			t.Helper()
			p := s.Batch.Plan
			if p.Grain.Mass != 4.4 || s.Batch.Say.Profile.Grain.Temperature != 10 || s.Batch.Say.Config.AfterLift >= armed.Batch.Say.Config.AfterLift {
				t.Errorf("%s: %+v", when, p.Grain)
			}
			if !p.Wort.Known || p.Wort.Original.Gravity <= armed.Batch.Plan.Wort.Original.Gravity || math.Abs(s.Wort.Original.Gravity-float64(p.Wort.Original.Gravity)) > 0.0002 {
				t.Errorf("%s: %+v, %+v", when, p.Wort.Original, s.Wort)
			}
			if s.Decision.Armed && s.Limit != armed.Limit {
				t.Errorf("%s: the limit is %.2f °C, was %.2f °C", when, float64(s.Limit), float64(armed.Limit))
			}
		}
		now := b.d.Latest()
		holds(now, "told")
		if math.Abs(float64(now.Decision.Target-now.Batch.Plan.Strike.Temperature)) > 0.01 {
			t.Errorf("the strike is at %.2f °C, its plan has %.2f °C", float64(now.Decision.Target), float64(now.Batch.Plan.Strike.Temperature))
		}
		before := b.answered("resting", func(s *Snapshot) bool { return in(s, profile.MashIn) && s.Decision.Earned > 5*time.Minute })
		b.kill(3*time.Minute, as)
		after := b.d.Latest()
		offered(b, before, after)
		holds(after, "offered")
		if armed.Batch.Plan.Grain.Mass != 4 {
			t.Error("what was shown has changed in the hands of those who look")
		}
	})
}
