package late

import (
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
)

// book puts a second to what it belongs to: dt went by, the plan was carried on by
// gone.
func (l *Ledger) book(s *Second, dt, gone time.Duration) {
	off := dt - gone
	switch cause, place, by := l.hands(s); {
	case by:
		l.put(cause, place, s.Index, off)
		l.blame = blame{cause, place, 0, true}
	case s.Mode == controller.Held || l.mode == controller.Held || l.mode == controller.Offered:
		cause, place := l.held()
		l.put(cause, place, s.Index, off)
		l.blame = blame{cause, place, 0, true}
	case s.Mode == controller.Paused || l.mode == controller.Paused:
		l.put(Person, Pause, s.Index, off)
		l.blame = blame{Person, Pause, 0, true}
	default:
		l.running(s, dt, gone)
	}
}

// put books to one part.
func (l *Ledger) put(c Cause, p Place, step uint8, took time.Duration) {
	l.parts = add(l.parts, Part{c, p, step, took})
}

// edited books the change of a step's length: by a person's press, or because the
// day was changed. It pushes the batch back, or forward, at once; that of a step to
// come, when it begins.
func (l *Ledger) edited(s *Second) {
	if c := &s.Command; c.Step > s.Index && int(c.Step) < len(l.pressed) && l.took(s, controller.Extend) {
		l.pressed[c.Step] += c.By
	}
	p := l.plan.Step(s.Index)
	if p == nil || !timed(s.Kind) || s.Mode.Ended() {
		return
	}
	longer := s.For - p.Hold()
	change, pressed := longer-l.longer[s.Index], l.pressed[s.Index]
	l.longer[s.Index], l.pressed[s.Index], l.at = longer, 0, l.at-change
	if l.took(s, controller.Extend) && s.Command.Step <= s.Index || l.took(s, controller.ExtendByDelay) {
		pressed = change
	}
	l.put(Person, Longer, s.Index, pressed)
	l.put(Profile, Rest, s.Index, change-pressed)
}

// timed tells whether steps of this kind have a time of their own.
func timed(k profile.Kind) bool {
	switch k {
	case profile.MashIn, profile.Rest, profile.MashOut, profile.Boil, profile.Stand:
		return true
	case profile.Strike, profile.Lift, profile.Chill:
	}
	return false
}

// took tells that this wish was carried out in this second.
func (l *Ledger) took(s *Second, w controller.Wish) bool {
	if s.Command.Wish != w {
		return false
	}
	for _, e := range s.Events {
		if e.Kind == controller.Accepted {
			return true
		}
	}
	return false
}

// hands tells whether a person's press moved the day in this second, or he is
// being waited for.
func (l *Ledger) hands(s *Second) (Cause, Place, bool) {
	for _, e := range s.Events {
		if e.Kind != controller.Accepted {
			continue
		}
		switch s.Command.Wish {
		case controller.Skip, controller.UndoSkip:
			return Person, Skip, true
		case controller.StepBack:
			return Person, Again, true
		case controller.PouringNow, controller.GrainIn, controller.NoGrain:
			return Person, Pour, true
		case controller.LiftingNow, controller.BagClear, controller.Drained:
			return Person, Hoist, true
		case controller.ItBoils, controller.GoOn:
			return Person, Press, true
		}
	}
	if s.Mode != controller.Running {
		return 0, 0, false
	}
	switch s.Prompt {
	case controller.AskDidGrainGo:
		return Person, Question, true
	case controller.AskColdest: // it falls no more, and only he ends it
		return Person, Chiller, true
	}
	switch s.Stage {
	case controller.Ready:
		if s.Kind == profile.Strike {
			return Person, Pour, l.stage == controller.Ready
		}
		return Person, Hoist, l.stage == controller.Ready
	case controller.Pour:
		return Person, Pour, true
	case controller.Hoist, controller.Drain:
		return Person, Hoist, true
	case controller.Door:
		return Person, Door, l.stage == controller.Door
	case controller.Connect:
		return Person, Chiller, l.stage == controller.Connect
	}
	return 0, 0, false
}

// held is what a batch is held by.
func (l *Ledger) held() (Cause, Place) {
	switch l.reason {
	case controller.NoReason:
		return l.blame.cause, l.blame.place // it has just gone on
	case controller.ByOperator, controller.NobodyCame, controller.NotArmed:
		return Person, Stop
	case controller.PumpStopped:
		return Pump, Trip
	case controller.Empty:
		return Water, Trip
	case controller.PowerCut:
		return Power, Outage
	}
	return Power, Trip
}

