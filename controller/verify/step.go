package verify

import (
	"math"
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
	"mashward/sensors"
)

// Verifier runs a second observer on one kettle. Fill in Params; the rest
// remembers filters already worked out, which changes no result.
type Verifier struct {
	Params Params

	made [3]ready
	next int
}

// ready is a filter for one load and scene.
type ready struct {
	params Params
	load   unit.JoulesPerKelvin
	scene  scene
	ok     bool
	filter observer.Filter
}

// filter finds or makes the filter for what stands in the kettle.
func (v *Verifier) filter(load unit.JoulesPerKelvin, s scene) *ready {
	for i := range v.made {
		if m := &v.made[i]; m.load == load && m.scene == s && m.params == v.Params {
			return m
		}
	}
	m := &v.made[v.next]
	v.next = (v.next + 1) % len(v.made)
	m.params, m.load, m.scene = v.Params, load, s
	m.filter, m.ok = observer.New(v.Params.model(load, s), wander())
	return m
}

// round is one call of Step.
type round struct {
	p     *Params
	s     *State
	t     *Tick
	dt    float64 // s
	has   bool    // this tick brought a new reading
	value unit.Celsius
}

// Step carries the watch over one tick and gives what is found now.
func (v *Verifier) Step(s State, t Tick) (State, Finding) {
	if !v.Params.sound() {
		return State{}, Finding{}
	}
	r := round{p: &v.Params, s: &s, t: &t}
	if !r.tellTime() {
		return s, s.standing()
	}
	r.look()
	r.follow(v)
	r.raise()
	r.weigh()
	r.spend()
	r.judge()
	r.followBoil()
	return s, s.standing()
}

// tellTime is false where no time has passed. After a gap all begins anew.
func (r *round) tellTime() bool {
	s := r.s
	first, dt := !s.Begun, r.t.Now-s.Now
	if !first && dt <= 0 {
		return false
	}
	s.Begun, s.Now = true, r.t.Now
	if first || dt > longestGap {
		r.forgetReadings()
		dt = time.Second
	}
	r.dt = dt.Seconds()
	s.Blank = max(0, s.Blank-dt)
	s.Held = max(0, s.Held-dt)
	s.Warm = max(0, s.Warm-dt)
	s.Poured = max(0, s.Poured-dt)
	s.Told = max(0, s.Told-dt)
	s.Mixing = max(0, s.Mixing-dt)
	return true
}

// restart forgets what model and sums have gathered.
func (r *round) restart(blank time.Duration) {
	s := r.s
	s.Model = observer.State{Past: s.Model.Past}
	s.TooMuch, s.Missing, s.Weak, s.Fell, s.Chill, s.Share, s.Ledger = 0, 0, 0, 0, 0, 0, 0
	s.Blank = max(s.Blank, blank)
}

// forgetReadings begins anew after a silence. A probe that was out is out until it
// is seen to be back.
func (r *round) forgetReadings() {
	s := r.s
	s.Count, s.Filled, s.SameFor, s.Stands, s.Course = 0, 0, 0, 0, Course{}
	r.restart(firstBlank)
}

// look takes in the reading: the median of the last three, so that a spike is
// no heat.
func (r *round) look() {
	s, in := r.s, r.t.Reading
	good := in.Good() && in.Age(r.t.Now) >= 0 && in.Value >= coldest && in.Value <= hottest
	if !good || s.Count > 0 && in.Taken <= s.Taken {
		s.Quiet += time.Duration(r.dt * float64(time.Second))
		if s.Quiet > longestQuiet && s.Count > 0 {
			r.forgetReadings()
		}
		return
	}
	r.compare(in)
	s.Taken, s.Quiet = in.Taken, 0
	s.Recent[0], s.Recent[1], s.Recent[2] = s.Recent[1], s.Recent[2], in.Value
	s.Count = min(s.Count+1, 3)
	r.value = in.Value
	if s.Count == 3 {
		r.value = median(s.Recent)
	}
	r.has = true
	s.At = (s.At + 1) % ringSize
	s.Ring[s.At] = float32(r.value)
	s.Filled = min(s.Filled+1, ringSize)
}

