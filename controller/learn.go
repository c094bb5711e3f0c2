package controller

import (
	"math"
	"time"

	"mashward/controller/modulate"
	"mashward/controller/unit"
	"mashward/profile"
)

// Rise is a declared rise in two parts. A gain that was learned means another
// power, which scales what goes in and not what is lost, or another volume,
// which scales both; a temperature cannot tell. So half of the loss is scaled.
type Rise struct {
	Scaled unit.Kelvin // power and half of the loss
	Lost   unit.Kelvin // the other half, as a fall
}

func (r Rise) plus(s Rise) Rise { return Rise{r.Scaled + s.Scaled, r.Lost + s.Lost} }

func (r Rise) since(s Rise) Rise { return Rise{r.Scaled - s.Scaled, r.Lost - s.Lost} }

// by is the rise with a gain.
func (r Rise) by(gain float64) unit.Kelvin { return unit.Kelvin(gain)*r.Scaled - r.Lost }

// gain is what makes the rise the measured one.
func (r Rise) gain(measured unit.Kelvin) float64 { return float64((measured + r.Lost) / r.Scaled) }

// gain is measured over declared rise, 1 until learned.
func (l *Law) gain() float64 {
	if l.Gain == 0 {
		return 1
	}
	return l.Gain
}

// learnSlope compares the measured with the balanced rise. With a bed in the
// kettle inside and outside drift apart when a heat-up begins, and the slope of
// one place says little until they run beside each other; so again after heat was
// withheld.
func (r *round) learnSlope() {
	l := &r.s.Law
	after := slopeAfter
	if r.s.GrainIn {
		after = bedSlopeAfter
	}
	if l.Steady < after {
		return
	}
	// Where in a long pulse two readings fall would show as their slope.
	if r.c.Relay == modulate.Mechanical && l.Gave < 1 {
		l.Marked = false
		return
	}
	if !l.Marked {
		l.Mark, l.RawAt, l.Marked = r.e.Value, l.Raw, true
		return
	}
	raw := l.Raw.since(l.RawAt)
	if guessed := raw.by(l.gain()); guessed >= slopeRise {
		measured := r.e.Value.Minus(l.Mark)
		before := l.gain()
		r.learn(raw.gain(measured))
		l.Mean = l.Mean.Plus(measured - guessed) // the rise itself is no guess any more
		r.proveEarly(before)
		l.Proven, l.Marked = l.Raw, false
	}
}

// proveEarly puts right what was heated before the slope was trusted, by the gain
// that has been found since. Of a mash a reading tells too little of where its mean is
// to hold that against: it is put right by no more than a heat balance is off, and only
// where it is hotter than was thought, for what is missing is soon added. Water
// that is turned over has one temperature, which its reading follows by a lag: a gain
// that puts the mean elsewhere has seen something else, cold water that nobody told of
// for one.
func (r *round) proveEarly(before float64) {
	l := &r.s.Law
	early := l.RawAt.since(l.Proven)
	off := early.by(l.gain()) - early.by(before)
	switch {
	case r.s.GrainIn && !r.s.Lifted:
		l.Mean = l.Mean.Plus(min(max(off, 0), mostEarly))
		return
	case r.s.GrainIn || r.step().Kind != profile.Strike:
		return
	}
	mean := l.Mean.Plus(off)
	if ahead := mean.Minus(r.e.Value); ahead >= -leastLead && ahead <= usualLead {
		l.Mean = mean
	}
}

// learn keeps a new gain within what a kettle can be.
func (r *round) learn(gain float64) {
	r.s.Law.Gain = min(max(gain, leastGain), mostGain)
	r.event(LoadLearned, r.s.Law.Gain)
	r.doubt()
}

// doubt says, while there is time to look, that the strike water heats more
// than a tenth faster or slower than power and volume say. Mains 5 % off are
// power 10 % off: less is no reason to doubt.
func (r *round) doubt() {
	off := math.Abs(r.s.Law.Gain - 1)
	if r.s.Doubted || r.s.GrainIn || r.step().Kind != profile.Strike || off <= 0.1 || r.inTest() {
		return
	}
	r.s.Doubted = true
	r.event(LoadDoubted, r.s.Law.Gain)
}

// learnLag takes, at the end of a heat-up of water, how far the reading lags
// the mean.
func (r *round) learnLag() {
	l := &r.s.Law
	if r.s.GrainIn || !r.e.HasSlope || r.e.Slope < 0.001 || l.InWay < slopeAfter {
		return
	}
	lag := time.Duration(float64(l.Mean-r.e.Value) / float64(r.e.Slope) * float64(time.Second))
	l.Lag = min(max(lag, leastLag), mostLag)
}

// lag is the learned lag, or a guess; with a bed in the kettle the way through
// it comes on top.
func (r *round) lag() time.Duration {
	lag := r.s.Law.Lag
	if lag == 0 {
		lag = min(max(r.c.Model.Lag(), 0), mostLag)
	}
	if lag == 0 {
		lag = defaultLag
	}
	if r.s.GrainIn {
		lag = max(lag*3/2, defaultLag)
	}
	return lag
}

// learnDrift takes a steady drift under holding power for what it is: more or
// less loss than was declared, an open lid for one.
func (r *round) learnDrift() {
	slope, known := r.s.Filter.SlopeOver(settleSpan)
	if !known {
		return
	}
	l := &r.s.Law
	r.learnSpare(l.Gave - r.holding(l.Target) - float64(slope)*float64(r.s.Load)/float64(r.c.Power))
}

// learnSpare takes what holding needs beyond the declared loss. The rise at full
// power is known from heat-ups and stays what it is: the gain makes up for it.
func (r *round) learnSpare(spare float64) {
	l := &r.s.Law
	spare = min(max(spare, leastSpare), mostSpare)
	half := r.lossDuty(l.Target) / 2
	if before, after := 1-l.Spare-half, 1-spare-half; before > 0.2 && after > 0.2 && l.Gain != 0 {
		l.Gain = min(max(l.Gain*before/after, leastGain), mostGain)
	}
	l.Spare, l.SpareAt = spare, l.Target
}
