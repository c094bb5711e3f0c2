package controller

import (
	"math"
	"time"

	"mashward/controller/pid"
	"mashward/controller/unit"
)

// Figures of the hold loop on the mean, chosen on the simulator.
const (
	// The gap to the target is closed in twice the probe's lag, but no faster than
	// this.
	leastPace = time.Minute
	// A change from the one loop to the other is led over this.
	bumpOver = 15 * time.Second
)

// gains are by SIMC for an integrating process with the learned lag, tc = lag:
// Skogestad, J. Process Control 13 (2003) 291. A little derivative action on top
// makes the loop more forgiving.
func (r *round) gains() pid.Gains {
	lag := r.lag()
	rate := float64(r.c.Power) / float64(r.s.Load) * r.s.Law.gain() // K/s at full power
	g := pid.SIMC(rate, lag, lag)                                   // weight 1: the approach is outside the loop
	g.Derivative = lag / 4
	return g
}

// hold is the PID loop: on the mean of the kettle where a model shows it, else on
// the filtered reading.
func (r *round) hold() unit.Duty {
	l := &r.s.Law
	duty := unit.Duty(0)
	if r.s.Sight.Trusted {
		duty = r.holdMean()
	} else {
		duty = r.holdReading()
	}
	if l.InWay > 5*time.Minute {
		r.learnSpare(l.Spare + (l.PID.Integral-l.Spare)*min(1, r.dt.Seconds()/600))
	}
	return duty
}

// holdReading is the loop on the filtered reading.
func (r *round) holdReading() unit.Duty {
	l := &r.s.Law
	applied := min(max(l.Asked, 0), 1)
	if r.t.Inhibited || r.s.Wished == unit.On && r.t.Applied == unit.Off {
		applied = 0 // heat was withheld: the integral must know
	}
	in := pid.Input{
		Target: l.Target, Origin: l.Origin, Value: r.e.Value, Forward: r.holding(l.Target),
		Applied: applied, Wished: l.Asked, Dt: min(r.dt, GapLimit),
	}
	if r.e.HasSlope {
		in.Slope = r.e.Slope
	}
	before := l.PID
	l.PID, r.d.Terms = pid.Step(before, r.gains(), in)
	if r.s.Sight.Held { // the other loop had it in the last tick: go on from its duty
		r.s.Sight.Held = false
		l.PID.Integral += l.Gave - r.d.Terms.Sum()
		r.d.Terms.Integral = l.PID.Integral
	}
	l.Asked = r.d.Terms.Sum()
	return unit.Duty(l.Asked).Clamp()
}

// holdMean is the loop on the mean of the kettle, which answers to power without
// delay: proportional to what is missing, and for its integral the power that
// nobody declared. The observer is told what was really applied, so that nothing
// can wind up.
func (r *round) holdMean() unit.Duty {
	l, o := &r.s.Law, &r.s.Sight
	m := &o.Filter.Model
	full := float64(m.Power)
	holding := float64(m.Loss)*float64(l.Target-m.Room) - float64(o.Extra) // W
	// Heat that is still in the element belongs to the mean.
	inElement := m.Element.Seconds() * math.Max(0, holding) / float64(m.Capacity())
	missing := float64(l.Target-o.Mean) + inElement
	pace := max(leastPace, 2*m.Lag()).Seconds()
	forward := r.holding(l.Target)
	l.PID.Integral = holding/full - forward
	r.d.Terms = pid.Terms{
		Forward:      forward,
		Proportional: float64(m.Capacity()) / (full * pace) * missing,
		Integral:     l.PID.Integral,
	}
	if !o.Held {
		o.Held, o.Bump = true, l.Gave-r.d.Terms.Sum()
	}
	r.d.Terms.Integral += o.Bump
	o.Bump *= math.Exp(-r.dt.Seconds() / bumpOver.Seconds())
	l.Asked = r.d.Terms.Sum()
	return unit.Duty(l.Asked).Clamp()
}
