package interlock

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"mashward/controller/unit"
	"mashward/deploy/explore"
	"mashward/sensors"
)

// TestATripStaysThroughAnythingButAPerson throws random days, restarts among them,
// at every single trip.
func TestATripStaysThroughAnythingButAPerson(t *testing.T) {
	explore.Check(t, explore.Size{Checks: 120, Night: *night}, func(t *rapid.T) {
		m := newMachine(t)
		m.calm(t, 60, false)
		r := rapid.SampledFrom(everyRule()).Draw(t, "rule")
		m.g.Marks[r] = Mark{State: Tripped, Since: m.g.Now, Seen: m.g.Now}
		actions := m.actions(false)
		actions[""] = func(t *rapid.T) {
			if v := m.g.verdict(unit.On); m.g.Marks[r].State != Tripped || v.Trip == NoRule || v.Permitted != unit.Off {
				t.Fatalf("%v at %v: %+v", r, m.f.Now, v)
			}
		}
		t.Repeat(actions)
	})
}

// TestNoGuardWhateverItHoldsPermitsHeatAgainstTheFacts hands in guards that no
// Step ever made, as from a damaged checkpoint.
func TestNoGuardWhateverItHoldsPermitsHeatAgainstTheFacts(t *testing.T) {
	random := newRandom(9)
	base := ready(t)
	lit := 0
	for i := range 300_000 {
		g, f := base.g, base.f
		f.Now += time.Second
		f.Reading.Taken = f.Now
		for range 1 + random.IntN(3) {
			spoilGuard[random.IntN(len(spoilGuard))](&g, oddTime(random.Uint64()), random.NormFloat64())
		}
		if random.IntN(2) == 0 {
			spoilFacts[random.IntN(len(spoilFacts))](&f, oddTime(random.Uint64()))
		}
		next, v := base.l.Step(g, f)
		if v.Permitted != unit.On {
			continue
		}
		lit++
		r := f.Reading
		limit := base.l.InForce(true, f.Stage)
		holds := f.Wanted == unit.On && f.Now > g.Now && f.Armed && f.Heats && f.EmptySwitch <= Filled && f.Finding == NoRule &&
			next.Last.Value < limit && f.Now-next.Last.Taken <= Fresh && next.Last.Taken <= f.Now &&
			g.Armed < base.l.ArmedFor && (f.Applied == unit.Off || g.OnFor < base.l.OnLimit) &&
			!(r.Good() && r.Taken <= f.Now && !(r.Value < limit))
		if !holds {
			t.Fatalf("state %d: heat is permitted\n%+v\n%+v", i, g, f)
		}
	}
	if lit < 15_000 {
		t.Errorf("heat was permitted in %d of 300000 states: the test shows nothing", lit)
	}
}

func oddTime(x uint64) time.Duration {
	odd := []time.Duration{0, 1, -1, math.MaxInt64, math.MinInt64, 20 * time.Second, 21 * time.Second, 15 * time.Second, time.Duration(x)}
	return odd[x%uint64(len(odd))]
}

var spoilGuard = []func(*Guard, time.Duration, float64){
	func(g *Guard, d time.Duration, x float64) { g.Now = d },
	func(g *Guard, d time.Duration, x float64) { g.Started = x > 0 },
	func(g *Guard, d time.Duration, x float64) { g.Seen = x > 0 },
	func(g *Guard, d time.Duration, x float64) { g.Last.Taken = d },
	func(g *Guard, d time.Duration, x float64) { g.Last.Value = unit.Celsius(x * 100) },
	func(g *Guard, d time.Duration, x float64) { g.Last.Value = unit.Celsius(math.NaN()) },
	func(g *Guard, d time.Duration, x float64) { g.Doubt = Sample{unit.Celsius(x * 100), d} },
	func(g *Guard, d time.Duration, x float64) { g.Agreeing = uint8(d) },
	func(g *Guard, d time.Duration, x float64) { g.Armed = d },
	func(g *Guard, d time.Duration, x float64) { g.OnFor = d },
	func(g *Guard, d time.Duration, x float64) { g.Declared = unit.Litres(x * 30) },
	func(g *Guard, d time.Duration, x float64) { g.BoiledOff = unit.Litres(math.NaN()) },
	func(g *Guard, d time.Duration, x float64) { g.Drawn = unit.Litres(math.NaN()) },
	func(g *Guard, d time.Duration, x float64) { g.Debt = unit.Joules(math.NaN()) },
	func(g *Guard, d time.Duration, x float64) {
		g.Marks[uint64(d)%uint64(ruleEnd)] = Mark{State(d), d, time.Duration(x)}
	},
	func(g *Guard, d time.Duration, x float64) {},
}

var spoilFacts = []func(*Facts, time.Duration){
	func(f *Facts, d time.Duration) { f.Now = d },
	func(f *Facts, d time.Duration) { f.Reading.Taken = d },
	func(f *Facts, d time.Duration) { f.Reading.Value = unit.Celsius(d) / 1e9 },
	func(f *Facts, d time.Duration) { f.Reading.Fault = sensors.Fault(d) },
	func(f *Facts, d time.Duration) { f.Wanted = unit.Relay(d) },
	func(f *Facts, d time.Duration) { f.Applied = unit.Relay(d) },
	func(f *Facts, d time.Duration) { f.Armed = false },
	func(f *Facts, d time.Duration) { f.Heats = false },
	func(f *Facts, d time.Duration) { f.Stage = Stage(d) },
	func(f *Facts, d time.Duration) { f.Volume = unit.Litres(d) },
	func(f *Facts, d time.Duration) { f.Drawn = unit.Litres(d) },
	func(f *Facts, d time.Duration) { f.EmptySwitch = Switch(d) },
	func(f *Facts, d time.Duration) { f.Finding = Rule(d) },
	func(f *Facts, d time.Duration) { f.Clear = true },
}
