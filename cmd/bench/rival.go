package main

import (
	"math"
	"time"

	"mashward/controller/modulate"
	"mashward/controller/pid"
	"mashward/controller/unit"
	"mashward/sensors"
	"mashward/sensors/estimate"
	"mashward/sim"
)

// driver lets one second pass on a kettle, on its way to a target.
type driver interface {
	// begin says that a new rest begins.
	begin()
	drive(p *sim.Plant, goal float64)
}

// decider is what a user could pick instead: it sees readings, and decides
// on the relay for the next second.
type decider interface {
	second(target unit.Celsius, r sensors.Reading) unit.Relay
}

// blind lets a controller drive: it never sees the kettle, only its probe.
type blind struct {
	decider  decider
	rest     int // counts from 1 once it has begun
	now      time.Duration
	was      unit.Relay
	closings int
}

func (b *blind) begin() { b.rest++ }

func (b *blind) drive(p *sim.Plant, _ float64) {
	reading := sensors.Reading{Value: p.Reading(), Taken: b.now, Fault: sensors.None}
	relay := b.decider.second(programme[b.rest-1].target, reading)
	if relay == unit.On && b.was == unit.Off {
		b.closings++
	}
	b.was = relay
	p.Advance(relay, unit.On)
	b.now += time.Second
}

// thermostat is on or off by the raw reading: off at the target, on again when
// the reading has fallen by the hysteresis. A mechanical relay keeps its minimum
// times.
type thermostat struct {
	hysteresis unit.Kelvin
	relay      modulate.Kind
	on         bool
	modulated  modulate.State
}

func (t *thermostat) second(target unit.Celsius, r sensors.Reading) unit.Relay {
	switch {
	case r.Value >= target:
		t.on = false
	case r.Value <= target.Plus(-t.hysteresis):
		t.on = true
	}
	duty := unit.Duty(0)
	if t.on {
		duty = 1
	}
	var relay unit.Relay
	t.modulated, relay = modulate.Step(t.modulated, t.relay, duty, time.Second)
	return relay
}

// textbook is the PID of the textbooks, on the filtered reading: set-point
// weight, derivative on the measurement behind a lag of an eighth of Td,
// anti-windup by tracking. Åström and Hägglund, Advanced PID Control (2006),
// chapter 3 (from memory). It is not our own law: that bounds its integral, and
// gains with a set-point weight of 0 need one without bounds.
type textbook struct {
	gains pid.Gains
	relay modulate.Kind

	filter    estimate.State
	target    unit.Celsius
	integral  float64 // duty
	slope     float64 // K/s
	last      float64 // filtered reading a second ago
	modulated modulate.State
}

func (x *textbook) second(target unit.Celsius, r sensors.Reading) unit.Relay {
	begun := x.filter.Known
	var e estimate.Estimate
	x.filter, e = estimate.Step(x.filter, r, r.Taken, time.Second, 0)
	y := float64(e.Value)
	if !begun { // as if it had stood here for long, at no heat
		x.last = y
		x.integral = x.gains.Proportional * (1 - x.gains.Weight) * y
	}
	x.target = target
	duty := x.law(y)
	var relay unit.Relay
	x.modulated, relay = modulate.Step(x.modulated, x.relay, duty, time.Second)
	return relay
}

// law is one second of the loop.
func (x *textbook) law(y float64) unit.Duty {
	g := x.gains
	td, ti := g.Derivative.Seconds(), g.Integral.Seconds()
	x.slope = follow(x.slope, y-x.last, max(td/8, 1), 1)
	x.last = y
	asked := g.Proportional*(g.Weight*float64(x.target)-y) + x.integral - g.Proportional*td*x.slope
	duty := min(max(asked, 0), 1)
	tracking := ti / 2
	if td > 0 {
		tracking = math.Sqrt(ti * td)
	}
	x.integral += g.Proportional/ti*(float64(x.target)-y) + (duty-asked)*min(1, 1/tracking)
	return unit.Duty(duty)
}

// idle asks for nothing.
type idle struct{}

func (idle) second(unit.Celsius, sensors.Reading) unit.Relay { return unit.Off }
