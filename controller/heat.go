package controller

import (
	"mashward/controller/modulate"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors/estimate"
)

// heat turns the stage into a duty and the duty into a relay.
func (r *round) heat() {
	r.balance()
	r.observe()
	duty := unit.Duty(0)
	switch {
	case !r.s.Mode.Heats(), r.blind(), r.s.Bare, r.dt > GapLimit:
		r.s.Law.stop()
	case r.e.Valid && r.dt > 0:
		duty = r.wish()
	case r.e.Age > estimate.Forget:
		r.s.Law.stop()
	default: // a short silence, or a clock that stands: no heat, but the balance still knows where the kettle is
	}
	if r.t.Inhibited && r.c.Relay == modulate.Mechanical {
		// What comes back by itself would close the relay whenever it does; one
		// that wears closes when its own window allows.
		duty = 0
	}
	if !r.t.Inhibited {
		r.s.Law.Gave = float64(duty)
	}
	r.s.Sight.Held = r.s.Sight.Held && r.s.Law.Way == Holding
	r.s.Modulate, r.d.Wanted = modulate.Step(r.s.Modulate, r.c.Relay, duty, r.dt)
	r.d.Duty = duty
	r.s.Wished = r.d.Wanted
}

// wish is the duty that is asked for. While heat is withheld the law learns nothing
// from what is read, and goes on later with what it knew.
func (r *round) wish() unit.Duty {
	kept := r.s.Law
	duty := r.duty()
	if r.t.Inhibited && r.s.Law.Way != NoHeat {
		r.s.Law = kept
	}
	return duty
}

// blind tells that the reading says nothing of the kettle: the probe sits in a
// hose through which nothing flows, or nothing has for a while, and what stood
// there or under the bed has not mixed yet. A heat-up that began from such a
// reading would end kelvins beside its target.
func (r *round) blind() bool {
	s := r.s
	bed := s.GrainIn && !s.Lifted && r.c.HasPump
	switch {
	case r.c.Place == Return:
		return s.Pump == unit.Off || s.Unmixed > 0
	case bed:
		return s.Pump == unit.On && s.Unmixed > 0
	}
	return false
}

// duty is the heat that each stage asks for. A stage not named asks for none.
func (r *round) duty() unit.Duty {
	s := r.s
	if s.AskedGrain || s.BedRest > 0 {
		s.Law.stop()
		return 0
	}
	switch s.Stage {
	case Heat, Count:
		return r.reach(r.step().Target, r.step().Ramp)
	case Ready:
		return r.reach(r.readyTarget(), 0)
	case Drain:
		if s.Bare {
			s.Law.stop()
			return 0
		}
		return min(GentleDuty, r.reach(min(GentleMost, r.c.Boiling.Plus(-GentleBelow)), 0))
	case Climb, Door:
		return r.reach(r.c.Boiling.Plus(-GentleBelow), 0)
	case Break:
		s.Law.stop()
		return r.breakDuty()
	case Boil:
		s.Law.stop()
		if s.Plateau.Full && r.e.Value < r.c.Boiling.Plus(-boilAgainBand) {
			return 1
		}
		return r.vigour()
	case Push:
		s.Law.stop()
		return 1
	case NoStage, Pour, Settle, Mix, Hoist, Connect, Cool, Still, Quiet:
	}
	s.Law.stop()
	return 0
}

// readyTarget is what is kept while a person is awaited: strike temperature
// before the grain, the last rest's target before the lift.
func (r *round) readyTarget() unit.Celsius {
	if r.step().Kind == profile.Lift && r.s.Index > 0 {
		return r.s.Steps[r.s.Index-1].Target
	}
	return r.step().Target
}
