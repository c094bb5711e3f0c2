package pid

import (
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
)

const second = time.Second

// near fails unless got is within tolerance of want.
func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.6g, want %.6g within %.2g", what, got, want, tolerance)
	}
}

// kettle is the integrating process of the tests: full duty heats it by rate,
// and what it answers comes late.
type kettle struct {
	temperature float64
	rate        float64 // K/s at full duty
	loss        float64 // duty that keeps it where it is
	late        []float64
}

func (k *kettle) second(duty float64) {
	k.late = append(k.late, duty)
	k.temperature += k.rate * (k.late[0] - k.loss)
	k.late = k.late[1:]
}

func newKettle(at float64, lag int) *kettle {
	return &kettle{temperature: at, rate: 0.028667, late: make([]float64, lag)}
}

// run holds target for a while and returns the highest and the last temperature.
func run(k *kettle, s State, g Gains, target float64, seconds int, limit float64) (highest, last float64, end State) {
	asked := s.Integral
	highest = k.temperature
	for range seconds {
		applied := min(max(asked, 0), limit)
		k.second(applied)
		var terms Terms
		s, terms = Step(s, g, Input{
			Target: unit.Celsius(target), Value: unit.Celsius(k.temperature),
			Applied: applied, Wished: asked, Dt: second,
		})
		asked = terms.Sum()
		highest = max(highest, k.temperature)
	}
	return highest, k.temperature, s
}

func TestZeroGainsAskForTheFeedForwardAlone(t *testing.T) {
	_, terms := Step(State{}, Gains{}, Input{Target: 63, Value: 20, Forward: 0.12, Dt: second})
	if terms != (Terms{Forward: 0.12}) {
		t.Errorf("terms %+v, want the feed-forward alone", terms)
	}
}

func TestTheFourTermsAreThoseOfTheEquation(t *testing.T) {
	g := Gains{Proportional: 0.5, Integral: 100 * second, Derivative: 8 * second, Weight: 0.4}
	s, terms := Step(State{Integral: 0.1}, g, Input{
		Target: 65, Origin: 60, Value: 64, Slope: 0.01, Forward: 0.2,
		Applied: 0.3, Wished: 0.3, Dt: second,
	})
	near(t, "P", terms.Proportional, 0.5*(0.4*65+0.6*60-64), 1e-12)
	near(t, "I", terms.Integral, 0.1+0.5/100*1, 1e-12)
	near(t, "D", terms.Derivative, -0.5*8*0.01, 1e-12)
	near(t, "feed-forward", terms.Forward, 0.2, 0)
	near(t, "sum", terms.Sum(), terms.Forward+terms.Proportional+terms.Integral+terms.Derivative, 1e-15)
	near(t, "memory", s.Integral, terms.Integral, 0)
}

func TestWithAFullWeightTheOriginDoesNotMatter(t *testing.T) {
	g := SIMC(0.028667, 20*second, 20*second)
	in := Input{Target: 63, Origin: 20, Value: 62.5, Dt: second}
	_, low := Step(State{}, g, in)
	in.Origin = 99
	_, high := Step(State{}, g, in)
	if low != high {
		t.Errorf("weight 1: terms %+v from origin 20 °C, %+v from 99 °C", low, high)
	}
}

func TestWithAFullWeightTakingOverAtTheTargetIsBumpless(t *testing.T) {
	g := SIMC(0.028667, 20*second, 20*second)
	// What held before held with 0.15 of duty; at the target the law must go on with that.
	_, terms := Step(State{Integral: 0.05}, g, Input{Target: 63, Origin: 20, Value: 63, Forward: 0.1, Applied: 0.15, Wished: 0.15, Dt: second})
	near(t, "duty at the hand-over", terms.Sum(), 0.15, 1e-12)
}

func TestWithoutAWeightATargetStepIsNoBump(t *testing.T) {
	g := SIMC(0.028667, 20*second, 20*second)
	g.Weight = 0
	_, terms := Step(State{Integral: 0.1}, g, Input{Target: 70, Origin: 63, Value: 63, Applied: 0.1, Wished: 0.1, Dt: second})
	near(t, "P right after a step of the target", terms.Proportional, 0, 1e-12)
}

