package controller

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile"
)

// walk moves the batch through its steps: one stage, one short function.
func (r *round) walk() {
	r.s.InStage += r.dt
	r.s.InStep += r.dt
	r.callDue()
	if r.gaveUp() {
		r.enterMode(Aborted, NobodyCame)
		return
	}
	switch r.s.Stage {
	case Heat:
		r.heatUp()
	case Ready:
		r.awaitPerson()
	case Settle:
		r.settle()
	case Mix:
		r.mix()
	case Count:
		r.count()
	case Climb, Door, Break, Boil:
		r.boil()
	case Still, Push, Quiet:
		r.waterTest()
	case Connect, Cool:
		r.cool()
	case NoStage, Pour, Hoist, Drain: // only a person moves these
	}
}

// countDown runs the timers that belong to no stage. What a person has said, and
// what he can take back, grows old in a pause too; only the time that may be
// counted back as a rest stands with the clock.
func (r *round) countDown() {
	s := r.s
	s.Undo.Left = max(0, s.Undo.Left-r.dt)
	s.HereFor = max(0, s.HereFor-r.dt)
	s.ColdMetal = max(0, s.ColdMetal-r.dt)
	r.timeUnheated()
	s.PausedFor += r.dt
	if s.Mode != Paused {
		s.PausedFor = 0
	} else if s.PausedFor >= PauseEnd {
		r.enterMode(Held, NobodyCame)
	}
	s.BedRest = max(0, s.BedRest-r.dt)
	s.Deeds.Mixing = max(0, s.Deeds.Mixing-r.dt)
	s.Deeds.Differs = max(0, s.Deeds.Differs-r.dt)
	settling := s.AskedGrain || s.Stage == Settle || s.Stage == Mix
	if settling && s.Mode == Running && r.dt <= GapLimit {
		s.Since += r.dt
	}
}

// goTo enters a stage of the running step.
func (r *round) goTo(stage Stage) {
	r.s.Stage, r.s.InStage = stage, 0
	r.event(StageChanged, float64(stage))
	if p := r.prompt(); p != NoPrompt {
		r.event(PromptRaised, float64(p))
	}
}

// beginStep enters a step at the stage where its kind begins.
func (r *round) beginStep(index uint8) {
	r.turnTo(index)
	switch r.step().Kind {
	case profile.Strike, profile.Rest, profile.MashOut:
		r.s.Cooling = r.e.Valid && r.mash() > r.step().Target.Plus(HotBand)
		r.goTo(Heat)
	case profile.MashIn:
		if r.s.GrainIn { // repeated: the grain is not poured twice
			r.goTo(Count)
			return
		}
		r.goTo(Pour)
	case profile.Lift:
		r.goTo(Ready)
	case profile.Boil:
		r.s.Filter = r.s.Filter.Restart()
		r.goTo(Climb)
	case profile.Stand, profile.Chill:
		if r.step().Kind == profile.Chill {
			r.foreseeChill()
		}
		r.goTo(Connect)
	}
}

// turnTo makes a step the running one, with nothing of it done.
func (r *round) turnTo(index uint8) {
	s := r.s
	s.Index, s.InStep, s.Earned, s.StoodStill = index, 0, 0, 0
	s.Standing = false
	s.Late, s.Coldest = 0, 0
	s.Reached, s.Cooling, s.Plateau = false, false, Plateau{}
	r.event(StepStarted, 0)
}

// finish ends the step; after the last one the batch is complete.
func (r *round) finish() {
	r.event(StepEnded, r.s.Earned.Seconds())
	next := r.s.Index + 1
	if next >= r.s.Count {
		r.enterMode(Complete, NoReason)
		return
	}
	r.beginStep(next)
}

// heatUp waits for the target. A step that begins above it waits for the fall.
func (r *round) heatUp() {
	if !r.e.Valid || r.standsStill() { // a hose that cools has come to no temperature
		return
	}
	if r.s.Cooling {
		r.s.Cooling = r.mash() > r.step().Target.Plus(EntryBand)
	}
	if r.s.Cooling || r.mash() < r.step().Target.Plus(-EntryBand) {
		r.suspectGrain()
		return
	}
	if !r.s.Reached {
		r.reached()
	}
	if r.step().Kind != profile.Strike {
		r.event(ClockBegan, 0)
		r.goTo(Count)
		return
	}
	r.s.StoodStill += r.dt // at its temperature, not yet still
	if r.evenStrike() {
		r.s.StoodStill = 0
		r.goTo(Ready)
		return
	}
	r.suspectGrain()
}

