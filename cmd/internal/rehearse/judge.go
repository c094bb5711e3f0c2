package rehearse

import (
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
)

// near is how close to its target a step counts as reached.
const near = 0.3

// judge looks at the true kettle every second. It knows what no controller
// knows, and tells nobody until the end.
type judge struct {
	kettle Kettle
	armed  time.Duration
	live   bool
	brief  bool      // neither limits nor enzymes
	mash   []float32 // °C by second since arming
	hot    []float32 // wort at the element
	steps  []course
	cuts   []Span
	trips  []Instant
	alarms []Span
	last   loopMarks
	end    time.Duration
	// hoisted is the second at which the grain began to come out.
	hoisted int
}

// loopMarks is what was so in the last frame, to see what changes.
type loopMarks struct {
	cut, trip string
	alarms    controller.Alarms
}

// course is one step as it really went, by second since arming.
type course struct {
	index      int
	start, end int
	plateau    int // boil: where the core saw it; -1 if not
	earned     time.Duration
	before     *sim.Plant // the kettle as it was at the start
	ended      bool
}

func newJudge(d plan.Plan, k Kettle) *judge {
	seconds := int(d.Finish/time.Second) + 3600
	return &judge{
		kettle: k, mash: make([]float32, 0, seconds), hot: make([]float32, 0, seconds),
		steps: make([]course, 0, profile.MaxSteps+1),
	}
}

// Watch notes the truth at the end of the last tick and what the core made of it.
func (j *judge) Watch(f *loop.Frame) {
	d := &f.Decision
	for _, e := range d.Events[:d.Count] {
		j.hear(f, e)
	}
	if !j.live {
		return
	}
	j.end = f.Tick.Now - j.armed
	j.sample(int(j.end / time.Second))
	j.mark(f)
}

// hear follows the batch's own account of its steps.
func (j *judge) hear(f *loop.Frame, e controller.Event) {
	if e.Kind == controller.BatchStarted {
		j.live, j.armed = true, f.Tick.Now
	}
	at := int((f.Tick.Now - j.armed) / time.Second)
	switch e.Kind {
	case controller.StepStarted:
		j.steps = append(j.steps, course{index: int(e.Step), start: at, plateau: -1, before: j.copy()})
	case controller.StageChanged:
		switch controller.Stage(e.Value) {
		case controller.Settle:
			j.now().start, j.now().before = at, j.copy()
		case controller.Hoist:
			j.hoisted = at
		}
	case controller.TargetReached:
		j.now().plateau = at
	case controller.StepEnded:
		c := j.now()
		c.end, c.ended, c.earned = at, true, time.Duration(e.Value*float64(time.Second))
	}
}

func (j *judge) now() *course { return &j.steps[len(j.steps)-1] }

func (j *judge) copy() *sim.Plant {
	if p := j.kettle.Plant(); p != nil {
		return p.Clone()
	}
	return nil
}

// sample fills in the seconds up to now; a late tick leaves the last value.
func (j *judge) sample(second int) {
	mash, hot := float32(j.kettle.Mash()), float32(math.NaN())
	if p := j.kettle.Plant(); p != nil {
		hot = float32(p.Truth().ElementWort)
	}
	for len(j.mash) <= second {
		j.mash, j.hot = append(j.mash, mash), append(j.hot, hot)
	}
}

// mark notes cuts, trips and alarms as they come and go.
func (j *judge) mark(f *loop.Frame) {
	cut, trip := "", ""
	if f.Verdict.Cut != 0 {
		cut = f.Verdict.Cut.String()
	}
	if f.Verdict.Trip != 0 {
		trip = f.Verdict.Trip.String()
	}
	at := j.end.Seconds()
	if cut != j.last.cut {
		closeSpan(j.cuts, j.last.cut, at)
		if cut != "" {
			j.cuts = append(j.cuts, Span{ID: cut, From: at})
		}
	}
	if trip != "" && trip != j.last.trip {
		j.trips = append(j.trips, Instant{ID: trip, At: at})
	}
	for a, stands := range f.Decision.Alarms {
		id := controller.Alarm(a).String()
		switch {
		case stands && !j.last.alarms[a]:
			j.alarms = append(j.alarms, Span{ID: id, From: at})
		case !stands && j.last.alarms[a]:
			closeSpan(j.alarms, id, at)
		}
	}
	j.last = loopMarks{cut, trip, f.Decision.Alarms}
}

