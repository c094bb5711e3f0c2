package daemon

import (
	"time"

	"mashward/controller/unit"
)

// MostResume is the longest outage after which a batch may go on by itself.
const MostResume = 30 * time.Minute

// MostRestarts is how often mashward may have been started within a few minutes:
// one more is a crash loop.
const MostRestarts = 3

// outOf is how far a temperature may lie outside what the outage explains.
const outOf unit.Kelvin = 1

// facts are what decides whether a batch goes on without a person. The zero
// value speaks against it.
type facts struct {
	within   time.Duration // chosen at arming; 0: ask a person
	cause    string        // what ended mashward; "" is not known
	readings int           // good ones in a row
	span     time.Duration // over which they reach
	read     bool          // was is a reading
	was, now unit.Celsius
	fallen   unit.Kelvin   // how far it can have fallen at most
	length   time.Duration // of the outage, at most
	known    bool          // length is
	stated   bool          // the volume stated at arming stands, and nothing spoke against it since
	clock    time.Duration // under this arming
	lasts    time.Duration // for which it is good
	stops    uint64        // presses of STOP since the start
	tripped  bool
	restarts int
	same     bool // rig, profile and program are those of the arming, and the record is whole
	ran      bool // the batch ran: it was neither paused nor held
	mash     bool // it was in the mash
}

// against is why the batch does not go on by itself, as the rest of a sentence;
// "" if nothing speaks against it. All of it must hold:
//
//	R1 what ended mashward is known
//	R2 the probe answers: ten good readings in a row, over 15 s
//	R3 the temperature is one that the outage explains
//	R4 the outage is known, and no longer than was chosen
//	R5 the volume that was stated still stands
//	R6 it was chosen at arming, the arming has not run out, and nobody pressed STOP
//	R7 no heat cut is latched, mashward does not crash again and again, and rig,
//	   profile and program are the same
//
// and what needs a person in the room, the boil above all, never does.
func (f facts) against() string {
	switch {
	case f.within <= 0:
		return "a person's word was chosen at arming"
	case f.cause == "":
		return "nobody knows what ended mashward"
	case f.readings < readEnough || f.span < readSpan:
		return "the probe has not given enough good readings"
	case !f.read || !(f.now >= f.was.Plus(-f.fallen-outOf) && f.now <= f.was.Plus(outOf)):
		return "the temperature is not one that the outage explains"
	case !f.known:
		return "nobody knows how long the outage was"
	case f.length < 0 || f.length > min(f.within, MostResume):
		return "the outage was longer than was chosen at arming"
	case !f.stated:
		return "what stands in the kettle is in doubt"
	case f.clock+f.length >= f.lasts:
		return "the arming has run out"
	case f.stops > 0:
		return "STOP was pressed"
	case f.tripped:
		return "a heat cut is latched"
	case f.restarts > MostRestarts:
		return "mashward was started again and again within a few minutes"
	case !f.same:
		return "rig, profile or program are not those that were armed"
	case !f.ran:
		return "the batch was not running when it was cut off"
	case !f.mash:
		return "from the lift on, and in the boil, somebody has to be there"
	}
	return ""
}
