package verify

import (
	"time"

	"mashward/controller/unit"
)

// standing is what is handed on. A finding is kept for a while: nobody can clear
// it at once, and a welded relay, which is found again and again, not at all.
func (s *State) standing() Finding {
	if s.Held > 0 {
		return s.Found
	}
	return Finding{}
}

// Restarted is the memory for a process that begins anew: the run clock starts
// at nothing, and nobody knows what happened meanwhile. The interlock remembers
// what has tripped.
func (s State) Restarted() State { return State{Half: s.Half, OutFor: s.OutFor, From: s.From} }

// find notes a finding. One event is one finding: what follows from the first
// is not found again while it is handed on.
func (r *round) find(k Kind, of Figure, expected, measured float64) {
	s := r.s
	if s.Held > 0 && s.Found.Kind != k {
		return
	}
	if s.Held == 0 {
		s.Found = Finding{Kind: k, Of: of, Expected: expected, Measured: measured}
	}
	s.Held = holdFinding
	if k == HeatingWhileOff {
		s.Held = holdWelded
	}
}

// judge looks at slopes and repetition first: they are quicker, and what they
// find would confuse the sums.
func (r *round) judge() {
	r.seeOut()
	r.seeTouch()
	r.seeAbove()
	r.seeStuck()
	r.seeSums()
	r.warn()
}

// extreme is the lowest or highest of the readings from so many readings ago to
// so many.
func (s *State) extreme(from, to int, lowest bool) float64 {
	best := s.back(from)
	for i := from + 1; i < to; i++ {
		if v := s.back(i); lowest == (v < best) {
			best = v
		}
	}
	return best
}

// back is the reading of so many readings ago.
func (s *State) back(ago int) float64 {
	return float64(s.Ring[(int(s.At)+ringSize-ago)%ringSize])
}

// seeOut finds a probe that hangs in the air: the reading falls towards the
// room faster than anything in a kettle.
func (r *round) seeOut() {
	s := r.s
	switch {
	case r.t.Busy || r.t.chilled():
		s.OutFor = 0
		return
	case s.OutFor > 0 && r.p.Place == Return && r.blind():
		s.OutFor += time.Duration(r.dt * float64(time.Second))
		r.restart(firstBlank) // nothing flows past it, so that it cannot show that it is back
		return
	case s.OutFor > 0:
		r.stayOut()
		return
	case !r.has || s.Filled < oldTo || r.p.Place == Return && s.Mixing > 0:
		return
	}
	from := s.extreme(oldFrom, oldTo, true)
	if s.Filled >= olderTo { // spikes that lie close together end like a fall
		from = min(from, s.extreme(olderFrom, olderTo, true)+olderRise)
	}
	fall := from - s.extreme(0, 2, false)
	most := max(outLeast, outShare*(from-float64(r.p.Room)))
	if s.Mixing > 0 {
		most *= outBlank
	}
	if fall >= most {
		s.OutFor, s.From = time.Second, unit.Celsius(from)
		r.find(ProbeOut, OfFall, most, fall)
		r.restart(firstBlank)
	}
}

// stayOut keeps a probe out until its reading has come back, or has stopped
// falling where wort may be that cold water went into; in the end a kettle may
// have been emptied, and what it reads is what is there.
func (r *round) stayOut() {
	s := r.s
	s.OutFor += time.Duration(r.dt * float64(time.Second))
	r.restart(firstBlank)
	if !r.has || s.Filled < oldTo {
		r.find(ProbeOut, OfNothing, 0, 0)
		return
	}
	fall := float64(s.From) - s.back(0)
	falls := s.back(oldFrom)-s.back(0) > outFalling
	most := outBack
	if s.Told > 0 && s.Mixing > 0 {
		most = outTold
	}
	back := fall < most*float64(s.From-r.p.Room) || s.back(0) < float64(r.p.Room-roomDoubt) // no air is so cold
	if !falls && (back || s.OutFor > outMost) {
		s.OutFor, s.Held, s.Mixing = 0, 0, muchBlank
		r.restart(muchBlank)
		return
	}
	r.find(ProbeOut, OfFall, 0, fall)
}

// seeTouch finds a probe that has come to lie on the element or a hot wall: the
// reading rises faster than all power could heat the wort around it.
func (r *round) seeTouch() {
	s := r.s
	if !r.has || r.t.Busy || s.Filled < oldTo || s.OutFor > 0 || s.Mixing > 0 || !r.stated() {
		return
	}
	now := min(s.extreme(0, newTo, true), float64(s.Recent[1]), float64(s.Recent[2])) // what spikes is down again
	rise := now - s.extreme(oldFrom, oldTo, false)
	most := touchLeast + 10*float64(r.p.Power)/(touchShare*float64(s.Load))
	if rise >= most {
		r.find(TooFast, OfRise, most, rise)
		r.restart(sceneBlank)
	}
}

