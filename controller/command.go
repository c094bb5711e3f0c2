package controller

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// obey does what a person asked for in this tick, or says why not.
func (r *round) obey() {
	wish := r.t.Command.Wish
	if wish == NoWish {
		return
	}
	if why := r.try(wish); why != NotRefused {
		r.event(Refused, float64(why))
		return
	}
	r.event(Accepted, float64(wish))
}

// try carries out one wish. Off and end come first: they are always possible.
func (r *round) try(wish Wish) Refusal {
	switch wish {
	case Stop:
		return r.stop()
	case End:
		return r.end()
	case Start:
		return r.start()
	case ClearTrip:
		return NotRefused // the interlock decides
	}
	if r.inTest() {
		return InTest
	}
	switch wish {
	case TakeUp, TakeUpAlone:
		return r.takeUp(wish)
	case Pause, Resume:
		return r.pauseOrResume(wish)
	case PumpOff, PumpOn, RestBed:
		return r.pumpWish(wish)
	case PumpStands:
		return r.pumpStands()
	case ThermometerSays, PHIs, GravityIs:
		return r.note(wish)
	case Added, TookOut, VolumeIs, LidOn, LidOff, GrainIs:
		return r.deed(wish)
	case AdditionDone:
		return r.additionDone(r.t.Command.Which)
	}
	if r.s.Mode != Running {
		return WrongMode
	}
	switch wish {
	case PouringNow, GrainIn, NoGrain:
		return r.grainWish(wish)
	case LiftingNow, BagClear, Drained:
		return r.liftWish(wish)
	case HereLidOff, ItBoils, ChillerIn, GoOn:
		return r.presence(wish)
	case Skip, UndoSkip, StepBack, Extend, Retarget, ExtendByDelay, ChillDone:
		return r.edit(wish)
	}
	return WrongStage
}

// start begins the batch. The shell has had the kettle declared filled and the
// cautions accepted before it sends this.
func (r *round) start() Refusal {
	s := r.s
	switch {
	case s.Mode != Idle:
		return AlreadyStarted
	case r.t.Trip != NoReason:
		return TripStands
	}
	s.Steps, s.Count, s.Additions = r.c.Steps, r.c.Count, r.c.Additions
	s.Load, s.Clock = r.c.LoadWater, 0
	s.Unmixed = 0 // all of it is as cold as the water
	r.enterMode(Running, NoReason)
	r.event(BatchStarted, 0)
	if r.inTest() {
		r.beginTest()
		return NotRefused
	}
	r.beginStep(r.c.First)
	return NotRefused
}

// stop takes heat and pump away now. The batch is held, not lost.
func (r *round) stop() Refusal {
	if r.s.Mode.Heats() {
		r.enterMode(Held, ByOperator)
	}
	return NotRefused
}

// end ends the batch for good: aborted when a trip stands, else stopped.
func (r *round) end() Refusal {
	switch {
	case r.s.Mode == Idle || r.s.Mode.Ended():
		return WrongMode
	case r.t.Trip != NoReason:
		r.enterMode(Aborted, r.t.Trip)
	default:
		r.enterMode(Stopped, ByOperator)
	}
	return NotRefused
}

// pauseOrResume stops the clock with the temperature kept, or goes on; from
// held only when no trip stands.
func (r *round) pauseOrResume(wish Wish) Refusal {
	mode := r.s.Mode
	switch {
	case wish == Pause && mode == Running:
		r.enterMode(Paused, ByOperator)
	case wish == Resume && mode == Held && r.t.Trip != NoReason:
		return TripStands
	case wish == Resume && mode == Held && r.s.Clock >= r.c.ArmingLasts():
		return ArmingOver
	case wish == Resume && (mode == Paused || mode == Held):
		r.enterMode(Running, NoReason)
		if mode == Held {
			r.boilAgain()
			r.strikeAgain()
		}
	default:
		return WrongMode
	}
	return NotRefused
}

