package invariant

import (
	"fmt"
	"time"

	"mashward/controller/unit"
)

// law is one thing that must hold. broken says how it does not.
type law struct {
	name   string
	needs  needs
	broken func(c *Checker, f *Fact) string
}

// needs is what a tick must have had for a law to say something about it.
type needs uint8

const (
	either needs = iota
	core
	guard
)

// met tells whether the tick had it.
func (n needs) met(f *Fact) bool {
	return n == either || n == core && f.Steered || n == guard && f.Guarded
}

// laws are all of them.
var laws = []law{
	{"start", either, start},
	{"fresh reading", either, freshReading},
	{"mode", either, mode},
	{"ways", core, ways},
	{"stop", core, stop},
	{"pause", core, pause},
	{"scene", either, scene},
	{"gentle", core, gentle},
	{"gap", either, gap},
	{"held by a trip", core, heldByTrip},
	{"arming", either, arming},
	{"pump", core, pump},
	{"pump warning", core, pumpWarning},
	{"hose", core, hose},
	{"wear", core, wear},
	{"only takes away", guard, onlyTakesAway},
	{"lease", guard, leased},
	{"obeyed", guard, obeyed},
	{"limit", guard, belowLimit},
	{"too hot latches", guard, tooHotLatches},
	{"too long", guard, tooLong},
	{"level", guard, level},
	{"latch", guard, latch},
	{"finding", guard, finding},
	{"quiet", guard, quietBefore},
	{"lasting silence latches", guard, silenceLatches},
	{"comes back", guard, comesBack},
	{"contactor", guard, contactor},
}

func on(f *Fact) bool { return f.On != unit.Off }

// asks tells that heat is on, or asked for: a relay in the off part of its pulses
// is still heating.
func asks(f *Fact) bool { return on(f) || f.Duty > 0 }

// start: a process begins with heat and pump off.
func start(c *Checker, f *Fact) string {
	if !c.begun && (on(f) || f.Pump != unit.Off) {
		return "heat or pump in the first tick"
	}
	return ""
}

// freshReading: no heat without a good reading of the last 5 s.
func freshReading(c *Checker, f *Fact) string {
	switch {
	case !asks(f) || c.fresh(f.Now):
		return ""
	case !c.heard:
		return "heat without any good reading"
	}
	return fmt.Sprintf("heat on a reading of %v ago", f.Now-c.taken)
}

// mode: nothing but a batch that runs or is paused heats, pumps or is armed.
func mode(_ *Checker, f *Fact) string {
	switch {
	case f.Mode.Heats():
	case asks(f):
		return "heat in a batch that is " + f.Mode.String()
	case f.Pump != unit.Off:
		return "the pump runs in a batch that is " + f.Mode.String()
	}
	return ""
}

// ways: what is over stays so; what heats has begun by a person's word, or by his
// choice at arming after an outage.
func ways(c *Checker, f *Fact) string {
	from, to := c.last.Mode, f.Mode
	if from == to {
		return ""
	}
	asked := func(w Wish) bool { return f.Wish == w && f.Accepted }
	good := true
	switch {
	case from.over() || to == Idle:
		good = false
	case from == Idle:
		good = to == Running && asked(Start)
	case from == Held && to.Heats():
		good = asked(Resume) && !f.Told
	case from == Offered && to.Heats():
		mash := !f.Lifted && f.Scene != Steaming && f.Scene != Falling // further on somebody has to stand there
		good = to == Running && (asked(TakeUp) || asked(Alone) && mash) && !f.Told
	case to == Paused:
		good = from == Running
	case to == Held:
		good = from.Heats()
	case to == Complete:
		good = from == Running || asked(Resume) || asked(TakeUp)
	case to == Stopped:
		good = asked(End)
	case to == Offered:
		good = !c.begun // only a new process offers
	}
	if !good {
		return fmt.Sprintf("from %v to %v, wish %d", from, to, f.Wish)
	}
	return ""
}

// stop: a person's stop takes heat and pump away in the same tick, in any state.
func stop(_ *Checker, f *Fact) string {
	if f.Wish == Stop && (asks(f) || f.Pump != unit.Off || f.Mode.Heats()) {
		return "STOP, and the batch is " + f.Mode.String()
	}
	return ""
}

// pause: a pause keeps the temperature for 2 h at most, and not for good.
func pause(c *Checker, f *Fact) string {
	if f.Mode == Paused && c.pausedFor >= mostPaused {
		return fmt.Sprintf("paused for %v", c.pausedFor)
	}
	return ""
}