func closeSpan(spans []Span, id string, at float64) {
	for i := len(spans) - 1; i >= 0; i-- {
		if spans[i].ID == id && spans[i].Until == nil {
			spans[i].Until = &at
			return
		}
	}
}

// verdict judges one step by the truth.
func (j *judge) verdict(c *course, s Step, ramp unit.KelvinPerSecond) Step {
	if !c.ended {
		c.end = len(j.mash) - 1
	}
	s.Start, s.End, s.Earned = float64(c.start), float64(c.end), c.earned.Seconds()
	switch s.kind {
	case profile.Lift:
		return s
	case profile.Boil:
		if c.plateau >= 0 {
			s.Reached = seconds(c.plateau - c.start)
			s.arrived = s.Reached
		}
		return s
	case profile.Stand, profile.Chill:
		s.Reached, s.arrived = j.reached(c, s.target), j.reached(c, s.target-c.misread())
		return s
	case profile.Strike, profile.MashIn, profile.Rest, profile.MashOut:
	}
	offset := 0.0
	if c.before != nil {
		offset = float64(sim.Offset(c.before, unit.Celsius(s.target)))
	}
	s.Offset = &offset
	goal := s.target + offset
	s.Reached, s.arrived = j.reached(c, goal), j.reached(c, goal-c.misread())
	s.Overshoot = j.overshoot(c, goal, s.Reached)
	s.HoldRMS, s.HoldWorst = j.hold(c, goal, s.Reached)
	s.HotSide = j.hotSide(c, s.target)
	if !j.brief && s.kind != profile.MashIn && c.before != nil && math.Abs(j.at(c.start)-goal) > near {
		s.Limit = limitOf(c.before, s.target, offset, ramp)
	}
	return s
}

// misread is what the probe reads too high for good, K; 0 where nobody knows.
func (c *course) misread() float64 {
	if c.before == nil {
		return 0
	}
	return float64(c.before.Params().Probe.Offset)
}

func limitOf(p *sim.Plant, target, offset float64, ramp unit.KelvinPerSecond) *float64 {
	d, ok := sim.Limit(p, unit.Celsius(target), unit.Kelvin(offset), ramp)
	if !ok {
		return nil
	}
	s := d.Seconds()
	return &s
}

func (j *judge) at(second int) float64 {
	if len(j.mash) == 0 {
		return math.NaN()
	}
	return float64(j.mash[min(max(second, 0), len(j.mash)-1)])
}

// reached is the first second within near of the goal, from the step's start.
func (j *judge) reached(c *course, goal float64) *float64 {
	for t := c.start; t <= c.end; t++ {
		if math.Abs(j.at(t)-goal) <= near {
			return seconds(t - c.start)
		}
	}
	return nil
}

// overshoot is the highest above the goal; for a step that begins above it,
// from the moment it is reached.
func (j *judge) overshoot(c *course, goal float64, reached *float64) *float64 {
	from := c.start
	if j.at(c.start) > goal {
		if reached == nil {
			return nil
		}
		from += int(*reached)
	}
	worst := 0.0
	for t := from; t <= c.end; t++ {
		worst = max(worst, j.at(t)-goal)
	}
	return &worst
}

// hold is root mean square and worst deviation in the second half of the time
// at the goal.
func (j *judge) hold(c *course, goal float64, reached *float64) (rms, worst *float64) {
	if reached == nil {
		return nil, nil
	}
	from := (c.start + int(*reached) + c.end) / 2
	sum, high, n := 0.0, 0.0, 0
	for t := from; t <= c.end; t++ {
		dev := j.at(t) - goal
		sum += dev * dev
		high = max(high, math.Abs(dev))
		n++
	}
	root := math.Sqrt(sum / float64(n))
	return &root, &high
}

// hotSide is the highest true wort at the element above the target.
func (j *judge) hotSide(c *course, target float64) *float64 {
	worst := math.Inf(-1)
	for t := c.start; t <= c.end && t < len(j.hot); t++ {
		worst = max(worst, float64(j.hot[t])-target)
	}
	if math.IsNaN(worst) || math.IsInf(worst, 0) {
		return nil
	}
	return &worst
}

func seconds(n int) *float64 {
	s := float64(n)
	return &s
}