// pumpWish blocks, frees or rests the pump.
func (r *round) pumpWish(wish Wish) Refusal {
	switch {
	case !r.c.HasPump:
		return NoPump
	case wish == PumpOff:
		r.s.PumpBlocked = true
	case wish == PumpOn:
		r.s.PumpBlocked = false
	case r.s.Mode != Running:
		return WrongMode
	case !r.s.GrainIn || r.s.Lifted || r.s.Stage != Count && r.s.Stage != Heat:
		return WrongStage
	default:
		r.s.BedRest = BedRest
	}
	return NotRefused
}

// grainWish is the mash-in in two presses, or the answer about a pour that
// was not announced.
func (r *round) grainWish(wish Wish) Refusal {
	s := r.s
	striking := r.step().Kind == profile.Strike
	switch {
	case wish == PouringNow && striking && !s.AskedGrain:
		r.pouring()
	case wish == GrainIn && s.AskedGrain:
		r.grainIn(s.Since)
	case wish == GrainIn && (s.Stage == Pour || striking):
		r.grainIn(0)
	case wish == NoGrain && s.AskedGrain:
		s.AskedGrain = false
		s.Filter = s.Filter.Restart()
		r.strikeAgain()
	case wish == NoGrain && s.Stage == Pour: // pressed by mistake: nothing was poured
		r.beginStep(r.c.First)
	default:
		return WrongStage
	}
	s.Undo = Undo{} // what has been done to the mash cannot be skipped back over
	return NotRefused
}

// liftWish is the lift: heat and pump stop before the hoist moves, gentle heat
// once the bag is clear, all heat once it is drained and the level is known.
func (r *round) liftWish(wish Wish) Refusal {
	s := r.s
	if r.step().Kind != profile.Lift {
		return WrongStage
	}
	switch {
	case wish == LiftingNow && s.Stage == Ready:
		r.goTo(Hoist)
	case wish == BagClear && (s.Stage == Ready || s.Stage == Hoist):
		s.Lifted = true
		s.Load = r.loadWort() + heat.WaterCapacity(s.Deeds.Added)
		r.goTo(Drain)
	case wish == Drained && s.Stage == Drain:
		if why := r.drained(r.t.Command.Volume); why != NotRefused {
			return why
		}
	default:
		return WrongStage
	}
	s.Undo = Undo{}
	return NotRefused
}

// mostLeft is the largest volume that can be left after the lift.
func (r *round) mostLeft() unit.Litres {
	if r.c.Water > 0 {
		return r.c.Water * mostLeft
	}
	return 500
}

// drained takes the volume that is left. One that leaves the element bare is
// refused: water goes in first.
func (r *round) drained(volume unit.Litres) Refusal {
	s := r.s
	switch {
	case volume == 0 && s.Bare: // what was said last is not as planned
		return NeedsFigure
	case volume == 0: // the press alone confirms the plan, less what was taken out
		volume = r.afterLift() + min(s.Deeds.Added-s.Deeds.Unread, 0)
	case !(volume > 0 && volume <= r.mostLeft()):
		return NeedsFigure
	}
	if volume <= r.c.CoveredAt+LevelMargin {
		s.Bare = true // no heat until a volume is stated that covers it
		return ElementBare
	}
	r.stateVolume(volume)
	s.GrainIn = false
	s.Filter = s.Filter.Restart()
	r.finish()
	return NotRefused
}

// wort is the load of that much wort; of the load there is where the plan does
// not say what is left.
func (r *round) wort(volume unit.Litres) unit.JoulesPerKelvin {
	if r.c.AfterLift <= 0 {
		return r.s.Load
	}
	return r.c.Vessel + unit.JoulesPerKelvin(float64(r.c.LoadWort-r.c.Vessel)*float64(volume/r.c.AfterLift))
}