// compare keeps for how long a reading has repeated, and whether this probe
// flickers by itself.
func (r *round) compare(in sensors.Reading) {
	s := r.s
	if s.Count == 0 {
		return
	}
	change := float64(in.Value - s.Recent[2])
	size, step := math.Abs(change), (in.Taken - s.Taken).Seconds()
	turned := change != 0 && (change > 0) != s.Rising
	if step > 0 {
		back := 0.0
		if turned { // a reading that goes on falling is no noise
			back = min(size*size, 4)
		}
		s.Noise += (back - s.Noise) * min(step/noiseOver, 1)
	}
	if s.noise() > mostOwn {
		s.Flicker = 0 // something else than its own noise
	}
	if change == 0 {
		r.stand(in.Taken - s.Taken)
		return
	}
	s.SameFor, s.Stands, s.Rising = 0, 0, change > 0
	if s.LeastStep == 0 || size < s.LeastStep {
		s.LeastStep = size
	}
	flicker := 0.0
	switch {
	case size > flickerMost*s.LeastStep && s.LeastStep > continuous:
		s.Flicker = 0
	case turned && size > flickerLeast*s.LeastStep:
		flicker = 1
	}
	s.Flicker += (flicker - s.Flicker) * min(step/flickerOver, 1)
}

// stand goes on with how long the reading has not changed, and how long of that
// much heat was given.
func (r *round) stand(step time.Duration) {
	s := r.s
	s.SameFor += step
	if s.Due <= muchDue {
		return
	}
	if s.Stands == 0 {
		s.Before = s.Share
	}
	s.Stands += step
}

// noise is the standard deviation of a reading by its changes, K.
func (s *State) noise() float64 { return math.Sqrt(s.Noise / 2) }

func median(v [3]unit.Celsius) unit.Celsius {
	return max(min(v[0], v[1]), min(max(v[0], v[1]), v[2]))
}

// follow carries the model over the tick. When what stands in the kettle
// changes, it begins anew.
func (r *round) follow(v *Verifier) {
	s, t := r.s, r.t
	load, sc := t.Load, sceneOf(t)
	if load <= 0 {
		load = r.p.Brim
	}
	told := t.Told && load != s.Load
	r.seeChiller()
	r.seeLeap()
	switch {
	case told && s.Told > 0 && !t.Busy && sc == s.Scene: // once in a while is enough: the watch goes on
	case t.Busy, sc != s.Scene, told, load != s.Load && sc != water:
		s.Mixing = sceneBlank
		if told {
			s.Told, s.Poured = pouredOnce, pouredOnce // if it looks like more by and by, weigh waits longer
		}
		if sc == flowing {
			s.Mixing = flowBlank
		}
		r.restart(s.Mixing)
	case load != s.Load:
		r.restart(firstBlank)
	}
	s.Load, s.Scene = load, sc
	f := v.filter(load, sc)
	if !f.ok || s.Count == 0 {
		r.restart(firstBlank)
		return
	}
	if !s.Model.Begun {
		past := s.Model.Past
		s.Model = observer.Begin(s.Recent[2])
		s.Model.Past = past
		s.Quick, s.Lazy = s.Recent[2], s.Recent[2]
	}
	if r.has {
		s.Quick += (r.value - s.Quick) * unit.Celsius(min(r.dt/quickOver, 1))
		s.Lazy += (r.value - s.Lazy) * unit.Celsius(min(r.dt/lazyOver, 1))
	}
	// A reading far beside the model is believed when it stays there.
	has := r.has
	if off := math.Abs(float64(r.value) - f.filter.Seen(&s.Model.X)); has && off > jump {
		s.Jumped = min(s.Jumped+1, jumpFor)
		has = s.Jumped >= jumpFor
	} else if has {
		s.Jumped = 0
	}
	for range max(int(r.dt+0.5), 1) {
		s.Model = f.filter.Step(s.Model, t.Applied, r.value, has)
	}
	s.Share = float64(f.filter.Extra(&s.Model.X) / r.p.Power)
	r.average(float64(f.filter.Driven(&s.Model.X)/r.p.Power), f.filter.Model.Lag().Seconds())
}

