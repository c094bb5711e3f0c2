// Package tune makes a kettle model out of a record: a few minutes of full
// power and the quiet after it say how strong the element really is, what the
// kettle loses, and how late its probe answers.
//
// Only power over capacity can be told from a temperature. The water of the
// test and the declared vessel are therefore taken as known, and the power is
// what is found. A later batch brings its own capacity.
//
// The fit is weighted least squares by Levenberg and Marquardt on the model of
// package observer, from several starts, with priors that hold what the record
// does not show. A result has to pass gates before anyone may store it: a bad
// tuning is worse than none.
package tune

import (
	"math"
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
)

// Sample is one second of a record: what was applied in it, and the reading at
// its end if there was one.
type Sample struct {
	On      bool
	Reading unit.Celsius
	Has     bool
}

// Known is what is declared about kettle and test.
type Known struct {
	Power unit.Watts           // declared
	Load  unit.JoulesPerKelvin // water of the test and vessel
	Loss  unit.WattsPerKelvin  // declared
	Room  unit.Celsius
	// AtRest says that the water was at rest when the record began, although
	// the record does not show it: a past batch.
	AtRest bool
}

// Reason says why a fit was not accepted. The zero value is acceptance.
type Reason uint8

// The reasons.
const (
	Good       Reason = iota
	TooShort          // the record is too short, or has too few readings
	TooLittle         // the temperature rose too little to tell anything
	Restless          // the water was not at rest when the test began
	NoisyProbe        // the probe is too noisy
	NoFit             // no model of this kind explains the record
	Impossible        // the figures cannot be those of a kettle
	Uncertain         // the record leaves power over capacity too uncertain
	Disagrees         // power over capacity is far from what was declared
)

var reasonText = [...]string{
	"good",
	"the record is too short or has too many gaps: run the whole test again",
	"the water warmed too little: is the element covered, connected and on?",
	"the water was not at rest when the test began: wait until its temperature stands, then begin",
	"the probe's readings are too noisy: look at its wiring",
	"no kettle behaves like this record: something changed during the test (lid, pump, supply, water, a hand)",
	"the figures that fit cannot be those of a kettle",
	"the record leaves the power too uncertain: run the whole test, with its quiet part",
	"power over water is far from what was declared: look at the volume, the element and its supply",
}

// String is the reason as a sentence with what to do.
func (r Reason) String() string {
	if int(r) < len(reasonText) {
		return reasonText[r]
	}
	return "unknown reason"
}

// Result is a fit with what speaks for it.
type Result struct {
	Model    observer.Model
	Reason   Reason // Good: accepted
	Residual unit.Kelvin
	Noise    unit.Kelvin
	Wave     unit.Kelvin   // root mean square of what is left of it over a minute: noise averages out, a wrong model does not
	Rise     unit.Kelvin   // from start to hottest
	Doubt    float64       // relative standard error of power over capacity
	LossSD   float64       // relative standard error of the loss
	LagSD    time.Duration // standard error of the lag
	Samples  int
	// Contradiction is found over declared power; far from 1 it says that power
	// or volume was declared wrongly. Nothing in the record tells which.
	Contradiction float64
}

// Accepted tells whether the result may be stored.
func (r Result) Accepted() bool { return r.Reason == Good }

// Gates. A result beyond one of them is refused.
const (
	leastSamples             = 600 // s
	leastShare               = 0.9 // of seconds with a reading
	leastRise    unit.Kelvin = 5
	restFor                  = 40         // s before the element first comes on
	restDrift                = 0.1 / 60.0 // K/s
	mostNoise    unit.Kelvin = 0.35
	leastNoise   unit.Kelvin = 0.02 // what a staircase of small steps hides
	noiseRatio               = 1.2  // residual over noise
	noiseMargin  unit.Kelvin = 0.006
	mostWave     unit.Kelvin = 0.013 // healthy kettles leave 0.010 K at most
	waveRatio                = 1.5   // over what noise alone leaves in a minute's mean
	mostDoubt                = 0.02
	leastPower               = 0.5 // of declared
	mostPower                = 2.0
)