// presence takes what a person says of the boil, the chiller and a cold rest.
func (r *round) presence(wish Wish) Refusal {
	s := r.s
	switch {
	case wish == HereLidOff && (s.Stage == Climb || s.Stage == Door):
		s.HereFor = HereValid
		s.Deeds.LidOff = true
	case wish == ItBoils && (s.Stage == Climb || s.Stage == Door || s.Stage == Break) && r.mayBoil():
		r.startBoil()
	case wish == ChillerIn:
		return r.chillerIn()
	case wish == GoOn && s.Stage == Count && s.StoodStill >= ColdPatience:
		s.Earned += s.StoodStill
		s.StoodStill = 0
	default:
		return WrongStage
	}
	return NotRefused
}

// edit changes the course: skip, its undoing, a step again, more time.
func (r *round) edit(wish Wish) Refusal {
	switch wish {
	case Skip:
		return r.skip()
	case UndoSkip:
		return r.undoSkip()
	case StepBack:
		return r.stepBack()
	case Retarget:
		return r.retarget()
	case ExtendByDelay:
		return r.extendByDelay()
	case ChillDone:
		return r.chillDone()
	default:
		return r.extend(r.t.Command.By)
	}
}

// skip leaves the step early. What would put a person or the mash at risk is
// refused: no step is left with the grain half in or half out.
func (r *round) skip() Refusal {
	s := r.s
	switch {
	case r.step().Kind == profile.Strike, s.Stage == Pour:
		return GrainNotIn
	case s.Stage == Settle, s.Stage == Mix:
		return WrongStage
	case r.step().Kind == profile.Lift:
		return GrainStillIn
	}
	s.Undo = Undo{
		Left: UndoWithin, Index: s.Index, Stage: s.Stage, InStage: s.InStage, InStep: s.InStep,
		Earned: s.Earned, StoodStill: s.StoodStill, Reached: s.Reached, Cooling: s.Cooling, Plateau: s.Plateau,
	}
	r.finish()
	return NotRefused
}

// undoSkip goes back to where the skip was pressed.
func (r *round) undoSkip() Refusal {
	s, u := r.s, r.s.Undo
	if u.Left == 0 {
		return TooLate
	}
	s.Index, s.Stage, s.InStage, s.InStep = u.Index, u.Stage, u.InStage, u.InStep
	s.Earned, s.StoodStill, s.Reached, s.Undo = u.Earned, u.StoodStill, u.Reached, Undo{}
	s.Cooling, s.Plateau = u.Cooling, u.Plateau
	r.event(SkipUndone, 0)
	return NotRefused
}

// stepBack repeats the rest before this one. What cannot be done twice (grain
// in, bag out) cannot be gone back over.
func (r *round) stepBack() Refusal {
	s := r.s
	if s.Index == 0 || s.Index <= r.c.First {
		return NothingBefore
	}
	if s.Stage == Hoist { // pressed by mistake: the bag still hangs in the mash
		r.goTo(Ready)
		return NotRefused
	}
	here, before := r.step().Kind, s.Steps[s.Index-1].Kind
	resting := before == profile.Rest || before == profile.MashOut || before == profile.MashIn
	if !resting || here == profile.Boil || here == profile.Chill || here == profile.Lift && s.Stage != Ready {
		return WrongStage
	}
	r.beginStep(s.Index - 1)
	return NotRefused
}

// extend makes the step, or one to come, longer, or shorter by a negative length, but
// not shorter than what it has earned.
func (r *round) extend(by time.Duration) Refusal {
	const most = 6 * time.Hour
	index, ok := r.meant()
	if !ok {
		return WrongStage
	}
	step, earned := &r.s.Steps[index], r.s.Earned
	if index != r.s.Index {
		earned = 0
	}
	switch {
	case !timed(step.Kind):
		return NoClock
	case by == 0 || by > most || by < -most || step.For+by > most:
		return NeedsFigure
	case step.For+by <= earned:
		return TooShort
	}
	step.For += by
	return NotRefused
}
