package interlock

import (
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

// witness is a second, simpler interlock: it remembers the facts of the last
// seconds and looks back over them. It shares no code with the rules and knows
// only what must hold whenever heat is permitted.
type witness struct {
	past      []Facts       // those that were not refused
	lastWrong time.Duration // when a cause was last seen that cuts for 10 s
}

// wrong tells what forbids heat now, from the facts of this instant and the
// newest good reading among those of the last seconds.
func (w *witness) wrong(f Facts, limit unit.Celsius) string {
	previous := w.past[len(w.past)-1].Now
	gap := f.Now - previous
	switch {
	case gap > 3*time.Second:
		return "time"
	case f.Wanted != unit.On:
		return "not wanted"
	case !f.Armed || !f.Heats:
		return "not armed"
	case f.EmptySwitch > 1:
		return "switch"
	case f.Finding != 0:
		return "finding"
	}
	r := f.Reading
	if r.Fault == sensors.None && r.Taken <= f.Now && !(r.Value >= -5 && r.Value <= 110 && r.Value < limit) {
		return "reading"
	}
	all := append(w.past[max(0, len(w.past)-30):], f)
	for _, p := range all {
		v := float64(p.Reading.Value)
		age := f.Now - p.Reading.Taken
		if p.Reading.Fault == sensors.None && p.Reading.Taken <= p.Now && age >= 0 && age <= 5*time.Second &&
			!math.IsNaN(v) && p.Reading.Value < limit {
			return ""
		}
	}
	return "no reading"
}

// TestHeatIsPermittedOnlyWhenEverythingHolds walks through 400,000 states of
// bad days and holds each verdict against the witness.
func TestHeatIsPermittedOnlyWhenEverythingHolds(t *testing.T) {
	const states = 400_000
	d := newDay(newRandom(1))
	w := &witness{past: []Facts{{}}, lastWrong: -time.Hour}
	lit := 0
	var fired [ruleEnd]int
	for i := range states {
		d.next()
		before := d.g
		var v Verdict
		d.g, v = d.l.Step(d.g, d.f)
		for r, m := range d.g.Marks {
			if m.State != Quiet && before.Marks[r].State != m.State {
				fired[r]++
			}
		}
		if d.f.Now <= w.past[len(w.past)-1].Now {
			if v.Permitted != unit.Off || d.g != before {
				t.Fatalf("state %d: time that does not move on was not refused", i)
			}
			continue
		}
		why := w.wrong(d.f, d.l.InForce(d.f.Armed, d.f.Stage))
		if v.Permitted == unit.On {
			lit++
			if why != "" || v.Cut != NoRule || v.Trip != NoRule {
				t.Fatalf("state %d: heat is permitted although: %s\n%+v\n%+v", i, why, d.f, v)
			}
			if since := d.f.Now - w.lastWrong; since < QuietFor {
				t.Fatalf("state %d: heat is back %v after a cause\n%+v", i, since, d.f)
			}
		}
		if why == "time" || why == "switch" || (why == "finding" && d.f.Finding.String() == "probe-out") || why == "not armed" {
			w.lastWrong = d.f.Now
		}
		if before.tripped() && !d.f.Clear && v.Trip == NoRule {
			t.Fatalf("state %d: a trip went away without a person\n%+v", i, d.f)
		}
		w.past = append(w.past[max(0, len(w.past)-30):], d.f)
	}
	if share := float64(lit) / states; share < 0.05 {
		t.Errorf("heat was permitted in %.2f %% of the states: the test shows nothing below 5 %%", share*100)
	}
	for _, r := range Rules() {
		if fired[r] < 20 {
			t.Errorf("rule %v fired %d times in %d states, want 20", r, fired[r], states)
		}
	}
	t.Logf("permitted in %.1f %% of %d states; fired %v", 100*float64(lit)/states, states, fired)
}

func (g Guard) tripped() bool {
	for _, m := range g.Marks {
		if m.State == Tripped {
			return true
		}
	}
	return false
}

// TestATripStaysThroughAnythingButAPersonWithTheCauseGone throws bad days at
// every single trip.
func TestATripStaysThroughAnythingButAPersonWithTheCauseGone(t *testing.T) {
	for _, r := range Rules() {
		d := newDay(newRandom(uint64(r)))
		for d.f.Now < time.Minute {
			d.next()
			d.g, _ = d.l.Step(d.g, d.f)
		}
		d.g.Marks[r] = Mark{State: Tripped, Since: d.g.Now, Seen: d.g.Now}
		for range 5000 {
			d.next()
			d.f.Clear = false
			var v Verdict
			if d.r.IntN(100) == 0 {
				d.g, d.f.Now = d.g.Restarted(), 0
			}
			d.g, v = d.l.Step(d.g, d.f)
			if d.g.Marks[r].State != Tripped || v.Trip == NoRule || v.Permitted != unit.Off {
				t.Fatalf("%v at %v: %+v", r, d.f.Now, v)
			}
		}
	}
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
