package invariant

import (
	"fmt"
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

// The figures of the laws. They are this package's own: none is taken from the
// code that is judged.
const (
	// Common practice of appliances with a remote sensor, no source: a reading
	// older than some cycles is none. Five cycles of 1 s.
	oldest = 5 * time.Second
	// A lease of three cycles; what comes later was not there.
	lease = 3 * time.Second
	// SAFETY.md, "The rules of the interlock": a cut comes back after 10 s.
	quiet = 10 * time.Second
	// The same: a cut for the probe latches when it lasts more than 60 s.
	lasting = 60 * time.Second
	// The same: one heating is never longer than 4 h, one arming than 12 h.
	mostOn    = 4 * time.Hour
	mostArmed = 12 * time.Hour
	// SAFETY.md, "When nobody comes": a pause ends after 2 h.
	mostPaused = 2 * time.Hour
	// The same: up to "bag clear" the highest target + 5 K; from then on boiling
	// point + 4 K; never above 105 °C.
	aboveMash    unit.Kelvin  = 5
	aboveBoiling unit.Kelvin  = 4
	mostEver     unit.Celsius = 105
	// The same: readings outside are none.
	coldest unit.Celsius = -5
	hottest unit.Celsius = 110
	// The same: covered level + 1 L.
	levelMargin unit.Litres = 1
	// Gentle heat while a bag drips: 60 %, 95 °C and 3 K under the boiling point at
	// most.
	gentleDuty              = 0.6
	gentleBelow unit.Kelvin = 3
	// A pump warns for so long before it starts by itself.
	warning = 5 * time.Second
	// A contactor's relay: 4 s at least in a state, 180 closings an hour.
	leastState = 4 * time.Second
	mostHourly = 180
	// Water at 100 °C, IAPWS R7-97: latent heat 2256.5 kJ/kg, rounded up; at 20 °C
	// 0.998 kg/L, rounded up. Both err towards less steam.
	latent  = 2.26e6 // J/kg
	density = 0.999  // kg/L
)

// Checker holds a stream of facts to the laws. The zero value with a Day is
// ready; it is a plain value, a copy goes on by itself.
type Checker struct {
	Day   Day
	Tally Tally

	begun bool // there was a fact since the start
	dt    time.Duration
	last  Fact

	heard    bool          // a good reading has been heard
	newest   unit.Celsius  // the newest one
	taken    time.Duration // and its instant
	hot      int           // new readings in a row at or above the limit, within 5 K of each other
	hotFrom  unit.Celsius  // lowest of them
	hotTo    unit.Celsius
	settled  int           // readings since one jumped, that one too
	doubtful time.Duration // when there last was what might cut, and need not
	silent   time.Duration // since when nothing fresh has been heard
	isSilent bool

	armedFor  time.Duration
	pausedFor time.Duration
	onFor     time.Duration
	cause     time.Duration // when a cause that cuts for 10 s was last seen
	caused    bool

	stated    unit.Litres
	statement uint32
	steam     unit.Joules
	drawn     unit.Litres // taken out since it was stated

	wasTripped bool // before the restart

	closings  [mostHourly]time.Duration // a ring of instants
	closed    int                       // how many there were
	changed   time.Duration             // when the line last changed
	announced bool
	warned    time.Duration
}

// Restarted is the checker for the next process: the run clock begins anew, and
// what must outlive a process does.
func (c Checker) Restarted() Checker {
	mode := c.last.Mode
	if mode.over() {
		mode = Idle // what is over ends with its process
	}
	return Checker{
		Day: c.Day, Tally: c.Tally, armedFor: c.armedFor, wasTripped: c.last.Trip != "" || !c.begun && c.wasTripped,
		stated: c.stated, statement: c.statement, steam: c.steam, drawn: c.drawn, last: Fact{Mode: mode},
	}
}

// Check takes the next tick and gives the laws that it breaks.
func (c *Checker) Check(f Fact) []Breach {
	c.Tally.add(&f)
	if f.Now < 0 || c.begun && f.Now <= c.last.Now {
		return c.still(&f)
	}
	c.dt = 0
	if c.begun {
		c.dt = f.Now - c.last.Now
	} else {
		c.doubtful = f.Now // nobody knows what was before
	}
	c.listen(&f)
	c.count(&f)
	c.blame(&f)
	bad := c.judge(&f, guard)
	c.keep(&f)
	return bad
}

// still is a tick in which no time has passed: no heat, and of it only what the
// core did is remembered.
func (c *Checker) still(f *Fact) []Breach {
	c.dt = 0
	if !f.Guarded {
		c.listen(f) // the core does
	}
	bad := c.judge(f, core)
	if on(f) {
		bad = append(bad, Breach{f.Now, "time", fmt.Sprintf("heat although the clock stands at %v", c.last.Now)})
	}
	if f.Guarded && c.last.Trip != "" && f.Trip == "" {
		bad = append(bad, Breach{f.Now, "latch", "a trip is gone although no time has passed"})
	}
	if c.last.On != f.On {
		c.changed = c.last.Now
	}
	c.heed(f, c.last.Now)
	c.last.Mode, c.last.On, c.last.Pump = f.Mode, f.On, f.Pump
	return bad
}

// judge asks the laws up to some need.
func (c *Checker) judge(f *Fact, most needs) []Breach {
	var bad []Breach
	for _, l := range laws {
		if l.needs > most || !l.needs.met(f) {
			continue
		}
		if what := l.broken(c, f); what != "" {
			bad = append(bad, Breach{f.Now, l.name, what})
		}
	}
	return bad
}

// listen remembers the newest good reading.
func (c *Checker) listen(f *Fact) {
	r := f.Reading
	if r.Fault == sensors.None && r.Taken <= f.Now {
		if !c.heard || r.Taken > c.taken {
			c.take(f)
		} else if r.Value != c.newest || r.Taken < c.taken {
			c.doubtful = f.Now
		}
	}
	if c.fresh(f.Now) {
		c.isSilent = false
	} else if !c.isSilent {
		c.isSilent, c.silent = true, f.Now
	}
}

// take takes a newer reading.
func (c *Checker) take(f *Fact) {
	v := f.Reading.Value
	if !sane(v) {
		c.doubtful, c.hot = f.Now, 0
		if c.settled < believed {
			c.settled = 0
		}
		return
	}
	const step unit.Kelvin = 4 // K: nobody may take a smaller one for a jump
	switch {
	case !c.heard:
		c.settled = believed
	case v.Minus(c.newest) > step || c.newest.Minus(v) > step:
		c.doubtful, c.settled = f.Now, 0
	}
	c.settled++
	if v >= c.limit(f) {
		if c.hot == 0 {
			c.hotFrom, c.hotTo = v, v
		}
		c.hotFrom, c.hotTo = min(c.hotFrom, v), max(c.hotTo, v)
		c.hot++
		if c.hotTo.Minus(c.hotFrom) > step {
			c.hot, c.hotFrom, c.hotTo = 1, v, v
		}
	} else {
		c.hot = 0
	}
	c.heard, c.newest, c.taken = true, v, f.Reading.Taken
}

// sane tells whether this can be the temperature of a kettle.
func sane(v unit.Celsius) bool { return !math.IsNaN(float64(v)) && v >= coldest && v <= hottest }

// fresh tells whether a good reading of the last seconds has been heard.
func (c *Checker) fresh(now time.Duration) bool {
	return c.heard && now >= c.taken && now-c.taken <= oldest
}

// limit is the temperature at which heat has to end.
func (c *Checker) limit(f *Fact) unit.Celsius {
	d := &c.Day
	limit := mostEver
	if f.Armed {
		limit = min(limit, d.Boiling.Plus(aboveBoiling))
		if !f.Lifted && !d.Unlifted {
			limit = min(limit, d.Hottest.Plus(aboveMash))
		}
	}
	if d.Rig != 0 {
		limit = min(limit, d.Rig)
	}
	return limit
}

// count goes on with times and energies.
func (c *Checker) count(f *Fact) {
	switch {
	case !f.Armed:
		c.armedFor = 0
	case c.last.Armed:
		c.armedFor += c.dt
	}
	if f.Mode == Paused && c.last.Mode == Paused {
		c.pausedFor += c.dt
	} else {
		c.pausedFor = 0
	}
	switch {
	case f.Applied != unit.On:
		c.onFor = 0
	case c.last.Applied == unit.On && c.begun:
		c.onFor += c.dt
	}
	if !f.Lifted {
		c.stated, c.steam, c.drawn = 0, 0, 0
		return
	}
	if f.Volume > 0 && (f.Volume != c.stated || f.Statement != c.statement) {
		c.stated, c.statement, c.steam, c.drawn = f.Volume, f.Statement, 0, 0
	}
	c.drawn = max(c.drawn, f.Drawn)
	if c.stated == 0 || !c.fresh(f.Now) || c.newest < c.Day.Boiling.Plus(-3) {
		return
	}
	c.steam -= unit.Joules(float64(c.Day.LossAtBoil) * c.dt.Seconds())
	if f.Applied == unit.On {
		c.steam += unit.Joules(float64(c.Day.Power) * c.dt.Seconds())
	}
}

// left is what steam and ladle have left of the stated volume.
func (c *Checker) left() unit.Litres {
	return c.stated - c.drawn - unit.Litres(float64(max(c.steam, 0))/latent/density)
}

// blame remembers when there last was a cause that takes heat away for a while.
func (c *Checker) blame(f *Fact) {
	r := f.Reading
	odd := r.Fault == sensors.None && r.Taken <= f.Now && !sane(r.Value)
	unarmed := f.Wanted == unit.On && (!f.Armed || !f.Mode.Heats())
	if c.dt > lease || !c.fresh(f.Now) || odd || f.Dry || unarmed || f.Finding == probeOut {
		c.cause, c.caused = f.Now, true
	}
	// Counted from another tick the arming may have run out; what has tripped may
	// cut for a while when it is cleared.
	if c.last.Trip != "" || f.Wanted == unit.On && c.armedFor+quiet >= min(mostArmed, c.Day.ArmedFor) {
		c.doubtful = f.Now
	}
}

// probeOut is the one finding that comes and goes.
const probeOut = "probe-out"

// keep remembers the fact for the next.
func (c *Checker) keep(f *Fact) {
	if c.last.On != f.On {
		c.changed = f.Now
		if f.On == unit.On {
			c.closings[c.closed%mostHourly] = f.Now
			c.closed++
		}
	}
	c.heed(f, f.Now)
	c.begun, c.last = true, *f
}

// heed remembers a warning that the pump will start.
func (c *Checker) heed(f *Fact, now time.Duration) {
	switch {
	case f.Announced:
		c.announced, c.warned = true, now
	case f.Pump == unit.On, !f.Mode.Heats():
		c.announced = false
	}
}