// scene: no heat while grain or bag moves, while a bed sets or the chiller runs, nor
// where a person has said that there must be none.
func scene(_ *Checker, f *Fact) string {
	switch {
	case !asks(f):
	case f.Scene == Closed || f.Scene == Hands || f.Scene == Turning || f.Scene == Falling:
		return fmt.Sprintf("heat in scene %d", f.Scene)
	case f.Asked:
		return "heat while it is asked whether grain went in"
	case f.Resting:
		return "heat while the bed rests"
	case f.Bare:
		return "heat on an element that was said to be bare"
	}
	return ""
}

// gentle: little heat while a bag hangs over the kettle.
func gentle(c *Checker, f *Fact) string {
	switch {
	case !(f.Duty >= 0 && f.Duty <= 1):
		return fmt.Sprintf("duty %v", f.Duty)
	case f.Scene != Dripping:
	case f.Duty > gentleDuty:
		return fmt.Sprintf("duty %v under a bag", f.Duty)
	case f.Target > min(95, c.Day.Boiling.Plus(-gentleBelow)):
		return fmt.Sprintf("to %v under a bag", f.Target)
	}
	return ""
}

// gap: whoever was away for longer than the lease does not begin with heat.
func gap(c *Checker, f *Fact) string {
	if asks(f) && c.dt > lease {
		return fmt.Sprintf("heat in the first tick after %v", c.dt)
	}
	return ""
}

// heldByTrip: a batch that is told of a trip heats and pumps no more.
func heldByTrip(_ *Checker, f *Fact) string {
	if f.Told && (f.Mode.Heats() || asks(f) || f.Pump != unit.Off) {
		return "told of a trip, and the batch is " + f.Mode.String()
	}
	return ""
}

// arming: heat needs a person who stands behind it, for 12 h at most.
func arming(c *Checker, f *Fact) string {
	switch {
	case !on(f):
	case !f.Armed:
		return "heat, and nobody has armed it"
	case c.armedFor >= min(mostArmed, c.Day.ArmedFor):
		return fmt.Sprintf("heat %v after arming", c.armedFor)
	}
	return ""
}

// pump: it runs only where it cannot run dry, hurt hands or take in steam.
func pump(c *Checker, f *Fact) string {
	switch {
	case f.Pump == unit.Off:
	case !c.Day.HasPump:
		return "a pump that is not there runs"
	case f.Scene == Closed || f.Scene == Hands:
		return fmt.Sprintf("the pump runs in scene %d", f.Scene)
	case f.Asked || f.Blocked || f.Resting:
		return "the pump runs against a person's word"
	case !c.Day.InBoil && (f.Scene == Dripping || f.Scene == Steaming || f.Scene == Falling):
		return "the pump runs after the lift"
	}
	return ""
}

// pumpWarning: it does not start by itself without a warning of 5 s.
func pumpWarning(c *Checker, f *Fact) string {
	if f.Pump == unit.Off {
		return ""
	}
	if c.begun && c.dt > lease { // it has stood meanwhile
		return fmt.Sprintf("the pump runs on after %v in which its lease had run out", c.dt)
	}
	if c.last.Pump != unit.Off {
		return ""
	}
	if !c.announced || f.Now-c.warned < warning {
		return "the pump starts without a warning"
	}
	return ""
}

// hose: a probe in a hose in which nothing flows sees nothing.
func hose(c *Checker, f *Fact) string {
	if asks(f) && c.Day.Hose && f.Pump == unit.Off {
		return "heat with a blind probe"
	}
	return ""
}

// wear: a mechanical relay keeps each state for 4 s and closes 180 times an hour
// at most. To go off early is always allowed where no heat is wanted any more, or
// the interlock says so.
func wear(c *Checker, f *Fact) string {
	if !c.Day.Mechanical || !c.begun || f.On == c.last.On {
		return ""
	}
	since := f.Now - c.changed
	switch {
	case f.On == unit.On && c.closed > 0 && since < leastState:
		return fmt.Sprintf("closed after %v", since)
	case f.On == unit.On && c.closed >= mostHourly && f.Now-c.closings[c.closed%mostHourly] < time.Hour:
		return fmt.Sprintf("%d closings in %v", mostHourly+1, f.Now-c.closings[c.closed%mostHourly])
	case f.On == unit.Off && since < leastState && f.Wanted == unit.Off && f.Duty > 0:
		return fmt.Sprintf("opened after %v at duty %v", since, f.Duty)
	}
	return ""
}

// onlyTakesAway: nothing is switched on that was not asked for, nothing asked for
// is withheld without a reason. One is that a contactor closes first, without current.
func onlyTakesAway(c *Checker, f *Fact) string {
	reason := f.Cut != "" || f.Trip != ""
	closes := f.Contactor == unit.On && c.last.Contactor == unit.Off
	switch {
	case on(f) && closes:
		return "heat while the contactor closes"
	case on(f) && f.Wanted != unit.On:
		return "heat that nobody wanted"
	case on(f) && reason:
		return "heat under " + f.Cut + f.Trip
	case !on(f) && f.Wanted == unit.On && !reason && c.begun && !closes:
		return "heat withheld without a reason"
	}
	return ""
}