// Identify fits a model to a record that begins at rest. It never fails: what
// is wrong stands in Reason.
func Identify(samples []Sample, known Known) Result {
	r := Result{Samples: len(samples)}
	if !(known.Power > 0) || !(known.Load > 0) {
		r.Reason = Impossible
		return r
	}
	if r.Reason = usable(samples, known.AtRest, &r); r.Reason != Good {
		return r
	}
	p := newProblem(samples, known, math.Max(float64(r.Noise), float64(leastNoise)))
	best := p.solve()
	r.Model = p.model(best.x)
	r.Residual = unit.Kelvin(math.Sqrt(best.squares / float64(p.count)))
	r.Wave = unit.Kelvin(p.wave(p.answer))
	r.Model.Loss, r.LossSD = p.lossAt(&best, hottest(samples))
	r.Doubt = best.sd(figures{logPower: 1})
	r.LagSD = seconds(best.sd(figures{logElement: r.Model.Element.Seconds(), logProbe: r.Model.Probe.Seconds(), delay: 1}))
	r.Contradiction = float64(r.Model.Power / known.Power)
	r.Reason = judge(&r, best)
	return r
}

// hottest is the hottest reading. The loss that counts is the one up there.
func hottest(samples []Sample) unit.Celsius {
	most := unit.Celsius(math.Inf(-1))
	for _, s := range samples {
		if s.Has {
			most = max(most, s.Reading)
		}
	}
	return most
}

// usable judges the record before anything is fitted.
func usable(samples []Sample, atRest bool, r *Result) Reason {
	readings, first := 0, -1
	low, high := math.Inf(1), math.Inf(-1)
	for i, s := range samples {
		if s.On && first < 0 {
			first = i
		}
		if s.Has {
			readings++
			low, high = math.Min(low, float64(s.Reading)), math.Max(high, float64(s.Reading))
		}
	}
	if len(samples) < leastSamples || float64(readings) < leastShare*float64(len(samples)) {
		return TooShort
	}
	r.Noise = noise(samples)
	r.Rise = unit.Kelvin(high - low)
	switch {
	case r.Rise < leastRise || first < 0:
		return TooLittle
	case r.Noise > mostNoise:
		return NoisyProbe
	case atRest:
	case first < restFor || math.Abs(drift(samples[:first])) > restDrift+3*float64(r.Noise)/math.Pow(float64(first), 1.5)*math.Sqrt(12):
		return Restless
	}
	return Good
}

// noise is the standard deviation of a reading, from second differences: they
// see neither level nor slope. A few wild ones do not count.
func noise(samples []Sample) unit.Kelvin {
	sum, n := 0.0, 0
	for i := 2; i < len(samples); i++ {
		a, b, c := samples[i-2], samples[i-1], samples[i]
		if a.Has && b.Has && c.Has {
			d := float64(a.Reading - 2*b.Reading + c.Reading)
			sum += d * d
			n++
		}
	}
	if n == 0 {
		return unit.Kelvin(math.Inf(1))
	}
	random := math.Sqrt(sum / float64(n) / 6) // var(a − 2b + c) = 6 var
	// A staircase hides its own noise while it stands on one step.
	return unit.Kelvin(math.Max(random, float64(stair(samples))/math.Sqrt(12)))
}

// stair is the smallest step between two readings; 0 where there is none.
func stair(samples []Sample) unit.Kelvin {
	least := math.Inf(1)
	for i := 1; i < len(samples); i++ {
		if samples[i-1].Has && samples[i].Has {
			if d := math.Abs(float64(samples[i].Reading - samples[i-1].Reading)); d > 1e-6 {
				least = math.Min(least, d)
			}
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return unit.Kelvin(least)
}

// drift is the slope of the readings, K/s, by least squares.
func drift(samples []Sample) float64 {
	var n, st, sy, stt, sty float64
	for i, s := range samples {
		if s.Has {
			t, y := float64(i), float64(s.Reading)
			n, st, sy, stt, sty = n+1, st+t, sy+y, stt+t*t, sty+t*y
		}
	}
	det := n*stt - st*st
	if det <= 0 {
		return 0
	}
	return (n*sty - st*sy) / det
}

// judge passes a fit through the gates.
func judge(r *Result, best solution) Reason {
	allowed := math.Max(noiseRatio*float64(r.Noise), float64(r.Noise+noiseMargin))
	wave := math.Max(float64(mostWave), waveRatio*float64(r.Noise)/math.Sqrt(minute))
	m := r.Model
	switch {
	case !m.Good() || !best.inside:
		return Impossible
	case float64(r.Residual) > math.Max(allowed, noiseRatio*float64(leastNoise)), !(float64(r.Wave) <= wave):
		return NoFit
	case !(r.Doubt <= mostDoubt):
		return Uncertain
	case r.Contradiction < leastPower || r.Contradiction > mostPower:
		return Disagrees
	}
	return Good
}

// Seconds are the record's own unit of time.
func seconds(x float64) time.Duration { return time.Duration(x * float64(time.Second)) }
