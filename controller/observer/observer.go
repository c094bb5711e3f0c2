// Package observer estimates what the probe cannot show in time: how warm all
// that stands in the kettle is on the mean, and how much power is at work that
// nobody declared.
//
// The model is lumped: an element that lags, a heated part and a mash that
// exchange heat by circulation, a probe that lags, and a delay between kettle
// and reading.
//
//	te q'  = P u − q                      q: power that has left the element, W
//	C1 Tw' = q + d − G (Tw − Tm) − UA (Tw − Ta)
//	C2 Tm' = G (Tw − Tm)
//	tp Tp' = (Tw or Tm) − Tp
//	d'     = 0                            d: power nobody declared, W
//	y(t)   = Tp(t − theta)
//
// It is discretised exactly for ticks of a second in which the input is held.
// A stationary Kalman filter runs on the input of theta ago, which is what the
// reading answers to; from there the state is carried forward to now. The
// input is the power really applied, as the relay did it: that is the whole
// anti-windup.
package observer

import (
	"math"
	"time"

	"mashward/controller/unit"
)

// states is the length of the state vector.
const states = 6

// The places in the state vector. one is constantly 1: it carries what does
// not depend on the state (the room).
const (
	power  = iota // q, W
	heated        // Tw, °C
	mash          // Tm, °C
	probe         // Tp, °C
	extra         // d, W
	one
)

// MostDelay bounds theta: the past input is kept as bits.
const MostDelay = 64 * time.Second

// Vector is the model's state.
type Vector [states]float64

// Model is one kettle with what stands in it.
type Model struct {
	Power    unit.Watts           // P
	Element  time.Duration        // te
	Heated   unit.JoulesPerKelvin // C1: the part that the element heats at once
	Mash     unit.JoulesPerKelvin // C2: the part behind the circulation
	Exchange unit.WattsPerKelvin  // G
	Loss     unit.WattsPerKelvin  // UA
	Room     unit.Celsius         // Ta
	Probe    time.Duration        // tp
	Delay    time.Duration        // theta, whole seconds
	InMash   bool                 // the probe sits in the mash, not in the heated part
	Noise    unit.Kelvin          // of the reading, standard deviation; 0 = 0.07 K
}

// Capacity is what all of it holds, C1 + C2.
func (m Model) Capacity() unit.JoulesPerKelvin { return m.Heated + m.Mash }

// Lag is how far a reading lags the kettle: te + tp + theta.
func (m Model) Lag() time.Duration { return m.Element + m.Probe + m.Delay }

// With is the model with another load in the same kettle. What heats at once and
// what is behind the circulation share it as they did; the pump turns the
// capacity over in the same time.
func (m Model) With(load unit.JoulesPerKelvin) Model {
	scale := unit.JoulesPerKelvin(float64(load / m.Capacity()))
	m.Heated, m.Mash = m.Heated*scale, m.Mash*scale
	return m
}

// Good tells whether the figures can be those of a kettle.
func (m Model) Good() bool {
	positive := m.Power > 0 && m.Heated > 0 && m.Mash > 0 && m.Exchange > 0 && m.Loss >= 0 &&
		m.Element > 0 && m.Probe > 0 && m.Delay >= 0 && m.Delay <= MostDelay
	sum := float64(m.Power) + float64(m.Heated) + float64(m.Mash) + float64(m.Exchange) + float64(m.Loss) + float64(m.Room) + float64(m.Noise)
	return positive && !math.IsNaN(sum) && !math.IsInf(sum, 0)
}

// Drift is how fast the filter lets each state wander, as variances a second.
// Power that nobody declared is in units of full power.
type Drift struct {
	Temperature float64 // K² of heated part and mash
	Probe       float64 // K²
	Extra       float64 // (share of full power)²
}

// Steering is the drift of the observer that the law acts on. The figures were
// chosen on simulated kettles.
func Steering() Drift { return Drift{Temperature: 1e-5, Probe: 1e-7, Extra: 0.004 * 0.004} }

// Filter is a model made ready to run: discretised, with its gain. It is a
// plain value.
type Filter struct {
	Model    Model
	Carry    Matrix  // one second, state to state
	Input    Vector  // one second of full power
	Gain     Vector  // of the innovation
	Delay    uint8   // s
	Variance float64 // of the innovation, K²
}

// New makes a filter. ok is false when the figures cannot be a kettle's or the
// gain cannot be found; such a filter must not be used.
func New(m Model, d Drift) (f Filter, ok bool) {
	if !m.Good() {
		return Filter{}, false
	}
	f = Filter{Model: m, Delay: uint8(m.Delay / time.Second)}
	f.Carry, f.Input = discrete(m, 1)
	f.Gain, f.Variance, ok = kalman(&f.Carry, m, d)
	return f, ok
}

