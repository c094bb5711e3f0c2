package controller

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile"
)

// Outage is what is known of the time since an offered batch was cut off.
type Outage struct {
	From   Mode          // state of the batch when it was cut off
	Why    Reason        // and its reason
	At     unit.Celsius  // filtered reading then
	Read   bool          // At is one
	Length time.Duration // how long ago that was; it goes on while the batch is offered
	Known  bool          // Length is: a clock that can be trusted told it
}

// Offer is a batch that was cut off, as a new process offers it to a person:
// nothing is heated, what was earned stays, and what somebody said about being
// there is forgotten. away is for how long no process was there; known tells
// whether a clock that can be trusted told it. A batch that was offered already
// was cut off once more: the lengths add up.
func (s State) Offer(away time.Duration, known bool) State {
	o := &s.Outage
	if s.Mode != Offered {
		*o = Outage{From: s.Mode, Why: s.Reason, At: s.Filter.Filtered, Read: s.Filter.Known, Known: true}
	}
	o.Length, o.Known = o.Length+max(0, away), o.Known && known
	s = s.Restarted()
	s.Mode, s.Reason = Offered, PowerCut
	s.Alarms, s.Undo, s.HereFor, s.PausedFor, s.BedRest = Alarms{}, Undo{}, 0, 0, 0
	return s
}

// takeUp goes on with an offered batch. The shell has had everything stated
// again that arming asks; by itself it goes on only in the mash, and only a
// batch that ran.
func (r *round) takeUp(wish Wish) Refusal {
	s := r.s
	alone := wish == TakeUpAlone
	switch {
	case s.Mode != Offered:
		return WrongMode
	case r.t.Trip != NoReason:
		return TripStands
	case s.Clock >= r.c.ArmingLasts(), alone && s.Clock+s.Outage.Length >= r.c.ArmingLasts():
		return ArmingOver
	case alone && !r.mayGoOnAlone():
		return NotAlone
	case !alone:
		if why := r.restate(r.t.Command.Volume); why != NotRefused {
			return why
		}
	}
	r.enterMode(Running, NoReason)
	r.event(TakenUp, float64(wish))
	r.boilAgain()
	r.strikeAgain()
	r.restAgain()
	return NotRefused
}

// mayGoOnAlone tells whether an offered batch is one that may go on without a
// person: it ran, the kettle still gives readings, and it is in the mash. From
// the lift on, and in the boil, somebody has to stand there.
func (r *round) mayGoOnAlone() bool {
	s := r.s
	if s.Outage.From != Running || s.Lifted || s.AskedGrain || !r.e.Valid {
		return false
	}
	switch r.step().Kind {
	case profile.Strike, profile.MashIn, profile.Rest, profile.MashOut:
		return true
	case profile.Lift, profile.Boil, profile.Stand, profile.Chill:
	}
	return false
}

// restate takes the volume that a person has read after the outage: nobody
// knows what ran out or was drawn off meanwhile. Once the wort has been
// measured the new figure takes the place of the old one.
func (r *round) restate(volume unit.Litres) Refusal {
	s := r.s
	switch {
	case !(volume > 0 && volume <= r.mostIn()):
		return NeedsFigure
	case volume <= r.c.CoveredAt || s.Volume > 0 && volume <= r.c.CoveredAt+LevelMargin:
		return ElementBare
	case s.Volume > 0:
		r.stateVolume(volume)
	case volume > r.cover() && !s.Lifted: // else it is read when all has dripped
		s.Bare = false
	}
	return NotRefused
}

// mostIn is the largest volume that may stand in the kettle: all the water, and
// before the lift the grain in it, of which a kilogram takes less than a litre.
func (r *round) mostIn() unit.Litres {
	if s := r.s; s.Lifted || r.c.Water <= 0 {
		return r.mostLeft()
	}
	return 2 * r.c.Water
}

// restAgain heats a rest that fell out of its band back to where its clock
// begins; then it counts on with what was earned.
func (r *round) restAgain() {
	s := r.s
	if s.Stage != Count || r.e.Valid && r.e.Value >= r.step().Target.Plus(-r.step().Floor) {
		return
	}
	s.Reached, s.Standing = false, false
}