// strikeAgain heats strike water that has cooled while it waited: nobody is to
// pour into water that is said to stand at its temperature and does not.
func (r *round) strikeAgain() {
	s := r.s
	if s.Stage == Ready && r.step().Kind == profile.Strike && !(r.e.Valid && r.e.Value >= r.step().Target.Plus(-EntryBand)) {
		s.Reached, s.StoodStill = false, 0
		r.goTo(Heat)
	}
}

// evenStrike tells that strike water is not merely close to its temperature
// but has stopped moving there: grain poured into water that still heats would
// land beside the first rest.
func (r *round) evenStrike() bool {
	l := &r.s.Law
	miss := r.e.Value.Minus(l.Target)
	close := miss >= -strikeBand && miss <= strikeBand
	near := miss >= -EntryBand && miss <= EntryBand
	return l.Way == Holding || l.Way == Coast && l.InWay >= strikeStill && close || r.s.StoodStill >= ColdPatience && near
}

// reached notes that the step has come to its target.
func (r *round) reached() {
	r.s.Reached = true
	r.event(TargetReached, r.s.InStep.Seconds())
}

// awaitPerson keeps strike water hot, or the mash before its lift.
func (r *round) awaitPerson() {
	if r.step().Kind == profile.Strike {
		r.suspectGrain()
	}
}

// suspectGrain sees a pour that nobody announced: nothing else cools hot
// strike water so fast. Heat and pump stop, and the question is put.
func (r *round) suspectGrain() {
	s := r.s
	if r.step().Kind != profile.Strike || s.AskedGrain || !r.e.Valid || s.Deeds.Mixing > 0 {
		return
	}
	if r.blind() || s.Filter.Fall(PourWindow) < r.pourFall() {
		return
	}
	s.AskedGrain, s.Since = true, 0
	r.event(GrainSuspected, float64(r.e.Value))
	r.event(PromptRaised, float64(AskDidGrainGo))
}

// pourFall is the fall that means grain. Where the mash begins cool the grain
// takes little, and half of it comes late.
func (r *round) pourFall() unit.Kelvin {
	expected := r.step().Target.Minus(r.s.Steps[r.s.Index+1].Target)
	return min(max(expected/4, leastPourFall), PourFall)
}

// pouring begins the mash-in: heat and pump are off from here.
func (r *round) pouring() {
	r.event(StepEnded, 0)
	r.beginStep(r.s.Index + 1)
}

// grainIn starts the settling. since is how long ago it went in.
func (r *round) grainIn(since time.Duration) {
	s := r.s
	if r.step().Kind == profile.Strike {
		r.event(StepEnded, 0)
		r.turnTo(s.Index + 1)
	}
	s.GrainIn, s.AskedGrain, s.Since = true, false, since
	before := s.Load
	s.Load = r.mashLoad()
	r.land(before)
	s.InStep = since
	s.Filter = s.Filter.Restart()
	r.goTo(Settle)
}

// settle lets the bed set before the pump draws on it.
func (r *round) settle() {
	if r.s.Since >= r.c.Settle {
		r.goTo(Mix)
	}
}

// mix waits until the pump has turned the wort over, then judges the landing
// and begins to count. Without a pump there is nothing to wait for.
func (r *round) mix() {
	s := r.s
	if r.c.HasPump && !s.PumpBlocked && s.InStage < MixTime+PumpWarning {
		return
	}
	if !r.e.Valid {
		return
	}
	if miss := r.e.Value.Minus(r.step().Target); miss >= -CountBack && miss <= CountBack {
		s.Earned = s.Since
		r.event(CountedBack, s.Since.Seconds())
	}
	s.Filter, s.Unmixed = s.Filter.Restart(), 0
	r.goTo(Count)
}

// count runs the clock of a rest.
func (r *round) count() {
	s, step := r.s, r.step()
	if !r.e.Valid || r.dt > GapLimit {
		return
	}
	if !s.Reached {
		if r.mash() < step.Target.Plus(-EntryBand) {
			return
		}
		r.reached()
		r.event(ClockBegan, 0)
	}
	s.Standing = r.mash() < step.Target.Plus(-step.Floor)
	if !s.Standing {
		s.Earned += r.dt
	} else {
		r.standStill()
	}
	if r.callAdditions(s.Earned) && s.Earned >= step.For {
		r.finish()
	}
}

// standStill counts the time that does not count, and asks when it is long.
func (r *round) standStill() {
	before := r.s.StoodStill
	r.s.StoodStill += r.dt
	if before < ColdPatience && r.s.StoodStill >= ColdPatience {
		r.event(PromptRaised, float64(AskCold))
	}
}