// leased: heat is given for 3 s at most.
func leased(_ *Checker, f *Fact) string {
	if on(f) && !(f.Lease > 0 && f.Lease <= lease) {
		return fmt.Sprintf("heat for %v", f.Lease)
	}
	return ""
}

// obeyed: where it is known what the line did, it did nothing that it was not told.
func obeyed(c *Checker, f *Fact) string {
	if f.Sure && f.Applied == unit.On && (!c.begun || !on(&c.last)) {
		return "the line was on untold"
	}
	return ""
}

// belowLimit: no heat at or above the limit, by the newest reading.
func belowLimit(c *Checker, f *Fact) string {
	if on(f) && c.heard && c.newest >= c.limit(f) {
		return fmt.Sprintf("heat at %v, limit %v", c.newest, c.limit(f))
	}
	return ""
}

// believed is how many readings that follow each other settle that a jump was none of
// the probe's.
const believed = 5

// tooHotLatches: three readings in a row that agree are no spike, nor are five behind
// a jump.
func tooHotLatches(c *Checker, f *Fact) string {
	if c.hot >= 3 && c.settled >= believed && c.newest >= c.limit(f) && f.Trip == "" {
		return fmt.Sprintf("%v at the limit of %v, and no trip", c.newest, c.limit(f))
	}
	return ""
}

// tooLong: no heating is longer than the plan can need.
func tooLong(c *Checker, f *Fact) string {
	if on(f) && f.Armed && c.onFor >= min(mostOn, c.Day.LongestOn) {
		return fmt.Sprintf("heating for %v", c.onFor)
	}
	return ""
}

// level: heat ends before steam has bared the element.
func level(c *Checker, f *Fact) string {
	if c.stated > 0 && c.left() <= c.Day.CoveredAt+levelMargin-slack && (on(f) || f.Trip == "") {
		return fmt.Sprintf("%.2f L left, covered at %.2f L", float64(c.left()), float64(c.Day.CoveredAt))
	}
	return ""
}

// slack is for readings that one side takes for a jump and the other does not.
const slack unit.Litres = 0.05

// latch: a trip stays until a person clears it, over a restart too.
func latch(c *Checker, f *Fact) string {
	switch {
	case !c.begun && c.wasTripped && f.Trip == "" && !f.Clear:
		return "a restart has cleared a trip"
	case c.begun && c.last.Trip != "" && f.Trip != c.last.Trip && !f.Clear:
		return fmt.Sprintf("%s has become %q, and nobody has cleared it", c.last.Trip, f.Trip)
	}
	return ""
}

// finding: what the model finds takes heat away, and latches but for a probe that
// may come back; nobody clears it while it is found.
func finding(_ *Checker, f *Fact) string {
	switch {
	case f.Finding == "":
	case on(f):
		return "heat, and found: " + f.Finding
	case f.Finding != probeOut && f.Trip == "":
		return f.Finding + " is found, and no trip stands"
	case f.Cut == "" && f.Trip == "":
		return f.Finding + " is found, and nothing cuts"
	}
	return ""
}

// quietBefore: heat comes back when its cause has been gone for 10 s.
func quietBefore(c *Checker, f *Fact) string {
	if on(f) && c.caused && f.Now-c.cause < quiet {
		return fmt.Sprintf("heat %v after what took it away", f.Now-c.cause)
	}
	return ""
}

// silenceLatches: a probe that says nothing for a minute needs a person.
func silenceLatches(c *Checker, f *Fact) string {
	if c.isSilent && f.Now-c.silent > lasting && c.armedFor > lasting && f.Trip == "" {
		return fmt.Sprintf("no reading for %v, and no trip", f.Now-c.silent)
	}
	return ""
}

// comesBack: a cut does not outlive its cause by more than the 10 s and a tick.
func comesBack(c *Checker, f *Fact) string {
	const tick = lease // of any length that counts
	calm := f.Now-c.doubtful > quiet+tick && (!c.caused || f.Now-c.cause > quiet+tick) && c.heard
	if calm && f.Cut != "" && f.Finding == "" {
		return f.Cut + " still cuts, and nothing is wrong"
	}
	return ""
}

// contactor: the second contact is open where nothing may heat, and for a relay
// that may be welded.
func contactor(_ *Checker, f *Fact) string {
	const welded = "heating-while-off"
	switch {
	case f.Contactor != unit.On:
	case !f.Mode.Heats():
		return "closed in a batch that is " + f.Mode.String()
	case f.Finding == welded || f.Trip == welded:
		return "closed, and the relay may be welded"
	}
	return ""
}