// seeAbove finds a reading that has risen over minutes further than the heat that
// was put in can have brought it: little is left in the kettle. It needs no quiet
// time, for whatever moves a reading so far up has to be heat.
func (r *round) seeAbove() {
	s := r.s
	most := s.Ceiling + aboveMost
	if s.Recent[2] <= most || r.t.Busy || s.OutFor > 0 || !r.stated() {
		s.Above = 0
		return
	}
	if s.Above += r.dt; s.Above >= aboveFor {
		r.find(TooFast, OfWarmth, float64(most), float64(s.Recent[2]))
		s.Ceiling, s.Above = s.Recent[2], 0
	}
}

// seeStuck finds a reading that repeats to the last digit although this probe
// flickers, or has no steps at all. A quiet probe in steps may well repeat, but not
// in a steady heat-up: there it is found also where loss and an open lid could take
// so much of the power that nothing can be said of heat that is missing.
func (r *round) seeStuck() {
	s := r.s
	own := s.Flicker > flickers || s.LeastStep > 0 && s.LeastStep < continuous
	boils := s.Recent[2] > r.p.Boiling-nearBoil // pulses of heat show there as noise
	heated := s.Scene == flowing && s.Stands >= standingFor && s.Before-s.Share >= standingDrop
	if !boils && (s.SameFor >= stuckFor && own || heated) {
		r.find(ProbeStuck, OfStanding, stuckUsual, s.SameFor.Seconds())
	}
}

// seeSums finds what the model has gathered, and then begins it anew.
func (r *round) seeSums() {
	s := r.s
	power := float64(r.p.Power)
	got := power * (s.Due + s.Share)
	switch {
	case s.Ledger > budgetPower*power:
		r.find(EnergyBudget, OfEnergy, 0, s.Ledger)
	case s.TooMuch >= offSum && s.Short < leastDue && s.Warm == 0:
		r.find(HeatingWhileOff, OfPower, power*s.Due, got)
	case s.TooMuch >= r.fastLimit() && s.Short >= leastDue:
		r.find(r.fastKind(), OfPower, power*s.Due, got)
	case s.Missing >= r.missingLimit(), s.Fell >= bedFell, s.Weak >= weakSum && r.coldHose():
		r.find(r.missingKind(), OfPower, power*s.Due, max(got, 0))
		// What an element that was dry has stored comes out now.
		s.Warm = 2 * sceneBlank
	default:
		return
	}
	r.restart(firstBlank)
}

// coldHose tells that the reading may be of a hose in which nothing flows, and which
// the room warms by itself: as fast as a kettle that gets half of its power, or more.
// What is a warning elsewhere says nothing there of what the element stands in.
func (r *round) coldHose() bool {
	return r.p.Place == Return && r.s.Scene == water && !r.t.Open && r.s.Recent[2] < r.p.Room+roomDoubt
}

func (r *round) fastLimit() float64 {
	switch r.p.Place {
	case Return:
		return fastSum
	case Bed:
		return bedSum
	case Outlet:
	}
	return pumpSum
}

func (r *round) missingLimit() float64 {
	switch {
	case r.p.Place != Bed:
		return missingSum
	case r.s.Sudden && r.heatsUp() && r.s.Slow > warmedUp: // in a rest the law asks for less, to heat up what was poured in
		return bedMissing
	}
	return bedUncommon
}

// fastKind is why the reading rises too fast. At the outlet a pump that has
// stopped leaves all heat in the wort outside the bed; a kettle that is nearly
// empty looks the same, and the sentence names both.
func (r *round) fastKind() Kind {
	if r.s.Scene == flowing && r.p.Place == Outlet {
		return PumpStopped
	}
	return TooFast
}

// missingKind is why no heat comes. In the hose nothing moves any more when the
// pump has stopped; with an open element the wort there cools to the mash's
// temperature.
func (r *round) missingKind() Kind {
	s := r.s
	if s.Scene != flowing || r.p.Place == Outlet {
		return NotHeating
	}
	if r.p.Place == Return && s.Crest.Minus(r.smooth()) < hoseFall {
		return PumpStopped
	}
	return NotHeating
}

// warn raises the warning that about half of the power is missing, and takes it
// back when it is there again.
func (r *round) warn() {
	s := r.s
	switch {
	case s.Weak >= weakSum:
		s.Half = true
	case s.Weak < weakGone && s.Due > 2*leastDue && s.Blank == 0:
		s.Half = false
	}
}
