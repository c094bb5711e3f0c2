package verify

import (
	"math"
	"time"
)

// Behind a batch the kettle is let out, and rinsed with water as hot or cold as it comes.
// Nobody says so, and none of it is a fault: what is judged there is a relay that heats
// although nothing is switched on.

// stated tells that somebody has said what stands in the kettle, and it still does.
func (r *round) stated() bool { return r.t.Load > 0 && !r.t.Over }

// hottest is what a welded relay can seem to give, in full powers: more in a
// kettle of which nobody has said how full it is.
func (r *round) hottest() float64 {
	if r.stated() {
		return hotShare
	}
	return hotIdle
}

// warmsByItself tells that what is left in a kettle that was let out, or its bare probe,
// may be warmed by the room.
func (r *round) warmsByItself() bool {
	return r.t.Over && r.s.Recent[2] < r.p.Room+roomDoubt
}

// seeLeap waits behind water that came in or went out. Such a leap is soon over: one that
// goes on, as over a relay that heats the last litre, is waited for once.
func (r *round) seeLeap() {
	s := r.s
	if s.Leapt = max(0, s.Leapt-time.Duration(r.dt*float64(time.Second))); !r.t.Over || s.Filled <= leapOver {
		return
	}
	if math.Abs(s.back(0)-s.back(leapOver)) > leapLeast {
		if s.Leapt == 0 {
			s.Poured = pouredOnce // this is that water
			r.restart(leapBlank)
		}
		s.Leapt = leapDone
	}
}
