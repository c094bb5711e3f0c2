package late

import (
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/profile/plan"
)

// Planned is what has to be known of a plan: it is kept with the record of its
// batch, for a plan made anew might be another.
type Planned struct {
	Power    unit.Watts
	Loss     unit.WattsPerKelvin
	Room     unit.Celsius
	Surface  float64 // open surface, m²; 0: not known
	Pump     bool
	Grain    unit.Kilograms
	Water    unit.Litres // cold, as filled
	Lifted   unit.Litres // cold, after the lift
	Boiling  unit.Celsius
	Steps    []PlannedStep
	Finishes time.Duration
}

// PlannedStep is one entry. Instants count from arming.
type PlannedStep struct {
	Index   uint8
	Kind    profile.Kind
	Target  unit.Celsius // where it ends
	From    unit.Celsius
	Start   time.Duration
	Reached time.Duration
	End     time.Duration
	Gentle  time.Duration `json:",omitempty"` // the last part of a boil's heat-up
	Ramped  bool          `json:",omitempty"` // with a ceiling on its rate
}

// Of is a plan as it is needed here.
func Of(d plan.Plan) Planned {
	k := d.Kettle
	out := Planned{
		Power: k.Power, Loss: k.Loss, Room: k.Room, Surface: math.Pi / 4 * float64(k.Diameter) * float64(k.Diameter), Pump: k.Pump,
		Grain: d.Grain.Mass, Water: d.Water, Lifted: d.Water - heat.Retention(d.Grain.Mass, k.Retention), Boiling: d.Boiling, Finishes: d.Finish,
	}
	for _, s := range d.Steps {
		out.Steps = append(out.Steps, PlannedStep{
			Index: uint8(s.Index), Kind: s.Kind, Target: s.Ends, From: s.From, Start: s.Start, Reached: s.Reached, End: s.End, Gentle: s.Gentle, Ramped: s.Ramp > 0,
		})
	}
	return out
}

// Step is the entry of that index; nil: the plan has none.
func (p *Planned) Step(index uint8) *PlannedStep {
	for i := range p.Steps {
		if p.Steps[i].Index == index {
			return &p.Steps[i]
		}
	}
	return nil
}

// pours is when the grain begins to go in: where the step before ends.
func (p *Planned) pours(in *PlannedStep) time.Duration {
	at := time.Duration(0)
	for i := range p.Steps {
		if s := &p.Steps[i]; s.Index < in.Index {
			at = s.End
		}
	}
	return min(at, in.Start)
}

// Hold is the time at the target.
func (s *PlannedStep) Hold() time.Duration { return s.End - s.Reached }

// turn is the moment and temperature at which a heat-up at full power ends: that
// of a boil ends below the break.
func (p *Planned) turn(s *PlannedStep) (time.Duration, unit.Celsius) {
	if s.Gentle > 0 {
		return s.Reached - s.Gentle, max(s.From, p.Boiling-breakBelow)
	}
	return s.Reached, s.Target
}

// breakBelow is where a boil's gentle part begins, under the boiling point.
const breakBelow = 3

// capacity is the load that the plan took for a heat-up, from how long it takes;
// 0 where that does not tell.
func (p *Planned) capacity(s *PlannedStep) unit.JoulesPerKelvin {
	end, to := p.turn(s)
	way := (end - s.Start).Seconds()
	if s.Ramped || way <= 0 || to <= s.From {
		return 0
	}
	const some unit.JoulesPerKelvin = 1e5 // the time is in proportion to the load
	takes, err := heat.HeatUp(some, p.Loss, p.Power, p.Room, s.From, to)
	if takes = orNone(takes, err); takes <= 0 {
		return 0
	}
	return unit.JoulesPerKelvin(float64(some) * way / takes.Seconds())
}

// orNone is no time where there is none.
func orNone(d time.Duration, err error) time.Duration {
	if err != nil {
		return 0
	}
	return d
}

// surplus is what full power leaves at a temperature, W; never less than a tenth
// of it.
func (p *Planned) surplus(t unit.Celsius) float64 {
	return max(float64(p.Power)/10, float64(p.Power)-float64(p.Loss)*float64(t-p.Room))
}

// climbs is the instant of the plan at which a heat-up stands at a temperature.
func (p *Planned) climbs(s *PlannedStep, t unit.Celsius) time.Duration {
	end, to := p.turn(s)
	switch {
	case to <= s.From || end <= s.Start:
		return end
	case t >= to && s.Gentle > 0:
		share := float64(t-to) / max(float64(s.Target-to), 0.1)
		return end + time.Duration(min(1, share)*float64(s.Gentle))
	case t >= to:
		return end
	}
	c := p.capacity(s)
	if c <= 0 {
		return s.Start + time.Duration(float64(end-s.Start)*float64(t-s.From)/float64(to-s.From))
	}
	if t < s.From { // colder than planned: what the same law would have taken up to there
		before, err := heat.HeatUp(c, p.Loss, p.Power, p.Room, t, s.From)
		return s.Start - orNone(before, err)
	}
	way, err := heat.HeatUp(c, p.Loss, p.Power, p.Room, s.From, t)
	if err != nil {
		return end
	}
	return min(end, s.Start+way)
}

// falls is the same for a way down: towards a temperature a little below its end.
func (p *Planned) falls(s *PlannedStep, t unit.Celsius) time.Duration {
	if t <= s.Target || s.From <= s.Target || s.Reached <= s.Start {
		return s.Reached
	}
	rest := s.Target - 2
	all := math.Log(float64((s.From - rest) / (s.Target - rest)))
	gone := math.Log(float64((s.From - rest) / (t - rest)))
	return s.Start + time.Duration(gone/all*float64(s.Reached-s.Start))
}