// cool carries a stand or a chill: first the chiller, then the fall, then, for
// a stand, its clock.
func (r *round) cool() {
	s, step := r.s, r.step()
	if !r.e.Valid {
		return
	}
	if s.Stage == Connect && (s.ChillerOn || r.ahead() <= step.Target.Plus(chillBand)) {
		r.goTo(Cool)
		return
	}
	if s.ChillerOn && r.ahead() <= step.Target.Plus(chillBand) {
		s.ChillerOn = false
		r.event(PromptRaised, float64(AskChillerOff))
	}
	band := chillBand
	if step.Kind == profile.Stand {
		band = EntryBand
	}
	if r.e.Value > step.Target.Plus(band) {
		r.seeColdest()
		if step.Kind == profile.Chill && s.InStep > 12*time.Hour { // nobody connects it, or ends it
			r.event(ChillPlateau, float64(r.e.Value))
			r.endChill()
		}
		return
	}
	if step.Kind == profile.Stand {
		r.reached()
		r.event(ClockBegan, 0)
		r.goTo(Count)
		return
	}
	if !s.Reached {
		r.reached()
	}
	if r.callAdditions(s.InStep) {
		r.finish()
	}
}

// ahead is what the reading, which lags, will be when a hand has closed the
// chiller's water: a fast chiller would else be closed far below a stand.
func (r *round) ahead() unit.Celsius {
	const hand = 15 // s: filter, probe and the hand itself
	slope, known := r.s.Filter.SlopeOver(20 * time.Second)
	if !known || slope > 0 || r.s.Stage != Cool || r.step().Kind != profile.Stand {
		return r.e.Value
	}
	return r.e.Value + unit.Celsius(slope*hand)
}

// wait is how long a stage may wait for a person: then the alarm, then, where
// heat is on, the end.
func (r *round) wait() (alarm, end time.Duration) {
	switch r.s.Stage {
	case Ready:
		if r.step().Kind == profile.Strike {
			return 30 * time.Minute, 2 * time.Hour
		}
		return time.Hour, 3 * time.Hour
	case Drain, Door:
		return time.Hour, 3 * time.Hour
	case Connect:
		if r.step().Kind == profile.Stand { // it falls by itself too
			return 0, 0
		}
		return 30 * time.Minute, 0
	case Pour, Hoist:
		return 30 * time.Minute, 0
	case Heat:
		return 4 * time.Hour, 0 // no plan foresees such a heat-up
	case Break:
		return time.Hour, 3 * time.Hour
	case NoStage, Settle, Mix, Count, Climb, Boil, Cool, Still, Push, Quiet:
	}
	return 0, 0
}

// overdue tells that a person has been needed for too long.
func (r *round) overdue() bool {
	alarm, _ := r.wait()
	if r.s.PausedFor >= PauseAlarm || r.s.Coldest >= coldAlarm {
		return true
	}
	return alarm > 0 && r.s.InStage >= alarm || r.s.AskedGrain && r.s.Since >= 10*time.Minute
}

// gaveUp tells that nobody came in time.
func (r *round) gaveUp() bool {
	_, end := r.wait()
	return end > 0 && r.s.InStage >= end && !r.s.AskedGrain // then heat is off already
}

// prompt is the question that stands.
func (r *round) prompt() Prompt {
	s := r.s
	if (s.Mode == Held || s.Mode == Offered) && r.t.Trip != NoReason {
		return AskLookAtFault
	}
	if s.Mode == Offered {
		return AskTakeUp
	}
	if !s.Mode.Heats() {
		return NoPrompt
	}
	if s.AskedGrain {
		return AskDidGrainGo
	}
	switch s.Stage {
	case Ready:
		if r.step().Kind == profile.Strike {
			return AskPour
		}
		return AskLift
	case Pour:
		return AskGrainIn
	case Hoist:
		return AskBagClear
	case Drain:
		return AskDrained
	case Door:
		return AskHereLidOff
	case Connect:
		return r.askChiller()
	case Boil:
		if r.scaldNow() {
			return AskScald
		}
	case Cool:
		if s.Coldest > 0 {
			return AskColdest
		}
	case Count:
		if s.Standing && s.StoodStill >= ColdPatience {
			return AskCold
		}
	case NoStage, Heat, Settle, Mix, Climb, Break, Still, Push, Quiet:
	}
	return NoPrompt
}

// level is the cold volume that is left after lift, by the volume balance.
func (r *round) level() unit.Litres {
	return r.s.Volume - r.steamed() - r.s.Deeds.Drawn
}

// steamed is what has boiled away since the level was told: latent heat of water at the
// boil 2257 kJ/kg (IAPWS-IF97), 0.998 kg a cold litre.
func (r *round) steamed() unit.Litres { return unit.Litres(float64(r.s.Boiled) / 2.257e6 / 0.998) }