func TestTheIntegralFollowsWhatWasAppliedAndSoCannotWindUp(t *testing.T) {
	g := SIMC(0.028667, 20*second, 20*second)
	// A heat-up of 30 K through the loop alone, then the same with the heat
	// withheld for an hour before it: the overshoot must be no larger.
	free, _, _ := run(newKettle(33, 5), State{}, g, 63, 4*3600, 1)
	k := newKettle(33, 5)
	_, _, s := run(k, State{}, g, 63, 3600, 0)
	if s.Integral > 0.01 {
		t.Errorf("after an hour without heat the integral is %.3f, want nothing stored", s.Integral)
	}
	withheld, last, _ := run(k, s, g, 63, 4*3600, 1)
	if withheld > free+0.1 {
		t.Errorf("overshoot to %.2f °C after heat was withheld, %.2f °C without", withheld, free)
	}
	near(t, "temperature in the end", last, 63, 0.02)
}

func TestWithoutTrackingTheSameWouldWindUp(t *testing.T) {
	// Guards the test above against passing by itself: told that all it asked
	// for was applied, the integral does fill.
	g := SIMC(0.028667, 20*second, 20*second)
	s := State{}
	for range 3600 {
		s, _ = Step(s, g, Input{Target: 63, Value: 33, Applied: 0.5, Wished: 0.5, Dt: second})
	}
	near(t, "integral", s.Integral, 1, 0)
}

func TestWhatIsNotANumberAsksForNothingAndLeavesTheMemoryAlone(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	g := Gains{Proportional: 0.5, Integral: 100 * second, Derivative: 8 * second, Weight: 1}
	good := Input{Target: 63, Origin: 60, Value: 62, Slope: 0.001, Forward: 0.1, Applied: 0.2, Wished: 0.2, Dt: second}
	for name, spoil := range map[string]func(*Input, *Gains, float64){
		"target":  func(in *Input, _ *Gains, x float64) { in.Target = unit.Celsius(x) },
		"origin":  func(in *Input, _ *Gains, x float64) { in.Origin = unit.Celsius(x) },
		"value":   func(in *Input, _ *Gains, x float64) { in.Value = unit.Celsius(x) },
		"slope":   func(in *Input, _ *Gains, x float64) { in.Slope = unit.KelvinPerSecond(x) },
		"forward": func(in *Input, _ *Gains, x float64) { in.Forward = x },
		"applied": func(in *Input, _ *Gains, x float64) { in.Applied = x },
		"wished":  func(in *Input, _ *Gains, x float64) { in.Wished = x },
		"gain":    func(_ *Input, g *Gains, x float64) { g.Proportional = x },
		"weight":  func(_ *Input, g *Gains, x float64) { g.Weight = x },
	} {
		for _, x := range []float64{nan, inf, -inf} {
			in, gains := good, g
			spoil(&in, &gains, x)
			s, terms := Step(State{Integral: 0.3}, gains, in)
			if s != (State{Integral: 0.3}) || terms != (Terms{}) {
				t.Errorf("%s = %v: memory %v, terms %+v; want 0.3 and nothing", name, x, s.Integral, terms)
			}
		}
	}
}

func TestAMemoryThatIsNotANumberDoesNotSpoilTheDay(t *testing.T) {
	g := SIMC(0.028667, 20*second, 20*second)
	s, terms := Step(State{Integral: math.NaN()}, g, Input{Target: 63, Value: 62.9, Dt: second})
	if math.IsNaN(s.Integral) || math.IsNaN(terms.Sum()) {
		t.Errorf("integral %v, duty %v", s.Integral, terms.Sum())
	}
}

func TestTimeThatDoesNotPassChangesNothing(t *testing.T) {
	g := SIMC(0.028667, 20*second, 20*second)
	for _, dt := range []time.Duration{0, -second} {
		s, terms := Step(State{Integral: 0.3}, g, Input{Target: 63, Value: 20, Dt: dt})
		if s != (State{Integral: 0.3}) || terms != (Terms{}) {
			t.Errorf("dt %v: memory %v, terms %+v", dt, s, terms)
		}
	}
}
