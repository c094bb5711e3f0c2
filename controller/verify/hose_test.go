package verify

import (
	"testing"
	"time"

	"mashward/controller/unit"
)

// A hose in which nothing flows warms towards the room by itself: from 9 to 24 °C with
// a time constant of 2300 s at first as fast as 33 L that get half of 2 kW. Elsewhere
// half of the power is a warning; of such a reading nothing can be said.
func TestAHoseThatTheRoomWarmsIsNoHalfOfThePower(t *testing.T) {
	for name, one := range map[string]struct {
		from float64
		kind Kind
		half bool
	}{"colder than the room": {9, NotHeating, false}, "warm water that gets half": {40, Nothing, true}} {
		t.Run(name, func(t *testing.T) {
			r := start(one.from)
			r.v.Params.Place, r.v.Params.Room, r.v.Params.Power = Return, 24, 2000
			r.tick.Bed, r.tick.Load = false, 1.45e5
			rate := (24 - 9) / 2300.0 // K/s
			r.repeat(one.from, 60)
			since := r.now
			for range 900 {
				if r.read += rate; r.found.Kind != Nothing || r.s.Half {
					break
				}
				if one.from < 24 {
					rate = (24 - r.read) / 2300
				}
				r.step(unit.On, r.read)
			}
			if r.want(t, one.kind, 5*time.Minute, since); r.s.Half != one.half {
				t.Errorf("warning %v, want %v", r.s.Half, one.half)
			}
		})
	}
}

// A hose that had been seen to hang in the air does so still after a new start or a
// late tick, whose pump stands at first: nothing is found while nothing flows, and
// what flows then shows whether it is back.
func TestAHoseInTheAirStaysOutUntilWhatFlowsShowsThatItIsBack(t *testing.T) {
	for name, one := range map[string]struct {
		to   float64 // °C, of what flows
		kind Kind
	}{"still out": {18.5, ProbeOut}, "back in the wort": {61, Nothing}} {
		for begins, begin := range map[string]func(*rig){
			"a late tick": func(r *rig) { r.now += 20 * time.Second },
			"a new start": func(r *rig) { r.s, r.now = r.s.Restarted(), 0 },
		} {
			r := start(63)
			r.v.Params.Place = Return
			r.hold(900)
			if r.fall(63, 18, 25, 60); r.found.Kind != ProbeOut {
				t.Fatal(r.found)
			}
			begin(r)
			r.tick.Pump, r.found = unit.Off, Finding{}
			r.s.Held = 0
			for range 300 {
				r.step(unit.Off, 22)
			}
			if r.found.Kind != Nothing {
				t.Errorf("%s, %s: %v with the pump off", name, begins, r.found.Kind)
			}
			r.tick.Pump = unit.On
			r.fall(22, one.to, 10, 60) // the hose fills
			r.found = Finding{}
			r.repeat(one.to, 120)
			if r.found.Kind != one.kind || (r.s.standing().Kind == ProbeOut) != (one.kind == ProbeOut) {
				t.Errorf("%s, %s: %v, %v; want %v", name, begins, r.found.Kind, r.s.standing().Kind, one.kind)
			}
		}
	}
}

// What reads well below the room hangs in no air: a probe that was put back into cold
// water has come from the air, not into it.
func TestAProbePutBackIntoColdWaterIsNotOut(t *testing.T) {
	r := start(17.5)
	r.tick.Bed = false
	r.repeat(17.5, 60)
	r.fall(17.5, 9.5, 8, 40)
	since := r.now
	for range 60 {
		if r.step(unit.Off, 9.5); r.s.standing().Kind != ProbeOut {
			break
		}
	}
	if r.found.Kind != ProbeOut || r.now-since > 30*time.Second {
		t.Errorf("found %v; out for %v more; want the fall found and ended within 30 s", r.found.Kind, r.now-since)
	}
}

// A probe that lies on the element is hot and stays so; what spikes again and again is
// down by the next reading.
func TestSpikesAreNoProbeOnTheElement(t *testing.T) {
	for name, one := range map[string]struct {
		last float64 // K above the wort, the newest reading
		kind Kind
	}{"down again": {0, Nothing}, "still up": {20, TooFast}} {
		r := start(63).hold(900)
		for _, above := range []float64{20, 20, 0, 20, 20, one.last} {
			r.step(unit.Off, 63+above)
		}
		if r.found.Kind != one.kind {
			t.Errorf("%s: found %v, want %v", name, r.found.Kind, one.kind)
		}
	}
}
