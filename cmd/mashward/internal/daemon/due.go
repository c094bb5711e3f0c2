package daemon

import (
	"fmt"
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
)

// patient is how long after its moment a start may still come: for a reading, a disk
// or a rehearsal that takes its time. Later than that nothing begins by itself.
const patient = time.Minute

// due are what decides whether a batch that was armed for later begins by itself. The
// zero value speaks against it.
type due struct {
	stopped  bool // STOP was pressed since the arming
	tripped  bool
	relay    bool           // one does not answer, or was given up
	age      time.Duration  // of what was stated at the kettle
	byClock  bool           // a time of day was chosen
	doubt    string         // why the wall clock cannot be trusted; "" if it can
	agree    bool           // both clocks say that the same time has passed
	cut      interlock.Rule // that takes heat away now; NoRule if none
	readings int            // good ones in a row
	span     time.Duration  // over which they reach
	now      unit.Celsius
	least    unit.Celsius // that the wait explains
	most     unit.Celsius
	looked   bool // files and rehearsal have been looked at
	sameRig  bool // rig file and tuning
	same     bool // the profile
	passes   bool // the rehearsal still does
	late     time.Duration
}

// never is why the batch does not begin, now or in a minute, as the rest of a sentence;
// "" if that can still be. It is asked all the while.
func (f due) never() string {
	switch {
	case f.stopped:
		return "STOP was pressed"
	case f.tripped:
		return "a heat cut is latched"
	case f.relay:
		return "a relay does not answer, or was given up"
	case f.age > mostAhead:
		return "what was stated at the kettle is older than 12 h"
	case f.byClock && f.doubt != "":
		return f.doubt
	case f.byClock && !f.agree:
		return "the clock of this computer was set since the arming, or it slept: nobody knows what time it is"
	}
	return ""
}

// against is why it does not begin, once its moment has come; "" if nothing speaks
// against it. Where it may yet change within a minute, soon is true.
func (f due) against() (why string, soon bool) {
	switch why := f.never(); {
	case why != "":
		return why, false
	case f.readings < readEnough || f.span < readSpan:
		return "the probe does not give good readings", true
	case !(f.now >= f.least && f.now <= f.most):
		return fmt.Sprintf("the probe reads %.1f °C, and water that was left alone would have %.1f to %.1f °C: look whether it is in the kettle", f.now, f.least, f.most), false
	case f.cut != interlock.NoRule:
		return "heat is cut for now, by the rule " + f.cut.String(), true
	case !f.looked:
		return "the files and the rehearsal were not looked at in time", true
	case !f.sameRig:
		return "the rig file or its tuning is not the one that it was armed with", false
	case !f.same:
		return "the profile is not the one that was armed", false
	case !f.passes:
		return "it does not pass its rehearsal any more", false
	case f.late > patient:
		return "its moment had passed", false
	}
	return "", false
}

const (
	// roomOff is how far the real room may be from the declared one: a garage at night.
	roomOff unit.Kelvin = 10
	// uneven is how far a reading soon after the fill may be from what the kettle comes to.
	uneven unit.Kelvin = 3
	// Nearer to the ice no water of a brew day is.
	leastWater unit.Celsius = 1
)

// drifted is where water can be that was left alone for so long, with everything that
// speeds it on its way to the room. A probe in the hose of a pump that stands is
// wherever the room is, at once.
func drifted(c *controller.Config, at unit.Celsius, wait time.Duration) (least, most unit.Celsius) {
	share := 1.0
	if c.Place != controller.Return && c.LoadWater > 0 {
		share = 1 - math.Exp(-lossFactor*float64(c.Loss)*wait.Seconds()/float64(c.LoadWater))
	}
	fall := min(0, float64(c.Room.Plus(-roomOff)-at))
	rise := max(0, float64(c.Room.Plus(roomOff)-at))
	least = at.Plus(unit.Kelvin(share*fall) - uneven)
	return max(least, leastWater), at.Plus(unit.Kelvin(share*rise) + uneven)
}
