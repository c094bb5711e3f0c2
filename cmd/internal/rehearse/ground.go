// Package rehearse runs a whole batch on a plant: the simulator's, or one in
// another process. It is the one engine of dryrun and demo: loop.Run on a
// bench, with a person who answers prompts and a judge who knows the truth.
package rehearse

import (
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/modulate"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/profile/plan"
)

// Settle is how long the bed sets after the grain is in, heat and pump off
// (common practice, no source).
const Settle = 5 * time.Minute

// Core is the controller's configuration for one profile on one kettle. The
// plan must have been accepted.
func Core(p profile.Profile, d plan.Plan) controller.Config {
	k := d.Kettle
	mash := heat.Mash{Water: p.Water, Vessel: k.Vessel}
	c := controller.Config{
		Power: k.Power, Loss: k.Loss, Vessel: k.Vessel, LoadWater: mash.Capacity(),
		HotSide: k.HotSide, HasPump: k.Pump, InBoil: k.InBoil, Boiling: d.Boiling, Room: k.Room, Tap: k.Tap,
		Water: p.Water, CoveredAt: k.ElementCoveredAt, Settle: Settle, Capacity: k.Capacity, Surface: surface(k),
		Displaced: heat.Displaced(p.Grain.Mass),
	}
	mash.Grain, mash.Moisture = p.Grain.Mass, p.Grain.Moisture
	c.LoadMash = mash.Capacity()
	c.AfterLift = p.Water - heat.Retention(p.Grain.Mass, k.Retention)
	c.LoadWort = heat.Mash{Water: c.AfterLift, Vessel: k.Vessel}.Capacity()
	if k.Relay == plan.SolidState {
		c.Relay = modulate.SolidState
	}
	switch k.Probe {
	case plan.Return:
		c.Place = controller.Return
	case plan.Bed:
		c.Place = controller.Bed
	case plan.Outlet:
	}
	if k.Probe != plan.Return {
		c.ProbeAt = k.ProbeCoveredAt
	}
	if p.ByHand() {
		c.Longest = plan.LongestByHand
	}
	fillSteps(&c, p, d)
	g := p.Grain
	c.Grain = controller.Malt{Mass: g.Mass, At: g.Temperature, Moisture: g.Moisture, Slaking: g.Slaking}
	c.Stirring, c.StrikeMost = k.Stirring, hottestStrike(p, d)
	return c
}

// hottestStrike is as hot as strike water may be made for other grain than
// planned: two kelvin below the limit that is set at arming, and below the boil as
// the plan demands.
func hottestStrike(p profile.Profile, d plan.Plan) unit.Celsius {
	const room, belowBoil unit.Kelvin = 2, 3
	l := Limits(p, d).Tighten()
	limit := l.MashCeiling
	if l.Rig != 0 {
		limit = min(limit, l.Rig)
	}
	return min(limit.Plus(-room), d.Boiling.Plus(-belowBoil))
}

// fillSteps copies the profile's steps behind the strike.
func fillSteps(c *controller.Config, p profile.Profile, d plan.Plan) {
	c.First = 1
	if d.HasStrike {
		c.First = 0
		c.Steps[0] = controller.Step{Kind: profile.Strike, Target: d.Strike.Temperature}
	}
	for i, s := range p.Steps {
		step := controller.Step{Kind: s.Kind, Target: s.Target, For: s.For, Ramp: s.Ramp, Floor: s.Floor}
		if s.Kind == profile.Boil {
			step.Target = d.Boiling
		}
		for _, planned := range d.Steps {
			if planned.Index == i+1 && s.Kind == profile.Boil {
				step.Duty = planned.Duty
				step.Steam = d.Boils[0].Steam // a day has one boil
			}
		}
		c.Steps[i+1] = step
	}
	c.Count = uint8(len(p.Steps)) + 1
	fillAdditions(c, p)
}

// fillAdditions numbers what is thrown in, step by step.
func fillAdditions(c *controller.Config, p profile.Profile) {
	all, steps := p.Order()
	for i, a := range all {
		c.Additions[i], c.FromStart[i] = a.Left, a.When != profile.ByLeft
		if a.When == profile.ByClock {
			c.Additions[i] = a.At
		}
		step := &c.Steps[steps[i]]
		if step.To == 0 {
			step.From = uint8(i)
		}
		step.To = uint8(i) + 1
	}
}

// Limits is what the interlock is handed at arming.
func Limits(p profile.Profile, d plan.Plan) interlock.Limits {
	const above unit.Kelvin = 5
	k := d.Kettle
	highest, lifts, boils := d.Strike.Temperature, false, false
	for _, s := range p.Steps {
		switch s.Kind {
		case profile.Lift:
			lifts = true
		case profile.Boil:
			boils = true
		case profile.MashIn, profile.Rest, profile.MashOut:
			highest = max(highest, s.Target)
		case profile.Strike, profile.Stand, profile.Chill:
		}
	}
	power, loss := k.Steam(d.Boiling)
	l := interlock.Limits{
		MashCeiling: highest.Plus(above), BoilCeiling: d.Boiling.Plus(interlock.AboveBoiling), Rig: k.OverTemperature,
		Boiling: d.Boiling, CoveredAt: k.ElementCoveredAt, ElementPower: power,
		LossAtBoil: loss,
		OnLimit:    longestOn(d), ArmedFor: interlock.LongestArmed,
	}
	if boils && !lifts {
		l.MashCeiling = l.BoilCeiling
	}
	if p.ByHand() { // never a boil by hand
		l.MashCeiling, l.ArmedFor = min(l.MashCeiling, d.Boiling.Plus(-plan.ByHandBelow)), plan.LongestByHand
	}
	return l
}

// longestOn is the longest uninterrupted heating the plan can need: twice the
// longest heat-up it foresees, for a kettle fuller or an element weaker than
// was said, and a quarter of an hour.
func longestOn(d plan.Plan) time.Duration {
	longest := time.Duration(0)
	for _, s := range d.Steps {
		on := s.Heat()
		if s.Duty >= 0.95 {
			on += s.Hold
		}
		longest = max(longest, on)
	}
	return 2*longest + 15*time.Minute
}
