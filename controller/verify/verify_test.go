package verify

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

// kettle is 26 L of mash with 3 kW, simulated by the model itself: what is tested
// here is what is done with the unexplained, not how good the model is.
func kettle() Params {
	return Params{
		Power: 3000, Loss: 7, Room: 18, Boiling: 99, Place: Outlet, HasPump: true, Brim: 2.1e5, Surface: 0.12,
	}
}

const mashLoad = 1.2e5 // J/K

// rig runs a verifier on a kettle that obeys its model, but for what a test does
// to it.
type rig struct {
	v     Verifier
	s     State
	load  unit.JoulesPerKelvin
	water float64 // °C, mean
	out   float64 // °C, at the probe's place
	read  float64
	now   time.Duration
	spike float64 // K that the probe reads too much
	noise *rand.Rand
	found Finding // the first
	at    time.Duration
	tick  Tick
}

func start(at float64) *rig {
	r := &rig{v: Verifier{Params: kettle()}, load: mashLoad, water: at, out: at, read: at, noise: rand.New(rand.NewPCG(1, 2))}
	r.tick = Tick{Load: mashLoad, Pump: unit.On, Bed: true}
	return r
}

// pass lets seconds pass: commanded is what the line did, real what the element
// gave, in full powers.
func (r *rig) pass(seconds int, commanded unit.Relay, real float64) *rig {
	const c1 = bedShare * mashLoad
	g := (1 - bedShare) * mashLoad / bedMixing.Seconds()
	for range seconds {
		inner := (r.water*mashLoad - r.out*c1) / (mashLoad - c1)
		r.out += (3000*real - g*(r.out-inner) - 7*(r.out-18)) / c1
		r.water += (3000*real - 7*(r.out-18)) / mashLoad
		r.read += (r.out - r.read) / 12
		r.step(commanded, r.read+r.spike+0.04*r.noise.NormFloat64())
	}
	return r
}

// step is one second with a reading.
func (r *rig) step(commanded unit.Relay, reading float64) {
	r.now += time.Second
	r.tick.Now, r.tick.Applied = r.now, commanded
	r.tick.Reading = sensors.Reading{Value: unit.Celsius(math.Round(reading*16) / 16), Taken: r.now, Fault: sensors.None}
	var f Finding
	r.s, f = r.v.Step(r.s, r.tick)
	if f.Kind != Nothing && r.found.Kind == Nothing {
		r.found, r.at = f, r.now
	}
}

// hold is a rest at a tenth of full power.
func (r *rig) hold(seconds int) *rig {
	for i := range seconds {
		on := unit.RelayOf(i%10 == 0)
		r.pass(1, on, float64(on))
	}
	return r
}

func (r *rig) want(t *testing.T, k Kind, within time.Duration, since time.Duration) {
	t.Helper()
	if r.found.Kind != k || k != Nothing && r.at-since > within {
		t.Errorf("found %v after %v (expected %.2f, measured %.2f); want %v within %v", r.found.Kind, r.at-since, r.found.Expected, r.found.Measured, k, within)
	}
}

func TestEachFindingOnAModelKettle(t *testing.T) {
	for name, one := range map[string]struct {
		kind   Kind
		within time.Duration
		do     func(*rig)
	}{
		"open element":           {NotHeating, 100 * time.Second, func(r *rig) { r.pass(200, unit.On, 0) }},
		"welded relay":           {HeatingWhileOff, 90 * time.Second, func(r *rig) { r.pass(200, unit.Off, 1) }},
		"probe in air":           {ProbeOut, 15 * time.Second, func(r *rig) { r.fall(63, 18, 25, 40) }},
		"probe on the element":   {TooFast, 20 * time.Second, func(r *rig) { r.fall(63, 83, 6, 40) }},
		"reading frozen":         {ProbeStuck, 125 * time.Second, func(r *rig) { r.repeat(63, 200) }},
		"five times the warming": {PumpStopped, 90 * time.Second, func(r *rig) { r.pass(200, unit.On, 4) }},
	} {
		t.Run(name, func(t *testing.T) {
			r := start(63).hold(900)
			if r.found.Kind != Nothing {
				t.Fatalf("%v in a healthy rest at %v", r.found.Kind, r.at)
			}
			since := r.now
			one.do(r)
			r.want(t, one.kind, one.within, since)
			if r.found.Of == OfNothing || r.found.Measured == r.found.Expected {
				t.Errorf("no figures: %+v", r.found)
			}
		})
	}
}

