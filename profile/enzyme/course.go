package enzyme

import (
	"time"

	"mashward/controller/unit"
)

const (
	// near is how close to its target a rest counts as reached, as in a rehearsal.
	near unit.Kelvin = 0.3
	// clearly is how far above its target a rest must have been before it is said
	// what that cost.
	clearly unit.Kelvin = 0.1
	// glance is how often it is asked whether a rest has more to give.
	glance = time.Minute
	// mostRests bounds a course, whatever a batch does.
	mostRests = 256
)

// Rest is what one rest did, with the heat-up to it.
type Rest struct {
	Step     int  `json:"-"` // entry of the profile
	Estimate      // at its end
	Added    Gain `json:"added"`
	// How long after its target was reached it had hardly more to give, in seconds,
	// to a minute; 0: once it was there; nil: it still had at its end.
	NoSugar   *float64 `json:"no_more_sugar_after_seconds"`
	NoOpening *float64 `json:"no_more_dextrin_after_seconds"`
	Spent     *float64 `json:"nothing_more_after_seconds"` // the later of the two
	Cost      *Cost    `json:"too_hot_cost"`               // nil: it was at no time clearly above its target
}

// Cost is what a rest lost by what it was above its target, against the same rest
// cut off at its target. A negative figure is a gain.
type Cost struct {
	Above unit.Kelvin `json:"above_kelvin"`     // at most
	Beta  Band        `json:"beta_lost_ratio"`  // of what came in with the malt
	Sugar Band        `json:"sugar_lost_ratio"` // of the starch that can be reached
}

// Course follows a mash from rest to rest. The zero value is ready.
type Course struct {
	state State
	done  []Rest
	open  bool
	over  bool // the grain is out
	rest  resting
}

// resting is the rest that runs.
type resting struct {
	step    int
	began   State
	tame    State // the same rest, cut off at its target
	counted bool  // tame differs
	above   unit.Kelvin
	length  time.Duration
	reached time.Duration // -1: not yet
	noSugar time.Duration // -1: not yet
	noOpen  time.Duration // -1: not yet
	asked   time.Duration
	falling bool // it began above its target, which is meant: not counted until it is there
}

// Begin is the moment the grain is in, at the temperature of the mash.
func (c *Course) Begin(t unit.Celsius) { *c = Course{state: MashIn(t)} }

// State is how far the mash has come.
func (c *Course) State() State { return c.state }

// Mashing tells whether the grain is in.
func (c *Course) Mashing() bool { return c.state.Begun && !c.over }

// Rest begins a rest, and ends the one before. A mash-in is never meant to be
// above its target; another rest that begins there is on its way down.
func (c *Course) Rest(step int, target unit.Celsius, mashIn bool) {
	c.close()
	if !c.Mashing() {
		return
	}
	c.open = true
	c.rest = resting{step: step, began: c.state, reached: -1, noSugar: -1, noOpen: -1, asked: -glance}
	c.rest.falling = !mashIn && c.state.At > target.Plus(near)
	c.look(target)
}

// Step goes on by d, in a straight line to t, under a target.
func (c *Course) Step(d time.Duration, t, target unit.Celsius) {
	if !c.Mashing() {
		return
	}
	if c.open {
		c.rest.pass(c.state, d, t, target)
	}
	c.state = c.state.After(d, t)
	if c.open {
		c.look(target)
	}
}

// Leave ends the rest that runs; the grain stays in.
func (c *Course) Leave() { c.close() }

// End is the moment the grain comes out.
func (c *Course) End() {
	c.close()
	c.over = true
}

// Lose forgets what is left: nobody knows how long nobody looked.
func (c *Course) Lose() { c.state.Lost = c.state.Begun }

// Rests are the rests that have ended, of which something is known.
func (c *Course) Rests() []Rest { return c.done }

// pass follows the tame copy. It is made only when it begins to differ.
func (r *resting) pass(now State, d time.Duration, t, target unit.Celsius) {
	r.length += d
	if r.falling {
		r.falling = t > target.Plus(clearly)
		return
	}
	hottest := max(t, now.At)
	r.above = max(r.above, hottest.Minus(target))
	if !r.counted && hottest <= target {
		return
	}
	if !r.counted {
		r.counted, r.tame = true, now
		r.tame.At = min(now.At, target)
	}
	r.tame = r.tame.After(d, min(t, target))
}

// look notes when the target is reached, and asks now and then whether there is
// more to come.
func (c *Course) look(target unit.Celsius) {
	r := &c.rest
	if off := c.state.At.Minus(target); r.reached < 0 && off >= -near && off <= near {
		r.reached = r.length
	}
	if r.noSugar >= 0 && r.noOpen >= 0 || r.length-r.asked < glance {
		return
	}
	r.asked = r.length
	sugar, opening := c.state.Spent(target)
	if sugar && r.noSugar < 0 {
		r.noSugar = r.length
	}
	if opening && r.noOpen < 0 {
		r.noOpen = r.length
	}
}

// there is a moment of the rest in seconds since its target was reached; nil if it
// did not come.
func (r *resting) there(at time.Duration) *float64 {
	if at < 0 {
		return nil
	}
	after := max(0, at-max(0, r.reached)).Seconds()
	return &after
}

// close puts down what the rest did.
func (c *Course) close() {
	r := &c.rest
	if !c.open {
		return
	}
	c.open = false
	gain, known := c.state.Since(r.began)
	if !known || len(c.done) >= mostRests {
		return
	}
	done := Rest{Step: r.step, Added: gain}
	done.Estimate, _ = c.state.Estimate()
	done.NoSugar, done.NoOpening = r.there(r.noSugar), r.there(r.noOpen)
	if done.NoSugar != nil && done.NoOpening != nil {
		done.Spent = r.there(max(r.noSugar, r.noOpen))
	}
	if r.counted && r.above > clearly {
		done.Cost = &Cost{
			Above: r.above,
			Beta:  bandOf(func(k int) float64 { return r.tame.Curves[k].Beta - c.state.Curves[k].Beta }),
			Sugar: bandOf(func(k int) float64 { return r.tame.Curves[k].Sugar - c.state.Curves[k].Sugar }),
		}
	}
	c.done = append(c.done, done)
}
