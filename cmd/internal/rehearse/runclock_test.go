package rehearse

import (
	"math"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile"
	"mashward/sensors"
)

// wrong is a kettle whose run clock runs wrong: fast by a share, or ahead from a
// moment on.
type wrong struct {
	*Simulated
	fast  float64
	ahead time.Duration
	from  time.Duration
}

// at is what the run clock shows at a true moment.
func (k *wrong) at(true time.Duration) time.Duration {
	shows := true + time.Duration(k.fast*float64(true))
	if k.ahead != 0 && true >= k.from {
		shows += k.ahead
	}
	return shows
}

// Next implements loop.Pacer.
func (k *wrong) Next() (time.Duration, bool) {
	now, ok := k.Simulated.Next()
	return k.at(now), ok
}

// Latest implements sensors.Probe.
func (k *wrong) Latest() sensors.Reading {
	r := k.Simulated.Latest()
	r.Taken = k.at(r.Taken)
	return r
}

// restOf is how long the first heated rest of the sample brew, made three hours long,
// really lasts by a run clock.
func restOf(t *testing.T, fast float64, ahead time.Duration) (lasts, wanted time.Duration) {
	t.Helper()
	const rest = 2
	b := sampleDay(t, "rye-four-rests.yaml", "yard-kettle.yaml")
	b.run.Profile.Steps = append([]profile.Step(nil), b.run.Profile.Steps...)
	b.run.Profile.Steps[rest-1].For = 3 * time.Hour
	began := time.Duration(0)
	s := b.scene(nil, nil)
	k := &wrong{Simulated: s.kettle, fast: fast, ahead: ahead, from: 2 * time.Hour}
	s.run.Kettle = k
	s.run.loop = loop.Loop{}
	s.run.prepare()
	s.events = func(s *scene, f *loop.Frame) {
		for _, e := range f.Decision.Events[:f.Decision.Count] {
			switch {
			case e.Kind == controller.ClockBegan && e.Step == rest:
				began = s.kettle.Now()
			case e.Kind == controller.StepEnded && e.Step == rest:
				lasts = s.kettle.Now() - began
			}
		}
	}
	s.until(func(f *loop.Frame) bool { return f.Decision.Index > rest })
	return lasts, 3 * time.Hour
}

// TestARunClockThatRunsWrongCostsARestNoMore: a run clock that is slewed by
// 500 ppm, the most that a kernel lets a time server do (adjtimex(2); value from
// memory), changes a rest of three hours by 0.05 %; a leap second
// in it by a second. A tick may come on top.
func TestARunClockThatRunsWrongCostsARestNoMore(t *testing.T) {
	for _, fast := range []float64{500e-6, -500e-6} {
		lasts, wanted := restOf(t, fast, 0)
		share := math.Abs((lasts - wanted).Seconds()) / wanted.Seconds()
		t.Logf("a clock %+.0f ppm fast: a rest of %v lasts %v, %.4f %% off (limit 0.05 %%)", fast*1e6, wanted, lasts, share*100)
		if most := 500e-6 + 1/wanted.Seconds(); share > most || share < 300e-6 {
			t.Errorf("%.5f off; want at most %.5f, and that it shows", share, most)
		}
	}
	for _, leap := range []time.Duration{time.Second, 0} {
		lasts, wanted := restOf(t, 0, leap)
		t.Logf("%v more in the middle of it: it lasts %v", leap, lasts)
		if off := (wanted - lasts - leap).Abs(); off > time.Second {
			t.Errorf("with %v more it lasts %v", leap, lasts)
		}
	}
}