// continuous is the model as x' = A x + B u.
func continuous(m Model) (a Matrix, b Vector) {
	te, tp := m.Element.Seconds(), m.Probe.Seconds()
	c1, c2, g, ua := float64(m.Heated), float64(m.Mash), float64(m.Exchange), float64(m.Loss)
	a[power][power] = -1 / te
	b[power] = float64(m.Power) / te
	a[heated][power], a[heated][extra] = 1/c1, 1/c1
	a[heated][heated], a[heated][mash] = -(g+ua)/c1, g/c1
	a[heated][one] = ua * float64(m.Room) / c1
	a[mash][heated], a[mash][mash] = g/c2, -g/c2
	seen := heated
	if m.InMash {
		seen = mash
	}
	a[probe][seen], a[probe][probe] = 1/tp, -1/tp
	return a, b
}

// discrete carries the model over some seconds with the input held: the
// exponential of A, and its integral times B by one more exponential.
func discrete(m Model, seconds float64) (Matrix, Vector) {
	a, b := continuous(m)
	a = a.scaled(seconds)
	step := a.exponential()
	// The input is a further constant: exp of the model with full power on
	// shows what one second of it adds.
	driven := a
	for i := range b {
		driven[i][one] += b[i] * seconds
	}
	with := driven.exponential()
	var input Vector
	for i := range input {
		input[i] = with[i][one] - step[i][one]
	}
	return step, input
}

// State is what the filter remembers.
type State struct {
	X     Vector // at the instant that the newest reading answers to
	Past  uint64 // applied input of the last 64 s, newest in bit 0
	Begun bool
	Miss  float64 // mean square of the innovation, K², over some minutes
}

// Begin is a kettle that has been at one temperature for a while.
func Begin(at unit.Celsius) State {
	return State{X: Vector{heated: float64(at), mash: float64(at), probe: float64(at), one: 1}, Begun: true}
}

// missOver is the time over which the innovation is averaged.
const missOver = 300 // s

// Step takes one second: what was really applied in it, and the reading at its
// end if there is one.
func (f *Filter) Step(s State, applied unit.Relay, reading unit.Celsius, has bool) State {
	s.Past = s.Past<<1 | uint64(applied&1)
	x := f.Carry.apply(&s.X)
	if s.Past>>f.Delay&1 == 1 {
		for i := range x {
			x[i] += f.Input[i]
		}
	}
	x[one] = 1
	if has {
		miss := float64(reading) - x[probe]
		for i := range x {
			x[i] += f.Gain[i] * miss
		}
		s.Miss += (miss*miss - s.Miss) / missOver
	}
	s.X = x
	return s
}

// Now carries the state over the delay, with what has been applied since.
func (f *Filter) Now(s State) Vector {
	x := s.X
	for i := int(f.Delay) - 1; i >= 0; i-- {
		x = f.Carry.apply(&x)
		if s.Past>>i&1 == 1 {
			for k := range x {
				x[k] += f.Input[k]
			}
		}
	}
	return x
}

// Mean is the energy-mean temperature of element, heated part and mash: it
// answers to power without delay.
func (f *Filter) Mean(x *Vector) unit.Celsius {
	m := &f.Model
	c1, c2 := float64(m.Heated), float64(m.Mash)
	stored := m.Element.Seconds()*x[power] + c1*x[heated] + c2*x[mash]
	return unit.Celsius(stored / (c1 + c2))
}

// Mash is the temperature of the part behind the circulation.
func (f *Filter) Mash(x *Vector) unit.Celsius { return unit.Celsius(x[mash]) }

// Heated is the temperature at the element.
func (f *Filter) Heated(x *Vector) unit.Celsius { return unit.Celsius(x[heated]) }

// Extra is the power at work that nobody declared.
func (f *Filter) Extra(x *Vector) unit.Watts { return unit.Watts(x[extra]) }

// Driven is the power that has left the element.
func (f *Filter) Driven(x *Vector) unit.Watts { return unit.Watts(x[power]) }

// Seen is the temperature of the probe by the model, °C.
func (f *Filter) Seen(x *Vector) float64 { return x[probe] }

// Residual is the root mean square of what the model did not foresee.
func (s State) Residual() unit.Kelvin { return unit.Kelvin(math.Sqrt(s.Miss)) }

// Answer runs the model from a steady temperature, without noise and without
// the delay: out[i] is the probe's own temperature at the end of period i, in
// which the element was on for the share duty[i]. It is what an identification
// fits. With is power besides the element's, W, period by period; nil: none.
func (m Model) Answer(from unit.Celsius, duty, with []float64, period time.Duration, out []float64) {
	step, input := discrete(m, period.Seconds())
	x := Begin(from).X
	// A kettle at rest is not one whose element is off: it is held at from by
	// whatever it has been, so that the first seconds show no made-up fall.
	for i := range out {
		if with != nil {
			x[extra] = with[i]
		}
		x = step.apply(&x)
		for k := range x {
			x[k] += duty[i] * input[k]
		}
		out[i] = x[probe]
	}
}
