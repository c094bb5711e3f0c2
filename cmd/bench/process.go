package main

import (
	"math"
	"slices"
	"time"

	"mashward/controller/observer"
	"mashward/controller/pid"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/sensors/estimate"
)

// withMash is the model that a water test found, with the mash in the kettle by
// calculation: what heats at once and what is behind the circulation share the
// new capacity as they shared the old one.
func withMash(m observer.Model, load unit.JoulesPerKelvin) observer.Model {
	share := m.Heated / m.Capacity()
	m.Heated, m.Mash = share*load, (1-share)*load
	return m
}

// reduce is the model as an integrator with a delay, in units of duty, by the
// half rule and the rules for a zero of Skogestad, J. Process Control 13 (2003)
// 291: of the lags the largest counts half, and a part that heats faster than
// the whole makes the process that much stronger.
func reduce(m observer.Model) tune.Process {
	mixing := float64(m.Mash) / float64(m.Exchange) // s, the zero of the heated part
	ahead := mixing * float64(m.Heated/m.Capacity())
	lags := []float64{m.Element.Seconds(), m.Probe.Seconds(), estimate.Lag.Seconds(), estimate.Lag.Seconds()}
	if m.InMash {
		lags = append(lags, ahead)
	}
	delay := m.Delay.Seconds() + 0.5 // half a tick: duty is held for a second
	for _, l := range lags {
		delay += l
	}
	delay -= slices.Max(lags) / 2
	gain := float64(m.Power) / float64(m.Capacity())
	if !m.InMash && mixing > delay {
		gain *= mixing / max(ahead, delay)
	}
	return tune.Process{Gain: gain, Delay: spanOf(delay)}
}

// cycle is the limit cycle of relay feedback.
type cycle struct {
	period    time.Duration
	amplitude float64 // K, half of peak to peak
}

// gains of Ziegler and Nichols from the cycle; swing is the relay's, in duty.
func (c cycle) gains(swing float64) pid.Gains {
	return tune.ZieglerNichols(tune.Relay(swing, c.amplitude), c.period)
}

// swing is half of full power up and down: what a relay on a heater could do if
// it could cool as strongly as it heats. A real one cannot, and its cycle is
// many times longer for it; the rule gets the cycle it was made for.
const swing = 0.5

// relayCycle runs relay feedback on the model with the filter behind it, its
// loss taken out, until the cycle repeats.
func relayCycle(m observer.Model) cycle {
	k := newModelled(m)
	const fine, longest = 0.05, 4 * 3600 // s
	var c cycle
	up, highest, lowest, last := true, 0.0, 0.0, 0.0
	for step := 0; float64(step)*fine < longest; step++ {
		u := -swing
		if up {
			u = swing
		}
		y := k.step(u, fine)
		highest, lowest = max(highest, y), min(lowest, y)
		if up == (y < 0) {
			continue
		}
		if up = !up; !up {
			continue
		}
		now := float64(step) * fine
		before := c
		c = cycle{spanOf(now - last), (highest - lowest) / 2}
		last, highest, lowest = now, 0, 0
		if math.Abs(c.amplitude/before.amplitude-1) < 1e-4 && math.Abs(c.period.Seconds()/before.period.Seconds()-1) < 1e-4 {
			break
		}
	}
	return c
}

// modelled is the model's deviation from rest, without its loss, with the
// filter's two lags behind the probe.
type modelled struct {
	m                   observer.Model
	power               float64 // duty that has left the element
	heated, mash, probe float64 // K
	first, second       float64 // K, behind the filters
	past                []float64
	at                  int
}

func newModelled(m observer.Model) *modelled { return &modelled{m: m} }

// step lets h seconds pass under a duty and gives what the loop sees.
func (k *modelled) step(duty, h float64) float64 {
	m := k.m
	if k.past == nil {
		k.past = make([]float64, max(1, int(m.Delay.Seconds()/h)))
	}
	flow := float64(m.Exchange) * (k.heated - k.mash)
	k.power = follow(k.power, duty, m.Element.Seconds(), h)
	k.heated += h * (float64(m.Power)*k.power - flow) / float64(m.Heated)
	k.mash += h * flow / float64(m.Mash)
	place := k.heated
	if m.InMash {
		place = k.mash
	}
	k.probe = follow(k.probe, place, m.Probe.Seconds(), h)
	late := k.past[k.at]
	k.past[k.at] = k.probe
	k.at = (k.at + 1) % len(k.past)
	k.first = follow(k.first, late, estimate.Lag.Seconds(), h)
	k.second = follow(k.second, k.first, estimate.Lag.Seconds(), h)
	return k.second
}

// follow is a first-order lag over h seconds.
func follow(x, to, lag, h float64) float64 {
	if lag <= 0 {
		return to
	}
	return x + (to-x)*(1-math.Exp(-h/lag))
}

func spanOf(seconds float64) time.Duration { return time.Duration(seconds * float64(time.Second)) }
