package verify

import (
	"math"

	"mashward/controller/unit"
)

// At the boil heat that is given leaves as steam, and the temperature stands whatever
// comes: the sums say nothing there. What can be seen is a fall, where there should
// be none, and none, where there has to be one. Both are judged over some minutes.
//
// A relay that welds while a part of the power is wanted shows in neither: there is
// more steam. It is found when nothing is wanted any more.
const (
	courseStep  = 30.0 // s between two points of the course
	courseOver  = 20.0 // s, of the reading's average
	sinkFor     = 5    // points that a fall is judged over: two and a half minutes
	standFor    = 6    // and at least that it does not fall
	atBoil      = 6.0  // K: so far below the boiling point a kettle may boil, by its probe and the weather
	leastHeat   = 0.15 // below this share nothing can be said
	leastStated = 0.85 // of the declared power is there at least
	mostStood   = 1.1  // of what a kettle stood at it may lose now
	alike       = 1.3  // much more is given now: something else has changed too
	standing    = 0.1  // K over those minutes
	leastFall   = 0.3  // K
	leastLoss   = 0.5  // of the declared loss is there at least, lid off
	stillBoils  = 2.4  // K: a kettle that is kept further below the boil rises and falls by itself
	steadyShare = 0.7  // of it falls from each point to the next, and
	goesOn      = 0.6  // of the two falls before: what is lost goes on, what only evens out comes to rest

	standsLoss  = 0.3 // of the declared loss: what falls by less does not fall
	standsLeast = 0.3 // K that the declared loss makes over the span
)

// courseSize is how many points of the course are kept.
const courseSize = 12

// Course is how the reading went over the last minutes, near the boil.
type Course struct {
	Mild   unit.Celsius        // the reading, smoothed
	Points [courseSize]float32 // °C
	Given  [courseSize]float32 // share of full power, the least up to each point
	Least  float64             // and since the newest point
	At     uint8
	Filled uint8
	Since  float64 // s since the newest point
	Off    float64 // s since heat was given last
	LidOff bool
	Stood  float64 // share of full power at which it stood last; 0: it has not
}

// back is the point of so many points ago.
func (c *Course) back(ago int) float64 {
	return float64(c.Points[(int(c.At)+courseSize-ago)%courseSize])
}

// followBoil carries the course on. It begins anew wherever something else than heat
// moves the reading.
func (r *round) followBoil() {
	s, c := r.s, &r.s.Course
	if r.t.Applied == unit.On {
		c.Off = 0
	} else {
		c.Off += r.dt
	}
	away := s.Count < 3 || s.Recent[2] < r.p.Boiling-2*atBoil || r.t.Load <= 0
	if away || c.LidOff != r.t.LidOff || r.t.Busy || r.t.Bed || r.t.chilled() || r.t.Told || r.blind() || s.OutFor > 0 || s.Mixing > 0 || r.dt > longestGap.Seconds() {
		*c = Course{Off: c.Off, LidOff: r.t.LidOff}
		return
	}
	if c.Least = min(c.Least, s.Due); c.Mild == 0 {
		c.Least = s.Due
	}
	if !r.has {
		c.Since += r.dt
		return
	}
	if c.Mild == 0 {
		c.Mild = r.value
	}
	c.Mild += (r.value - c.Mild) * unit.Celsius(min(r.dt/courseOver, 1))
	if c.Since += r.dt; c.Since >= courseStep {
		c.Since = 0
		c.At = (c.At + 1) % courseSize
		c.Points[c.At], c.Given[c.At] = float32(c.Mild), float32(c.Least)
		c.Least = s.Due
		c.Filled = min(c.Filled+1, courseSize)
		r.seeSink()
		r.seeStand()
	}
}

// seeSink finds a boil that sinks although it is heated: faster than the largest loss
// less what was given can make it.
func (r *round) seeSink() {
	s, c := r.s, &r.s.Course
	if c.Filled <= sinkFor || c.back(sinkFor) < float64(r.p.Boiling)-stillBoils {
		return
	}
	given := min(s.Due, s.Slow)
	for i := range sinkFor {
		given = min(given, float64(c.Given[(int(c.At)+courseSize-i)%courseSize]))
	}
	if given < leastHeat {
		return
	}
	at, fall := unit.Celsius(c.back(0)), c.back(sinkFor)-c.back(0)
	power, loss := float64(r.p.Power), float64(r.p.Loss)*float64(at-r.p.Room)
	most := (1+wrongLoss)*loss + r.p.openLoss(at) - leastStated*given*power
	if given <= alike*c.Stood { // it lost no more than that a while ago, and was warmer
		most = min(most, (mostStood*c.Stood-leastStated*given)*power)
	}
	perWatt := sinkFor * courseStep / float64(r.t.Load)
	least := max(leastFall, max(leastLoss*loss, most)*perWatt)
	if math.Abs(fall) < standing {
		c.Stood = given
	}
	if fall < least || !c.goesOn(least) {
		return
	}
	seen := loss + r.p.openLoss(at)/2 - fall/perWatt
	r.find(NotHeating, OfPower, given*power, max(seen, 0))
	r.restart(firstBlank)
	*c = Course{Off: c.Off, LidOff: c.LidOff}
}

// goesOn tells that a fall of at least so much goes on evenly.
func (c *Course) goesOn(least float64) bool {
	step := func(ago int) float64 { return c.back(ago+1) - c.back(ago) }
	for i := range sinkFor {
		if step(i) < steadyShare*least/sinkFor {
			return false
		}
	}
	return step(0) >= goesOn*(step(1)+step(2))/2
}

// seeStand finds a kettle that stays at the boil with nothing switched on.
func (r *round) seeStand() {
	c := &r.s.Course
	loss := float64(r.p.Loss) * (c.back(0) - float64(r.p.Room))
	for span := standFor; span < courseSize; span++ {
		seconds := float64(span) * courseStep
		if int(c.Filled) <= span || c.Off < seconds+2*courseOver {
			return
		}
		makes := loss * seconds / float64(r.t.Load)
		if makes < standsLeast {
			continue
		}
		if c.back(span)-c.back(0) < standsLoss*makes && c.back(0) >= float64(r.p.Boiling)-atBoil {
			r.find(HeatingWhileOff, OfPower, 0, loss)
			r.restart(firstBlank)
		}
		return
	}
}
