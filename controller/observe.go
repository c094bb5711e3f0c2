package controller

import (
	"math"
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
)

// Sight is what a model of the kettle with its mash shows: the mean of all that
// stands in it, without the probe's delay, and the power at work that nobody
// declared. A water test knows nothing of a bed of grain: how fast it exchanges
// heat with what is around it is found in the batch, beside the loop, from the
// first heat-up of the mash on. Until then, and wherever the model does not
// foresee the readings, the loop acts on the filtered reading.
type Sight struct {
	Fitted  bool // a model of this mash has been accepted
	Trusted bool // the law may act on it
	Held    bool // it did in the last tick
	Filter  observer.Filter
	State   observer.State
	Seen    time.Duration // readings without a break
	Mean    unit.Celsius
	Extra   unit.Watts
	Bump    float64 // duty by which the loop's output is led over from what was before; dies away
}

// Figures of the sight, chosen on the simulator.
const (
	// A filter that has just begun knows nothing of the power at work.
	sightAfter = 2 * time.Minute
	// What a model did not foresee, root mean square over minutes: beyond this it
	// is not this kettle any more.
	mostSurprise unit.Kelvin = 0.15
)

// Gates for a model that is proposed.
const (
	mostResidual unit.Kelvin = 0.035 // of means over five seconds
	mostDoubt    float64     = 0.05
	leastHeated  float64     = 3 // s: a part that heats faster cannot be steered in ticks of a second
)

// consider takes a model that was fitted to this batch beside the loop, or
// leaves it: one that explains the record no better than the one there was, or
// is none of a kettle, is worse than none.
func (r *round) consider() {
	p := &r.t.Proposal
	if !p.Present {
		return
	}
	if f, ok := observer.New(p.Model, observer.Steering()); ok && r.credible(p) {
		r.s.Sight = Sight{Fitted: true, Filter: f}
		r.event(ProposalSeen, 1)
		return
	}
	r.event(ProposalSeen, 0)
}

// credible tells whether a proposal passes the gates.
func (r *round) credible(p *Proposal) bool {
	m, e := &p.Model, &p.Evidence
	strength := float64(m.Power / r.c.Power)
	switch {
	case !r.s.GrainIn || r.s.Lifted || !e.Inside:
		return false
	case !(math.Abs(float64(m.Capacity()/r.s.Load)-1) <= 0.01): // of another load
		return false
	case !(strength >= leastGain && strength <= mostGain && e.Doubt <= mostDoubt):
		return false
	case !(float64(m.Heated) >= leastHeated*float64(m.Exchange)):
		return false
	}
	return e.Residual <= mostResidual && e.Residual < e.Before
}

// observe carries the model over the last tick.
func (r *round) observe() {
	o := &r.s.Sight
	switch {
	case !o.Fitted:
		return
	case r.s.Lifted:
		*o = Sight{}
		return
	case !r.stirred() || r.dt > GapLimit || r.t.Inhibited || !o.State.Begun && !r.e.Fresh:
		o.Seen, o.State.Begun, o.Trusted = 0, false, false
		return
	case !o.State.Begun:
		o.State = observer.Begin(r.e.Value)
	}
	mixing := r.s.Deeds.Mixing > 0 // what went in is known, where it is by now is not
	for left := int(math.Round(r.dt.Seconds())); left > 0; left-- {
		o.State = o.Filter.Step(o.State, r.t.Applied, r.s.Filter.Median(), left == 1 && r.e.Fresh && !mixing)
	}
	x := o.Filter.Now(o.State)
	o.Mean, o.Extra = o.Filter.Mean(&x), o.Filter.Extra(&x)
	o.Seen += r.dt
	o.Trusted = o.Seen >= sightAfter && r.e.Valid
	if !(o.State.Residual() <= mostSurprise) {
		*o = Sight{Held: o.Held}
		r.event(ModelDoubted, 0)
	}
}

// stirred tells that the pump, where there is one, turns the mash over and
// nobody's hands are in it.
func (r *round) stirred() bool {
	s := r.s
	still := !s.Mode.Heats() || s.AskedGrain || s.BedRest > 0 || r.c.HasPump && s.Pump == unit.Off
	return !still && (s.Stage == Heat || s.Stage == Count || s.Stage == Ready)
}
