package verify

import (
	"testing"
	"time"

	"mashward/controller/unit"
)

// coldIn pours so many joules per kelvin at 12 °C into the wort outside the bed.
func (r *rig) coldIn(c float64) {
	const c1 = bedShare * mashLoad
	fell := c * (r.out - 12) / (c1 + c)
	r.out -= fell
	r.water -= fell * c1 / mashLoad
}

// Cold water is no fault when a person tells of it, two minutes before or after:
// 5 L in 26, which nobody would believe of an element.
func TestColdWaterThatIsToldOfIsNoFault(t *testing.T) {
	for _, late := range []int{0, 120, -120} {
		r := start(63).hold(1200)
		tell := func() {
			r.tick.Load += 20.9e3
			r.tick.Told = true
			r.hold(1)
			r.tick.Told = false
		}
		if late < 0 {
			tell()
			r.hold(-late)
		}
		r.coldIn(20.9e3)
		if late >= 0 {
			r.hold(late)
			tell()
		}
		for r.water < 62.9 { // the law heats it up again
			r.pass(1, unit.On, 1)
		}
		r.hold(1200)
		if k := r.found.Kind; k == NotHeating || k == TooFast || k == PumpStopped || k == EnergyBudget {
			t.Errorf("told %+d s after: found %v at %v", late, k, r.at)
		}
	}
}

// A probe that leaves the wort just when a word has been said is found all the same,
// and stays found.
func TestAProbeThatComesOutUnderAWordIsFound(t *testing.T) {
	r := start(63).hold(1200)
	r.tick.Load += 8e3
	r.tick.Told = true
	r.hold(1)
	r.tick.Told = false
	from, standing, air := r.now, 0, r.read
	for range 120 {
		air += (18 - air) / 12 // a thin probe: it has stopped falling within a minute
		r.step(unit.On, air+0.04*r.noise.NormFloat64())
		if r.s.standing().Kind == ProbeOut {
			standing++
		}
	}
	r.want(t, ProbeOut, 30*time.Second, from)
	if most := 120 - int((r.at - from).Seconds()); standing < most {
		t.Errorf("it stood for %d s of %d", standing, most)
	}
}

// Water that trickles in during a heat-up, 5 L over four minutes, looks like an
// element that fails, and nothing else tells it from one: but the word of a person.
func TestATrickleInAHeatUpIsNoFaultWhereItIsToldOf(t *testing.T) {
	for _, told := range []bool{false, true} {
		r := start(50).pass(600, unit.On, 1)
		from := r.now
		r.tick.Told = told
		if told {
			r.tick.Load += 20.9e3
		}
		for range 240 {
			r.coldIn(20.9e3 / 240)
			r.pass(1, unit.On, 1)
			r.tick.Told = false
		}
		r.pass(600, unit.On, 1)
		if told && r.found.Kind != Nothing {
			t.Errorf("told: found %v", r.found.Kind)
		}
		if !told {
			r.want(t, NotHeating, 4*time.Minute, from)
		}
	}
}

// A person who tells something every minute, true or not, does not put the watch
// to sleep: an element that opens is found in the time that one word may cost.
func TestWhoTellsEveryMinuteDoesNotStopTheWatch(t *testing.T) {
	r := start(50).pass(600, unit.On, 1)
	from := r.now
	for i := range 900 {
		r.tick.Told = i%60 == 0
		if r.tick.Told {
			r.tick.Load += 100 // and it is another load each time
		}
		r.pass(1, unit.On, 0)
	}
	r.want(t, NotHeating, flowBlank+150*time.Second, from)
}