// In a weak kettle an open lid and the loss could take all the power, so that no
// heat that is missing tells anything; a reading that stands still does.
func TestAQuietProbeThatFreezesInAWeakKettleIsFound(t *testing.T) {
	r := start(72)
	r.v.Params.Power, r.v.Params.Loss, r.v.Params.Surface = 1500, 12, 0.2
	quiet := func(seconds int, rate float64) {
		for range seconds {
			r.read += rate
			r.step(unit.On, r.read)
		}
	}
	quiet(600, 0.57*1500/mashLoad)
	if r.found.Kind != Nothing {
		t.Fatalf("%v in a healthy heat-up at %v", r.found.Kind, r.at)
	}
	since := r.now
	quiet(400, 0)
	r.want(t, ProbeStuck, 140*time.Second, since)
}

// A bag was lifted and the reading fell as if much cold water had come in. It may
// come back to where it was; beyond that it takes heat, and a full kettle cannot
// take it up so fast.
func TestAnEmptyKettleIsFoundWhileNothingElseIsJudged(t *testing.T) {
	for name, one := range map[string]struct {
		rate   float64 // K/s
		to     float64 // °C
		kind   Kind
		within time.Duration
	}{
		"comes back":                       {0.4, 77, Nothing, 0},
		"heats what little is left":        {0.25, 98, TooFast, 150 * time.Second},
		"heats it by seven times its rate": {0.15, 89, TooFast, 200 * time.Second},
	} {
		t.Run(name, func(t *testing.T) {
			r := start(77).hold(900)
			r.tick.Bed, r.tick.Pump, r.tick.Open = false, unit.Off, true
			r.fall(77, 59, 20, 100)
			r.s.Blank = muchBlank
			since := r.now
			for at := 59.0; at < one.to && r.found.Kind == Nothing; at += one.rate {
				r.step(unit.On, at)
			}
			r.want(t, one.kind, one.within, since)
			if one.kind != Nothing && r.found.Of != OfWarmth {
				t.Errorf("found by another rule: %+v", r.found)
			}
		})
	}
}

// fall is a reading that goes from one temperature to another, s.
func (r *rig) fall(from, to, lag float64, seconds int) {
	for i := range seconds {
		r.step(unit.Off, to+(from-to)*math.Exp(-float64(i)/lag))
	}
}

func (r *rig) repeat(at float64, seconds int) {
	for range seconds {
		r.step(unit.Off, at)
	}
}

func TestHalfOfThePowerIsAWarningAndNoFinding(t *testing.T) {
	r := start(50).hold(600).pass(600, unit.On, 0.5)
	if r.found.Kind != Nothing || !r.s.Half {
		t.Errorf("found %v, warning %v; want none and a warning", r.found.Kind, r.s.Half)
	}
	if r.pass(900, unit.On, 1); r.s.Half {
		t.Error("all power is back, and the warning stands")
	}
}

func TestAWeldedRelayIsFoundWithoutABatchToo(t *testing.T) {
	r := start(40)
	r.tick.Load, r.tick.Bed, r.tick.Pump = 0, false, unit.Off
	r.pass(300, unit.Off, 0)
	since := r.now
	r.pass(200, unit.Off, 1).want(t, HeatingWhileOff, 180*time.Second, since)
}

func TestHandsInTheKettleAreNoFault(t *testing.T) {
	r := start(66).hold(600)
	r.tick.Busy = true
	r.fall(66, 52, 20, 120) // grain goes in
	r.tick.Busy = false
	r.water, r.out, r.read = 52, 51, 51
	r.hold(900)
	if r.found.Kind != Nothing {
		t.Errorf("%v at %v", r.found.Kind, r.at)
	}
}

func TestAProbeThatComesBackIsNoLongerOut(t *testing.T) {
	r := start(63).hold(600)
	r.fall(63, 18, 25, 30)
	if r.found.Kind != ProbeOut {
		t.Fatal(r.found)
	}
	r.fall(40, 63, 8, 40)
	if _, f := r.v.Step(r.s, r.tick); r.s.OutFor != 0 || f.Kind == ProbeOut {
		t.Error("it hangs in the wort again, and counts as out")
	}
}

// Neither a late tick nor a new start makes a probe in air one in the wort; and it is
// back as soon as it is seen to be.
func TestAProbeInAirStaysOutOverAGapAndAStart(t *testing.T) {
	for name, begin := range map[string]func(*rig){
		"a late tick": func(r *rig) { r.now += 20 * time.Second },
		"a new start": func(r *rig) { r.s, r.now = r.s.Restarted(), 0 },
	} {
		r := start(63).hold(600)
		r.fall(63, 18, 25, 120)
		begin(r)
		r.found = Finding{}
		r.repeat(18.5, 60)
		if r.found.Kind != ProbeOut || r.s.standing().Kind != ProbeOut {
			t.Errorf("%s: %v, %v", name, r.found.Kind, r.s.standing().Kind)
		}
		if r.fall(40, 63, 8, 60); r.s.OutFor != 0 || r.s.standing().Kind == ProbeOut {
			t.Errorf("%s: it hangs in the wort again, and counts as out", name)
		}
	}
}

