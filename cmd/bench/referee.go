package main

import (
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/sim"
)

// What counts as reached, and how long a controller is given to get there.
const (
	within   = 0.3           // K
	patience = 3 * time.Hour // for one rest, from its start
	rests    = 3
)

// rest is one heated rest of the programme.
type rest struct {
	target unit.Celsius
	lasts  time.Duration // from the moment the true mash has reached it
}

// programme is what comes after the mash-in at 44 °C.
var programme = [rests]rest{{63, 25 * time.Minute}, {71, 20 * time.Minute}, {77, 10 * time.Minute}}

// mishap is something that happens to a kettle in the first heated rest.
type mishap struct {
	from, until time.Duration // since it was reached; until 0: for the rest of the day
	condition   sim.Condition
}

// course is one rest as it really went, by second from its start.
type course struct {
	goal    float64    // of the true mash, °C
	target  float64    // of the wort at the probe, °C
	before  *sim.Plant // the kettle as it was at the start
	mash    []float32
	hot     []float32 // wort at the element
	reached int       // -1: never
	over    bool      // it has had its time
}

// referee looks at one true kettle through the heated rests: the same for every
// controller. A rest has had its time when the true mash has been in it for so
// long, whatever a controller believes.
type referee struct {
	plant   *sim.Plant
	goals   [rests]float64
	mishap  mishap
	courses []course
}

// goalsOf are the true temperatures of the mash by which the rests are judged:
// where it is when the place of the probe stands at the target. What the probe
// reads too high is taken out.
func goalsOf(p *sim.Plant) [rests]float64 {
	q := p.Clone()
	q.SetCondition(sim.Condition{})
	var goals [rests]float64
	for i, r := range programme {
		at := r.target.Plus(-p.Params().Probe.Offset)
		goals[i] = float64(at.Plus(sim.Offset(q, at)))
	}
	return goals
}

// begin starts the next rest.
func (r *referee) begin() {
	i := len(r.courses)
	c := course{
		goal: r.goals[i], target: float64(programme[i].target.Plus(-r.plant.Params().Probe.Offset)),
		before: r.plant.Clone(), reached: -1,
	}
	r.courses = append(r.courses, c)
	r.note()
}

// running tells whether a rest runs.
func (r *referee) running() bool {
	return len(r.courses) > 0 && !r.courses[len(r.courses)-1].over
}

// second notes a second that has passed, and tells whether the rest is over.
func (r *referee) second() bool {
	c := r.note()
	index := len(r.courses) - 1
	since := time.Duration(len(c.mash)-1) * time.Second
	if c.reached < 0 {
		c.over = since >= patience
		return c.over
	}
	in := since - time.Duration(c.reached)*time.Second
	c.over = in >= programme[index].lasts
	if m := r.mishap; index == 0 && m.condition != (sim.Condition{}) {
		switch in {
		case m.from:
			r.plant.SetCondition(m.condition)
		case m.until:
			r.plant.SetCondition(sim.Condition{})
		}
	}
	return c.over
}

// note takes down the truth of this moment.
func (r *referee) note() *course {
	c := &r.courses[len(r.courses)-1]
	truth := r.plant.Truth()
	if c.reached < 0 && math.Abs(float64(truth.Mash)-c.goal) <= within {
		c.reached = len(c.mash)
	}
	c.mash = append(c.mash, float32(truth.Mash))
	c.hot = append(c.hot, float32(truth.ElementWort))
	return c
}

// figures are what one rest came to. Never is a ratio or a deviation without
// end.
type figures struct {
	ratio     float64 // time to reach it over the least possible; NaN: it began within reach
	overshoot float64 // K
	rms       float64 // K, in the second half of the time there
	hot       float64 // K
}

var never = math.Inf(1)

// judged are the figures of a rest, by the definitions that are printed.
func (c *course) judged() figures {
	f := figures{ratio: never, rms: never, hot: math.Inf(-1)}
	limit, known := c.limit()
	switch {
	case !known:
		f.ratio = math.NaN()
	case c.reached >= 0:
		f.ratio = float64(c.reached) / limit.Seconds()
	}
	from := 0
	if float64(c.mash[0]) > c.goal {
		from = max(c.reached, 0)
	}
	for _, t := range c.mash[from:] {
		f.overshoot = max(f.overshoot, float64(t)-c.goal)
	}
	for _, t := range c.hot {
		f.hot = max(f.hot, float64(t)-c.target)
	}
	if c.reached >= 0 {
		f.rms = c.hold()
	}
	return f
}

func (c *course) limit() (time.Duration, bool) {
	target := unit.Celsius(c.target)
	return sim.Limit(c.before, target, unit.Celsius(c.goal).Minus(target), 0)
}

// hold is the root mean square in the second half of the time at the goal.
func (c *course) hold() float64 {
	half := c.mash[(c.reached+len(c.mash)-1)/2:]
	sum := 0.0
	for _, t := range half {
		sum += (float64(t) - c.goal) * (float64(t) - c.goal)
	}
	return math.Sqrt(sum / float64(len(half)))
}
