package controller

import (
	"mashward/controller/unit"
	"mashward/profile"
)

// stir runs the pump by step. It stops at once, and never starts by itself
// without a warning.
func (r *round) stir() {
	s := r.s
	if r.dt > GapLimit { // its lease has run out meanwhile: it stands, and nobody was warned
		if s.Pump == unit.On {
			r.event(PumpStops, 0)
		}
		s.Pump, s.PumpIn = unit.Off, 0
	}
	r.part()
	want := r.c.HasPump && s.Mode.Heats() && !s.PumpBlocked && s.BedRest == 0 && !s.AskedGrain && r.pumpByStage()
	switch {
	case !want:
		if s.Pump == unit.On {
			r.event(PumpStops, 0)
		}
		s.Pump, s.PumpIn = unit.Off, 0
	case s.Pump == unit.On:
	case s.PumpIn == 0:
		s.PumpIn = PumpWarning
		r.event(PumpStarts, PumpWarning.Seconds())
	default:
		s.PumpIn = max(0, s.PumpIn-r.dt)
		if s.PumpIn == 0 {
			s.Pump = unit.On
			r.event(PumpRuns, 0)
		}
	}
}

// part takes note that a kettle comes apart while its pump stands: the hose cools,
// and the bed is not at the temperature of the wort outside. It takes half as long
// to mix again, up to mostUnmixed.
func (r *round) part() {
	s := r.s
	if s.Pump == unit.On {
		s.Unmixed = max(0, s.Unmixed-r.dt)
	} else {
		s.Unmixed = min(s.Unmixed+r.dt/2, mostUnmixed)
	}
}

// pumpByStage is the trade's default: on for strike, rests and waiting, off
// while grain moves or settles, and off in the boil, where steam in the pump
// does harm, but for the last minutes that scald the loop.
func (r *round) pumpByStage() bool {
	s := r.s
	switch s.Stage {
	case Heat, Ready, Mix, Count:
		return s.Stage != Count || r.step().Kind != profile.Stand || r.c.InBoil
	case Drain, Climb, Door, Break:
		return r.c.InBoil && r.c.Place == Return
	case Boil:
		return r.c.InBoil && (r.c.Place == Return || r.step().For-s.Earned <= ScaldLoop)
	case Still, Push, Quiet:
		return true
	case Connect, Cool:
		return r.c.InBoil
	case NoStage, Pour, Settle, Hoist:
	}
	return false
}
