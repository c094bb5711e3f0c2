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
