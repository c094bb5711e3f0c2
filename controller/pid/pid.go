// Package pid is the control law: two degrees of freedom, derivative on the
// measurement, tracking anti-windup.
//
//	u = feed-forward + Kc·(b·target + (1−b)·origin − y) + I − Kc·Td·dy/dt
//	dI/dt = Kc/Ti·(target − y) + (applied − u)/Tt
//
// Applied is the duty that the element really got: whatever stood between the
// wish and the element (the ends of the range, an interlock, a relay), the
// integral follows it and cannot wind up. Åström and Hägglund, Advanced PID
// Control (2006), chapter 3 (from memory).
package pid

import (
	"math"
	"time"

	"mashward/controller/unit"
)

// Gains are the law's figures. A zero value has no gain and so asks for the
// feed-forward alone.
type Gains struct {
	Proportional float64       // duty per kelvin
	Integral     time.Duration // Ti; 0 = no integral action
	Derivative   time.Duration // Td; 0 = none
	Weight       float64       // b, weight of the target in the proportional term
}

// State is the law's memory: the integral, as duty.
type State struct {
	Integral float64
}

// Input is all that the law may know in one instant.
type Input struct {
	Target  unit.Celsius
	Origin  unit.Celsius         // where the measurement stood when the target was set
	Value   unit.Celsius         // filtered measurement
	Slope   unit.KelvinPerSecond // its filtered rate
	Forward float64              // feed-forward, as duty
	Applied float64              // mean duty really applied since the last step
	Wished  float64              // what this law asked for in the last step, before its clamp
	Dt      time.Duration
}

// Terms are the parts of one output, each as duty. They are shown in every
// frame, so that nobody has to guess why the element is on.
type Terms struct {
	Forward      float64
	Proportional float64
	Integral     float64
	Derivative   float64
}

// Sum is the unclamped output.
func (t Terms) Sum() float64 { return t.Forward + t.Proportional + t.Integral + t.Derivative }

// Step runs the law once. A dt of zero or less, or an input that is not a
// number, leaves the memory alone and asks for nothing. A memory that is not a
// number begins anew.
func Step(s State, g Gains, in Input) (State, Terms) {
	if math.IsNaN(s.Integral) {
		s.Integral = 0
	}
	if in.Dt <= 0 || !in.finite() || !g.finite() {
		return s, Terms{}
	}
	e := float64(in.Target - in.Value)
	dt := in.Dt.Seconds()
	if g.Integral > 0 {
		ti := g.Integral.Seconds()
		s.Integral += g.Proportional / ti * e * dt
		s.Integral += (in.Applied - in.Wished) * min(1, dt/tracking(g))
	}
	s.Integral = min(max(s.Integral, -1), 1)
	return s, Terms{
		Forward:      in.Forward,
		Proportional: g.Proportional * (g.Weight*float64(in.Target) + (1-g.Weight)*float64(in.Origin) - float64(in.Value)),
		Integral:     s.Integral,
		Derivative:   -g.Proportional * g.Derivative.Seconds() * float64(in.Slope),
	}
}

// finite tells that every figure is a number: one that is not would stay in the
// integral for the rest of the day.
func (in Input) finite() bool {
	sum := float64(in.Target) + float64(in.Origin) + float64(in.Value) + float64(in.Slope) +
		in.Forward + in.Applied + in.Wished
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

func (g Gains) finite() bool {
	sum := g.Proportional + g.Weight
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

// tracking is the time in which the integral gives way to what was applied:
// the geometric mean of Ti and Td, or half of Ti without derivative action.
func tracking(g Gains) float64 {
	if g.Derivative > 0 {
		return math.Sqrt(g.Integral.Seconds() * g.Derivative.Seconds())
	}
	return g.Integral.Seconds() / 2
}
