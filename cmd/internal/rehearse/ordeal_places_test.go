package rehearse

import (
	"maps"
	"math"
	"slices"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/sensors"
	"mashward/sim"
)

// places are where in the day a row begins. nil: before it.
var places = map[string]func(*caught, *instant) bool{
	"start": nil, // with the press that starts the batch
	"idle":  nil, // nobody has said anything of the kettle
	"strike": func(_ *caught, i *instant) bool {
		return i.stage == controller.Heat && i.index == 0 && i.state.Law.Way == controller.Full
	},
	"ready":   func(_ *caught, i *instant) bool { return i.stage == controller.Ready && i.index == 0 },
	"settle":  func(_ *caught, i *instant) bool { return i.stage == controller.Settle },
	"heat-up": func(c *caught, i *instant) bool { return c.inRamp(i) && i.index <= 3 }, // a rest to come, not the mash-out
	"rest":    resting,
	"climb":   func(_ *caught, i *instant) bool { return i.stage == controller.Climb },
	"boil":    func(_ *caught, i *instant) bool { return i.stage == controller.Boil },
}

// resting is a rest, three minutes and more after it was reached. A kettle without
// a pump has one rest.
func resting(c *caught, i *instant) bool {
	one := !c.run.Plan.Kettle.Pump && i.stage == controller.Count && i.index == 1
	return c.inHold(i) || one && i.into > 3*time.Minute && i.into < 15*time.Minute
}

func placeWords() []string { return slices.Sorted(maps.Keys(places)) }

// counting says from when on a delay counts, where the fault itself is not it.
var counting = map[string]func(*ordeal, *loop.Frame) bool{
	"heat":       func(_ *ordeal, f *loop.Frame) bool { return f.Permitted == unit.On },
	"sparing":    func(_ *ordeal, f *loop.Frame) bool { return sparing(f) },
	"a-tenth":    func(o *ordeal, _ *loop.Frame) bool { return o.bench.Plant().Truth().Volume < o.c.kettle.Load.Water/10 },
	"waiting":    func(_ *ordeal, f *loop.Frame) bool { return f.Decision.Prompt != controller.NoPrompt },
	"next-ramp":  func(_ *ordeal, f *loop.Frame) bool { return heatsUp(f) },
	"tick-after": func(o *ordeal, _ *loop.Frame) bool { return o.oracle.step > time.Second },
}

func countWords() []string { return slices.Sorted(maps.Keys(counting)) }

// freshBench is a kettle before the day: as it is when the batch starts, or with
// some warm water left in it.
func freshBench(c *caught, row *tableRow) *sim.Bench {
	plant, load := c.kettle.Plant, c.kettle.Load
	if row.special == "half-a-litre" {
		plant.Water.Error = unit.Ratio(0.5/float64(load.Water) - 1)
	}
	p := sim.New(plant, load, c.seed)
	if row.where == "idle" {
		p.Warm(c.kettle.Declared.Tap + 25)
	}
	b := sim.NewBench(p, nil, c.seed)
	if row.where == "idle" {
		for b.Now() < 5*time.Minute { // the checks get to know it
			b.Next()
		}
	}
	return b
}

// specials are what a script of faults cannot say.
var specials = map[string]func(*ordeal){
	"half-a-litre":    func(*ordeal) {}, // freshBench
	"probe-hangs":     bent(func(p *bentProbe, _ sensors.Reading) sensors.Reading { return p.last }),
	"probe-slow-2-s":  slowed(2 * time.Second),
	"probe-slow-4-s":  slowed(4 * time.Second),
	"probe-slow-9-s":  slowed(9 * time.Second),
	"probe-rubbish":   bent(rubbish),
	"probe-reads-85":  bent(onceEightyFive),
	"probe-future":    bent(func(p *bentProbe, r sensors.Reading) sensors.Reading { r.Taken = p.now() + 10*time.Second; return r }),
	"probe-old-batch": bent(backwards),
	"probe-on-element": func(o *ordeal) {
		o.loop.Probe = &touched{Probe: o.loop.Probe, lag: o.c.kettle.Plant.Probe.Lag.Seconds(), since: o.bench.Now(), now: o.bench.Now}
	},
	"clock-stands":   func(o *ordeal) { o.loop.Pacer = &stopped{o: o, at: o.bench.Now()} },
	"stop-pressed":   func(o *ordeal) { o.press(controller.Stop) },
	"nobody-comes":   func(o *ordeal) { o.person.Delay = 100 * time.Hour },
	"killed":         func(*ordeal) {}, // judge
	"supply-cut":     func(*ordeal) {}, // judge
	"clears-blindly": func(*ordeal) {}, // judge
}

func specialWords() []string { return slices.Sorted(maps.Keys(specials)) }

// special puts in what the row's script cannot say.
func (o *ordeal) special() {
	if do := specials[o.row.special]; do != nil {
		do(o)
	}
}

// bentProbe answers something else than was measured.
type bentProbe struct {
	sensors.Probe
	now   func() time.Duration
	last  sensors.Reading // before the fault
	asked sensors.Reading // under way
	since time.Duration
	n     int // questions so far
	bend  func(*bentProbe, sensors.Reading) sensors.Reading
}

// Latest implements sensors.Probe.
func (p *bentProbe) Latest() sensors.Reading {
	p.n++
	return p.bend(p, p.Probe.Latest())
}

func bent(bend func(*bentProbe, sensors.Reading) sensors.Reading) func(*ordeal) {
	return func(o *ordeal) {
		o.loop.Probe = &bentProbe{Probe: o.loop.Probe, now: o.bench.Now, last: o.bench.Latest(), since: o.bench.Now(), bend: bend}
	}
}

// slowed is a probe that takes so long over each answer, and is asked again at
// once: an answer is as old as its question.
func slowed(takes time.Duration) func(*ordeal) {
	return bent(func(p *bentProbe, r sensors.Reading) sensors.Reading {
		if p.n == 1 {
			p.asked = r
		} else if r.Taken-p.asked.Taken >= takes {
			p.last, p.asked = p.asked, r
		}
		return p.last
	})
}

// rubbish is what broken drivers have been seen to hand on as measured, a minute
// of it.
func rubbish(p *bentProbe, r sensors.Reading) sensors.Reading {
	if p.now()-p.since <= time.Minute-10*time.Second {
		r.Value = [...]unit.Celsius{-127, 127.94, 4095.9, unit.Celsius(math.NaN()), unit.Celsius(math.Inf(1)), 0}[p.n%6]
		r.Fault = sensors.None
	}
	return r
}

// onceEightyFive is one power-on value that a driver took for measured.
func onceEightyFive(p *bentProbe, r sensors.Reading) sensors.Reading {
	if p.n == 1 {
		r.Value = 85
	}
	return r
}

// backwards is every other answer from a minute ago, for half a minute.
func backwards(p *bentProbe, r sensors.Reading) sensors.Reading {
	if p.n%2 == 0 && p.now()-p.since <= 30*time.Second {
		r.Taken -= time.Minute
	}
	return r
}

// stopped is a clock that does not move on for half a minute, while time does.
type stopped struct {
	o  *ordeal
	at time.Duration
}

// Next implements loop.Pacer.
func (s *stopped) Next() (time.Duration, bool) {
	now, ok := s.o.kettle.Next()
	if now <= s.at+30*time.Second {
		return s.at, ok
	}
	return now, ok
}