// average goes on with what was switched on, and with what of it has left the
// element by the instant that the reading answers to.
func (r *round) average(given, lag float64) {
	s, on := r.s, 0.0
	if r.t.Applied == unit.On {
		on = 1
	}
	s.Short += (on - s.Short) * min(r.dt/shortOver, 1)
	s.Long += (on - s.Long) * min(r.dt/(longOver+lag), 1)
	s.Due += (given - s.Due) * min(r.dt/dueOver, 1)
	s.Slow += (s.Due - s.Slow) * min(r.dt/slowOver, 1)
}

// weigh adds up what the model cannot explain.
func (r *round) weigh() {
	s := r.s
	if s.Poured > 0 && -s.Share > coldClear {
		s.Blank = max(s.Blank, muchBlank) // more came in than it first seemed
	}
	if s.Blank > 0 || r.blind() || r.t.chilled() {
		s.TooMuch, s.Missing, s.Weak, s.Fell, s.Chill = 0, 0, 0, 0, 0
		return
	}
	// What noise beyond the probe's own makes of a minute, and what parts or meets
	// while heat begins or ends, in full powers.
	rough := max(0, s.noise()-usualNoise) / 60 * float64(s.Load/unit.JoulesPerKelvin(r.p.Power)) * noiseWeight
	change := mostByChange * math.Abs(s.Due-s.Slow)
	open := (r.p.openLoss(s.Recent[2]) + r.lossDoubt()) / float64(r.p.Power)
	if r.water(-s.Share, open, rough, change) {
		return
	}
	r.learnSurplus()
	most := max(mostIdle, mostSteady+mostByDuty*s.Long) + change + rough
	if s.Scene != water {
		most += s.Surplus * surplusWeight * max(s.Long, s.Due)
	}
	s.TooMuch = max(0, s.TooMuch+(s.Share-most)*r.dt)
	if r.warmsByItself() {
		s.TooMuch = 0
	}
	r.weighMissing(-s.Share-rough, open)
	r.weighBed(rough)
}

// learnSurplus takes from a steady heat-up of water alone how much stronger the
// element or how much smaller the volume is than was said: with grain in, the same
// is no stopped pump. The model stays as it was; the dead zone grows.
func (r *round) learnSurplus() {
	s := r.s
	if s.Scene == water && min(s.Slow, s.Due) > steadyDue && s.Recent[2] < r.p.Boiling-nearBoil {
		s.Surplus += (min(max(s.Share, 0), mostSurplus) - s.Surplus) * min(r.dt/surplusOver, 1)
	}
}

// lossDoubt is how far the declared loss may be wrong, W: it matters in a rest.
func (r *round) lossDoubt() float64 {
	loss := float64(r.p.Loss) * float64(r.s.Recent[2]-r.p.Room)
	return wrongLoss * max(0, loss) * max(0, 1-r.s.Due)
}

// water sees what no element can do: cold or hot water came in.
func (r *round) water(missing, open, rough, change float64) bool {
	s := r.s
	s.Chill = max(0, s.Chill+(missing-mostMissing*s.Due-coldSmall-open-rough)*r.dt)
	cold := missing > r.coldest()*s.Due+coldSteady+open+rough+change || s.Chill > coldSum && r.p.Place != Return ||
		s.Lazy-s.Quick > coldFall && r.p.Place == Bed
	hot := s.Short < leastDue && s.Share > r.hottest()
	much := missing > coldClear+open
	if much {
		s.Poured = 0
	}
	if hot {
		s.Ceiling = max(s.Ceiling, s.Recent[2]+hotWater)
	}
	return r.poured(cold || hot, much || r.p.Place == Bed)
}

