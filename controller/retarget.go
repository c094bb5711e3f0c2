package controller

import (
	"mashward/controller/unit"
	"mashward/profile"
)

// The hottest that a rest may be made is the hottest that was armed: the limit handed
// to the interlock stands above that by its margin, and is never moved.

// hottest is the highest target of strike and mash as they were armed.
func (c *Config) hottest() unit.Celsius {
	highest := unit.Celsius(0)
	for i := c.First; i < c.Count; i++ {
		switch s := &c.Steps[i]; s.Kind {
		case profile.Strike, profile.MashIn, profile.Rest, profile.MashOut:
			highest = max(highest, s.Target)
		case profile.Lift, profile.Boil, profile.Stand, profile.Chill:
		}
	}
	return highest
}

// canBe tells whether a rest of this kind can be given such a target, and why not.
// No kettle cools below its room.
func (r *round) canBe(kind profile.Kind, target unit.Celsius) Refusal {
	warmer := r.e.Valid && r.mash() > r.c.Room
	switch {
	case kind != profile.Rest && kind != profile.MashOut:
		return NoRest
	case !(target > 0), warmer && !(target > r.c.Room): // a missing figure too
		return NeedsFigure
	case !(target <= r.c.hottest()):
		return HotterThanArmed
	}
	return NotRefused
}

// meant is the step that a command is about: the present one, or one to come.
func (r *round) meant() (index uint8, ok bool) {
	s := r.s
	if index = r.t.Command.Step; index == 0 {
		index = s.Index
	}
	return index, index >= s.Index && index < s.Count
}

// retarget gives a rest that has not ended another target. What it has earned stays;
// it counts on once the kettle is there.
func (r *round) retarget() Refusal {
	s, to := r.s, r.t.Command.At
	index, ok := r.meant()
	if !ok {
		return WrongStage
	}
	step := &s.Steps[index]
	if why := r.canBe(step.Kind, to); why != NotRefused {
		return why
	}
	step.Target = to
	r.eventOf(index, TargetChanged, float64(to))
	if index != s.Index {
		return NotRefused
	}
	s.Undo = Undo{}
	s.Reached, s.Standing, s.StoodStill = false, false, 0
	s.Cooling = r.e.Valid && r.mash() > to.Plus(HotBand)
	if s.Stage == Count {
		r.goTo(Heat)
	}
	return NotRefused
}
