package verify

import (
	"testing"
	"time"

	"mashward/controller/unit"
)

// rinsed is a kettle behind its batch: one mass of water, and a wall that keeps its heat.
type rinsed struct {
	*rig
	mass float64 // J/K of water
	wall float64 // °C
}

func over() *rinsed {
	r := &rinsed{rig: start(30), mass: mashLoad, wall: 30}
	r.tick.Over, r.tick.Open, r.tick.Bed, r.tick.Pump = true, true, false, unit.Off
	return r.let(600, 0)
}

// let lets seconds pass with so much of full power that nobody switched on.
func (r *rinsed) let(seconds int, real float64) *rinsed {
	const metal, through = 4e3, 40.0 // J/K, W/K
	for range seconds {
		into := 3000*real + through*(r.wall-r.water) - 3*(r.water-18)
		r.wall += (through*(r.water-r.wall) - 4*(r.wall-18)) / metal
		r.water = min(r.water+into/r.mass, 100)
		r.read += (r.water - r.read) / 12
		r.step(unit.Off, r.read+0.04*r.noise.NormFloat64())
		if r.found.Kind == ProbeOut { // what runs out looks like it, and is no trip while nothing is armed
			r.found = Finding{}
		}
	}
	return r
}

// runsOut leaves a litre in it; pours puts water in.
func (r *rinsed) runsOut() *rinsed { r.mass = 4.2e3; return r.let(300, 0) }

func (r *rinsed) pours(mass, at float64) *rinsed {
	r.water = (r.water*r.mass + at*mass) / (r.mass + mass)
	r.mass += mass
	return r.let(300, 0)
}

// Behind a batch the kettle is let out, rinsed with hot water and with cold, and warms
// up to the room.
func TestAKettleThatIsRinsedBehindItsBatchHeatsNothing(t *testing.T) {
	r := over().runsOut().pours(8e4, 75).runsOut().pours(4e4, 12).runsOut().pours(1e4, 95).runsOut().pours(8e4, 8).let(300, 0)
	r.mass = 1.5e4
	for range 360 {
		r.wall = 18 // above the litres that are left it is as warm as the room
		r.let(10, 0)
	}
	if r.found.Kind != Nothing {
		t.Errorf("found %v at %v, expected %.0f, measured %.0f", r.found.Kind, r.at, r.found.Expected, r.found.Measured)
	}
	if r.read < 15 || r.read > 19 {
		t.Errorf("it reads %.1f °C in the end; it was to warm up to the room", r.read)
	}
}

// A relay that welds is found there all the same: in a kettle that is full, rinsed, or
// holds a litre; in one that is colder than the room not before it is warmer.
func TestARelayThatWeldedBehindTheBatchIsFound(t *testing.T) {
	for name, c := range map[string]struct {
		of     *rinsed
		within time.Duration
	}{
		"full":                 {over(), 90 * time.Second},
		"a litre":              {over().runsOut(), leapBlank + 30*time.Second},
		"rinsed with hot":      {over().runsOut().pours(8e4, 60), 90 * time.Second},
		"rinsed with cold":     {over().runsOut().pours(8e4, 12), 9 * time.Minute},
		"a litre of cold":      {over().runsOut().pours(4e4, 10).runsOut(), leapBlank + 30*time.Second},
		"a litre and its cold": {over().runsOut().pours(8e4, 12).runsOut().pours(4e3, 8), leapBlank + 30*time.Second},
	} {
		since := c.of.now
		c.of.let(900, 1)
		t.Logf("%s: %v after %v", name, c.of.found.Kind, c.of.at-since)
		if c.of.found.Kind != HeatingWhileOff || c.of.at-since > c.within {
			t.Errorf("%s: found %v after %v; want %v within %v", name, c.of.found.Kind, c.of.at-since, HeatingWhileOff, c.within)
		}
	}
}