// weighMissing adds up heat that was given and did not come.
func (r *round) weighMissing(missing, open float64) {
	s := r.s
	if s.Recent[2] > r.p.Boiling-nearBoil || s.Due < leastSaid {
		s.Missing = max(0, s.Missing-0.5*r.dt)
		s.Weak = max(0, s.Weak-0.2*r.dt)
		return
	}
	missing = min(missing, mostMissing*s.Due+0.05)
	if s.Missing == 0 {
		s.Crest = r.smooth()
		s.Sudden = s.Long > heatUp/2 && s.Due > suddenDue
	}
	s.Crest = max(s.Crest, r.smooth())
	half := leastByDuty
	if r.p.Place == Bed {
		half = r.halfInBed()
	}
	least := max(half*s.Due, leastWeak*s.Due+open)
	if r.t.Open {
		least = half*s.Due + open
	}
	s.Missing = max(0, s.Missing+(missing-least)*r.dt)
	s.Weak = max(0, s.Weak+r.weaker(missing, open)*r.dt)
}

// poured takes what no element can do for water, cold or hot, that came in, and
// begins anew. Once in a while that is a top-up; what goes on is weighed.
func (r *round) poured(so, much bool) bool {
	s := r.s
	if !so || s.Poured > 0 {
		return false
	}
	s.Poured = pouredOnce
	r.restart(coldBlank)
	if much {
		r.restart(muchBlank) // or it takes its time to get to a bed
	}
	return true
}

// coldest is what an element that gives nothing can seem to take away, as a
// multiple of what it was to give.
func (r *round) coldest() float64 {
	if r.p.Place == Return {
		return coldInHose
	}
	return coldByDuty
}

// smooth is the mean of the newest readings.
func (r *round) smooth() unit.Celsius {
	sum := 0.0
	for i := range newTo {
		sum += r.s.back(i)
	}
	return unit.Celsius(sum / newTo)
}

// spend keeps the energy that neither warmth nor loss nor steam accounts for,
// with all of them taken large.
func (r *round) spend() {
	s, p := r.s, r.p
	at := s.Recent[2]
	if r.t.Busy || r.t.chilled() || r.blind() || s.Count < 3 || at > p.Boiling-nearBoil {
		s.Ledger, s.Spent = 0, at
		return
	}
	if r.t.Applied == unit.On {
		s.Ledger += leastGiven * float64(p.Power) * r.dt
	}
	s.Ledger -= max(1.3*float64(p.Loss)*float64(at-p.Room)+p.openLoss(at), 0) * r.dt
	if s.Told > 0 && s.Mixing > 0 {
		s.Spent = min(s.Spent, at) // cold water that went in is warmed again
	}
	if at > s.Spent {
		s.Ledger -= 1.3 * float64(s.Load) * float64(at-s.Spent)
		s.Spent = at
	}
	s.Ledger = max(0, s.Ledger)
}

// raise carries on the most that the reading can have come to by the heat that was
// put in, into little more than half of what is said to be there. It comes down to
// the reading slowly, and not while something else than the wort's warmth moves it.
func (r *round) raise() {
	s, at := r.s, r.s.Recent[2]
	switch {
	case !s.Begun || !r.stated() || r.t.chilled():
		s.Ceiling, s.Above = at, 0
		return
	case s.Slow < unheated || s.Mixing > 0 || s.Count < 3:
		s.Ceiling = max(s.Ceiling, at) // not by this heat: a probe that was put back, a hose that fills
	}
	if r.t.Applied == unit.On {
		least := leastLoad * float64(s.Load)
		if s.Scene == still {
			least *= bedShare // what stands outside the bed is heated alone
		}
		s.Ceiling += unit.Celsius(float64(r.p.Power) * r.dt / least)
	}
	mixed := s.Blank == 0 || s.Scene == water && r.t.Open // behind the lift: what cold took there is soon made up
	if at < s.Ceiling && !r.t.Busy && s.Mixing == 0 && mixed && s.OutFor == 0 && !r.blind() {
		s.Ceiling -= (s.Ceiling - at) * unit.Celsius(min(r.dt/ceilingOver, 1))
	}
}

// blind tells that the probe sits where nothing flows past.
func (r *round) blind() bool {
	switch r.p.Place {
	case Return:
		return r.t.Pump == unit.Off && r.p.HasPump
	case Bed:
		return r.s.Scene == still
	case Outlet:
	}
	return false
}