// A finding is handed on for a while, so that clearing at once is refused; later
// it is a person's word against a cause that shows only under power.
func TestAFindingStandsForAWhileAndWhileItsCauseDoes(t *testing.T) {
	r := start(63).hold(600).pass(120, unit.Off, 1)
	if r.found.Kind != HeatingWhileOff {
		t.Fatal(r.found)
	}
	again := 0
	for range 600 {
		r.pass(1, unit.Off, 1)
		if _, f := r.v.Step(r.s, r.tick); f.Kind == HeatingWhileOff || r.s.Held > 0 {
			again++
		}
	}
	if again < 100 {
		t.Errorf("a relay that stays welded is found in %d of 600 s only", again)
	}
}

func TestNothingIsFoundWithoutParametersOrTime(t *testing.T) {
	var v Verifier
	s, f := v.Step(State{}, Tick{Now: time.Second})
	if s != (State{}) || f != (Finding{}) {
		t.Error("a verifier of nothing remembers or finds something")
	}
	r := start(63).hold(60)
	before := r.s
	if s, _ := r.v.Step(r.s, r.tick); s != before {
		t.Error("a second step at the same instant changed the memory")
	}
	for name, spoil := range map[string]func(*Params){
		"NaN": func(p *Params) { p.Loss = unit.WattsPerKelvin(math.NaN()) }, "no power": func(p *Params) { p.Power = 0 },
		"infinite": func(p *Params) { p.Brim = unit.JoulesPerKelvin(math.Inf(1)) },
	} {
		p := kettle()
		spoil(&p)
		if p.sound() {
			t.Errorf("%s: taken for a kettle", name)
		}
	}
}

// The memory of filters must not change a result: a fresh verifier goes on from
// any state as one that has run all day.
func TestAFreshVerifierGoesOnFromAnyState(t *testing.T) {
	r := start(63).hold(700)
	other := *r
	other.v = Verifier{Params: kettle()}
	for i := range 200 {
		r.step(unit.On, 63+float64(i)/100)
		other.step(unit.On, 63+float64(i)/100)
		if r.s != other.s {
			t.Fatalf("they part after %d s", i)
		}
	}
}

func TestAfterARestartNothingHangsOnTheClock(t *testing.T) {
	r := start(63).hold(700)
	s := r.s.Restarted()
	if s.Begun || s.Now != 0 || s.Count != 0 {
		t.Errorf("%+v", s)
	}
	r.s, r.now = s, 0
	if r.hold(600); r.found.Kind != Nothing {
		t.Errorf("%v after a restart", r.found.Kind)
	}
}

func TestSilenceAndGapsBeginAnew(t *testing.T) {
	r := start(63).hold(600)
	for range 60 {
		r.now += time.Second
		r.tick.Now, r.tick.Applied, r.tick.Reading = r.now, unit.Off, sensors.Reading{Fault: sensors.Open}
		r.s, _ = r.v.Step(r.s, r.tick)
	}
	if r.s.Count != 0 {
		t.Error("after a minute of silence the old readings count")
	}
	r.now += time.Hour
	r.water, r.out, r.read = 50, 50, 50
	if r.hold(600); r.found.Kind != Nothing {
		t.Errorf("%v after a gap of an hour", r.found.Kind)
	}
}

func TestAStepAllocatesNothing(t *testing.T) {
	r := start(63).hold(60)
	if n := testing.AllocsPerRun(100, func() { r.pass(1, unit.Off, 0) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
	if n := testing.AllocsPerRun(10, func() { r.tick.Load++; r.pass(1, unit.Off, 0) }); n != 0 {
		t.Errorf("%v allocations for a new filter", n)
	}
}

func TestEveryKindHasAName(t *testing.T) {
	for k := NotHeating; k < kinds; k++ {
		if k.String() == "" || k.String() == kinds.String() {
			t.Errorf("kind %d has no name", k)
		}
	}
}

func BenchmarkStep(b *testing.B) {
	r := start(63).hold(60)
	for range b.N {
		r.now += time.Second
		r.tick.Now, r.tick.Reading.Taken = r.now, r.now
		r.s, _ = r.v.Step(r.s, r.tick)
	}
}

// TestWhatFollowsFromTheFirstFindingIsNotSaid: one event is one finding, for as long
// as it is handed on.
func TestWhatFollowsFromTheFirstFindingIsNotSaid(t *testing.T) {
	r := start(63).hold(900)
	for r.found.Kind == Nothing && r.now < time.Hour {
		r.pass(1, unit.On, 0)
	}
	if r.found.Kind != NotHeating {
		t.Fatal(r.found)
	}
	r.fall(r.read, 18, 15, 18) // somebody pulls the probe out to see
	if r.s.OutFor == 0 {
		t.Error("the probe hangs in the air, and nobody has seen it: nothing is shown")
	}
	if _, f := r.v.Step(r.s, r.tick); f.Kind != NotHeating {
		t.Errorf("it has become %v", f.Kind)
	}
}