// running books a second in which nobody is waited for.
func (l *Ledger) running(s *Second, dt, gone time.Duration) {
	off, moved := dt-gone, s.Index != l.index || s.Stage != l.stage
	switch s.Stage {
	case controller.Heat, controller.Climb, controller.Break:
		l.heats(s, dt, gone)
	case controller.Settle, controller.Mix:
		l.put(Settling, Landing, s.Index, off)
	case controller.Cool:
		l.put(Water, Cooling, s.Index, off-l.enters(s, gone))
	case controller.Count, controller.Boil:
		l.counts(s, off, moved)
	default:
		l.ends(s, off)
	}
}

// enters books the first second of a way to whatever came before: it begins where
// that has left the kettle. It returns what it has booked.
func (l *Ledger) enters(s *Second, gone time.Duration) time.Duration {
	if !l.blame.set || !s.HasEstimate {
		return 0
	}
	l.put(l.blame.cause, l.blame.place, s.Index, -gone)
	l.blame = blame{}
	return -gone
}

// counts books a second of a clock that runs, or stands.
func (l *Ledger) counts(s *Second, off time.Duration, moved bool) {
	switch {
	case moved && l.stage == controller.Mix:
		l.lands(s, off)
	case moved:
		l.ends(s, off)
	case off == 0:
		if l.blame.calm++; l.blame.calm > calmAfter/time.Second {
			l.blame = blame{}
		}
	case l.blame.set:
		l.put(l.blame.cause, l.blame.place, s.Index, off)
	case s.Cut:
		l.put(Power, Cut, s.Index, off)
	case s.Kind == profile.Boil:
		l.put(Settling, Rest, s.Index, off)
	default:
		l.put(Power, Rest, s.Index, off) // no water makes a rest sink
	}
}

// lands books the end of settling. Where the mash has landed too far beside its target
// the minutes since the pour do not count. What it has cooled by then, heat off, is what
// every kettle takes; a person's, where it would have counted had he poured as fast as
// planned. What that does not explain is grain or water other than declared.
func (l *Ledger) lands(s *Second, off time.Duration) {
	cause, place := Settling, Landing
	if off > settlingMost {
		miss := s.Estimate.Minus(s.Target)
		even := miss + l.cools(s.Estimate, l.pouring+l.since)
		switch slow := l.pouring - plan.Pour; {
		case even > controller.CountBack || even < -controller.CountBack:
			cause = Water
		case slow > 0 && miss+open*l.cools(s.Estimate, slow) >= -controller.CountBack:
			cause, place = Person, Pour
		}
		l.blame = blame{cause, place, 0, true}
	}
	l.put(cause, place, s.Index, off)
}

// open is how much more than declared a kettle loses while hands are in it, lid off and a
// paddle in the mash (common practice, no source).
const open = 1.5

// cools is how far the mash falls by the declared loss, heat off.
func (l *Ledger) cools(t unit.Celsius, length time.Duration) unit.Kelvin {
	for i := range l.plan.Steps {
		p := &l.plan.Steps[i]
		if c := l.plan.capacity(p); c > 0 && p.Kind != profile.Boil {
			return unit.Kelvin(float64(l.plan.Loss) * float64(t-l.plan.Room) / float64(c) * length.Seconds())
		}
	}
	return 0
}

// settlingMost is what a jump at the end of settling may be without a landing
// beside the target.
const settlingMost = 2 * time.Minute

// ends books the jump at the end of a heat-up: the last fraction of a degree of
// the plan, and, in a boil, the minutes it took to be sure. A target that was
// changed ends elsewhere than the plan.
func (l *Ledger) ends(s *Second, off time.Duration) {
	if l.retargeted(s) {
		l.put(Profile, HeatUp, s.Index, off)
		l.blame = blame{Profile, HeatUp, 0, true}
		return
	}
	if h := l.last(s.Index); h != nil {
		h.rest += off
		return
	}
	l.put(Settling, Rest, s.Index, off)
}

// retargeted tells that the step aims elsewhere than the plan did.
func (l *Ledger) retargeted(s *Second) bool {
	p := l.plan.Step(s.Index)
	if p == nil || !s.HasTarget || s.Kind == profile.Strike || s.Kind == profile.Boil {
		return false
	}
	off := s.Target.Minus(p.Target)
	return off > sameTarget || off < -sameTarget
}

// sameTarget is less than anyone changes a target by.
const sameTarget unit.Kelvin = 0.04
