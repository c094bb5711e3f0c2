package controller

import (
	"time"

	"mashward/profile"
)

// others are the places among the events of a tick that are left for what else
// happens when additions are called out.
const others = 4

// callDue calls out what is due in a step whose clock does not run yet, or that
// has none: in the strike water, while the bed settles, when the bag hangs clear.
func (r *round) callDue() {
	s := r.s
	switch kind := r.step().Kind; {
	case kind == profile.Strike:
		r.callAdditions(s.InStep)
	case kind == profile.MashIn && (s.Stage == Settle || s.Stage == Mix):
		r.callAdditions(s.Since)
	case kind == profile.Lift && s.Stage == Drain:
		r.callAdditions(s.InStage)
	}
}

// callAdditions calls out what is due by the time that a step has had; what finds
// no place among the events of this tick is called in the next. It tells whether
// nothing that is due is left.
func (r *round) callAdditions(had time.Duration) bool {
	s, step := r.s, r.step()
	for i := step.From; i < step.To; i++ {
		due := had >= s.Additions[i]
		if !r.c.FromStart[i] {
			due = step.For-had <= s.Additions[i]
		}
		switch {
		case s.Called[i] || !due:
			continue
		case r.d.Count >= MaxEvents-others:
			return false
		}
		s.Called[i], s.CalledAt[i] = true, had
		r.event(AdditionDue, float64(i))
	}
	return true
}

// additionDone notes what a person says has gone in. What was named goes in early,
// and is not called out any more.
func (r *round) additionDone(which uint8) Refusal {
	s := r.s
	if which > 0 {
		i := which - 1
		if s.Mode == Idle || !r.isAddition(i) || s.In[i] {
			return WrongStage
		}
		if !s.Called[i] {
			s.Called[i], s.CalledAt[i] = true, s.Earned
		}
		s.Late = 0
		r.additionIn(i)
		return NotRefused
	}
	s.Late = 0
	for i := range s.Called {
		if s.Called[i] && !s.In[i] && r.d.Count < MaxEvents-others {
			r.additionIn(uint8(i))
		}
	}
	return NotRefused
}

// isAddition tells whether there is an addition of that index.
func (r *round) isAddition(i uint8) bool {
	last := uint8(0)
	for _, step := range r.s.Steps {
		last = max(last, step.To)
	}
	return i < last
}

// additionIn keeps that an addition is in, and offers to boil longer by as much as
// it came late. Nothing is longer before a person says so.
func (r *round) additionIn(i uint8) {
	s, step := r.s, r.step()
	s.In[i] = true
	r.event(AdditionIn, float64(i))
	if s.Stage != Boil || i < step.From || i >= step.To {
		return
	}
	if late := s.Earned - s.CalledAt[i]; late >= leastLate && late > s.Late {
		s.Late = late
		r.event(DelayOffered, late.Seconds())
	}
}

// extendByDelay makes the boil longer by exactly as much as what was pressed last
// came late. What is still to go in is called by what is left, so later too.
func (r *round) extendByDelay() Refusal {
	s := r.s
	if s.Late == 0 || s.Stage != Boil {
		return NothingLate
	}
	late := s.Late
	if why := r.extend(late); why != NotRefused {
		return why
	}
	s.Late = 0
	r.event(BoilExtended, late.Seconds())
	return NotRefused
}

// bits are truths as the bits of a number.
func bits(of *[profile.MaxAdditions]bool) (set uint32) {
	for i, so := range of {
		if so {
			set |= 1 << i
		}
	}
	return set
}

// chillerIn takes that the chiller is in: in the boil hung in cold, its water off,
// so that it is scalded; later with its water running.
func (r *round) chillerIn() Refusal {
	s := r.s
	switch s.Stage {
	case Boil:
		if !s.ChillerHung {
			s.ChillerHung, s.ColdMetal = true, coldMetal
			r.event(ChillerScalds, 0)
		}
	case Connect, Cool:
		s.ChillerHung, s.ChillerOn = true, true
	default:
		return WrongStage
	}
	return NotRefused
}

// scaldNow tells that it is time to hang in the chiller: a boil of which so much is
// left scalds it, and nobody is waited for.
func (r *round) scaldNow() bool {
	s, step := r.s, r.step()
	if s.Mode != Running || s.Stage != Boil || s.ChillerHung || step.For < ScaldChiller || step.For-s.Earned > ScaldChiller {
		return false
	}
	for i := int(s.Index) + 1; i < int(s.Count); i++ {
		if s.Steps[i].Kind == profile.Chill {
			return true
		}
	}
	return false
}

// askScald puts the question when its moment comes.
func (r *round) askScald(before bool) {
	if !before && r.scaldNow() {
		r.event(PromptRaised, float64(AskScald))
	}
}

// foreseeChill says at the beginning of a chill what its water cannot do.
func (r *round) foreseeChill() {
	if lowest := r.c.Tap.Plus(TapMargin); r.step().Target < lowest {
		r.event(ChillForeseen, float64(lowest))
	}
}

// seeColdest says once that a chill does not fall any more. It goes on until a
// person ends it: he may have ice to put on the way of the water, or see that none
// runs.
func (r *round) seeColdest() {
	s := r.s
	if r.step().Kind != profile.Chill || s.Stage != Cool {
		return
	}
	slope, known := s.Filter.SlopeOver(5 * time.Minute)
	switch {
	case known && slope < -2*ColdSlope: // it falls again
		s.Coldest = 0
		return
	case s.Coldest > 0:
		s.Coldest += r.dt
		return
	case !known || slope <= -ColdSlope || s.InStage <= 10*time.Minute:
		return
	}
	s.Coldest = r.dt
	r.event(ChillPlateau, float64(r.e.Value))
	r.event(PromptRaised, float64(AskColdest))
}

// endChill ends a chill that a person calls cold enough, or that nobody has ended
// in twelve hours. The chiller's water is to be closed.
func (r *round) endChill() {
	if r.s.ChillerOn {
		r.s.ChillerOn = false
		r.event(PromptRaised, float64(AskChillerOff))
	}
	r.finish()
}

// chillDone ends the chill because a person says so.
func (r *round) chillDone() Refusal {
	s := r.s
	if r.step().Kind != profile.Chill || s.Stage != Connect && s.Stage != Cool {
		return WrongStage
	}
	if !r.callAdditions(s.InStep) {
		return WrongStage
	}
	r.endChill()
	return NotRefused
}

// askChiller is how a person is asked to cool: what he has hung in already he only
// opens, and a stand is come to by waiting too.
func (r *round) askChiller() Prompt {
	switch {
	case r.step().Kind == profile.Stand:
		return AskCoolToStand
	case r.s.ChillerHung:
		return AskChillerWater
	}
	return AskChiller
}
