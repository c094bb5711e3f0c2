package modulate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"mashward/controller/unit"
)

const (
	tick = time.Second
	hour = 3600 // ticks
)

// deliver is the mean duty over the given ticks, and how often the relay closed.
func deliver(s *State, kind Kind, duty unit.Duty, ticks int) (mean float64, closings int) {
	on := 0
	for range ticks {
		before := s.Relay
		var relay unit.Relay
		*s, relay = Step(*s, kind, duty, tick)
		if relay == unit.On {
			on++
			if before == unit.Off {
				closings++
			}
		}
	}
	return float64(on) / float64(ticks), closings
}

func TestASolidStateRelayDeliversTheDutyWithinOneTickAtEveryInstant(t *testing.T) {
	for percent := 1; percent <= 100; percent++ {
		duty := unit.Duty(float64(percent) / 100)
		s, on := State{}, 0
		for n := 1; n <= 600; n++ {
			var relay unit.Relay
			s, relay = Step(s, SolidState, duty, tick)
			on += int(relay)
			if owed := float64(duty)*float64(n) - float64(on); math.Abs(owed) > 0.5+1e-9 {
				t.Fatalf("duty %d %%: %.2f s of heat owed after %d s, want at most half a tick", percent, owed, n)
			}
		}
	}
}

func TestASolidStateRelayFollowsADutyThatMoves(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for run := range 50 {
		s, asked, given := State{}, 0.0, 0.0
		for range 1000 {
			duty := unit.Duty(0.001 + 0.999*random.Float64()) // never 0: that forgets
			dt := time.Duration(500+random.IntN(1000)) * time.Millisecond
			var relay unit.Relay
			s, relay = Step(s, SolidState, duty, dt)
			asked += float64(duty) * dt.Seconds()
			if relay == unit.On {
				given += dt.Seconds()
			}
		}
		if miss := asked - given; math.Abs(miss) > 0.75+1e-9 {
			t.Errorf("run %d: %.2f s of heat owed after 1000 uneven ticks, want at most half of the longest", run, miss)
		}
	}
}

func TestAMechanicalRelayDeliversEveryDutyOverTenMinutes(t *testing.T) {
	for percent := 1; percent <= 100; percent++ {
		duty := unit.Duty(float64(percent) / 100)
		s := State{}
		deliver(&s, Mechanical, duty, 600) // from a cold start to its rhythm
		mean, _ := deliver(&s, Mechanical, duty, 600)
		// One shortest pulse more or less at either end of ten minutes.
		if miss := math.Abs(mean - float64(duty)); miss > 2*MinOn.Seconds()/600 {
			t.Errorf("duty %d %%: mean %.4f", percent, mean)
		}
	}
}

func TestAMechanicalRelayClosesAtMost180TimesInAnyHour(t *testing.T) {
	most := 0
	for permille := 1; permille <= 1000; permille++ {
		s := State{}
		_, closings := deliver(&s, Mechanical, unit.Duty(float64(permille)/1000), hour)
		most = max(most, closings)
		if closings > 180 {
			t.Errorf("duty %.1f %%: %d closings in an hour", float64(permille)/10, closings)
		}
	}
	if most < 100 {
		t.Errorf("at most %d closings at any duty: the limit was never near", most)
	}
}

// wild is a duty that a hostile loop might ask for: steady for a while, nothing
// for a while, jumping, not a number.
func wild(random *rand.Rand) func() unit.Duty {
	duty, left := unit.Duty(0), 0
	return func() unit.Duty {
		if left == 0 {
			left = 1 + random.IntN(40)
			duty = [...]unit.Duty{
				0, 1, unit.Duty(random.Float64()), unit.Duty(random.Float64() / 10),
				unit.Duty(math.NaN()), -1, 2,
			}[random.IntN(7)]
		}
		left--
		return duty
	}
}

func TestAMechanicalRelayIsSparedWhateverIsAskedOfIt(t *testing.T) {
	for seed := range uint64(200) {
		if err := spare(seed, 2*hour); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
	}
}

// spare drives a relay wildly and watches its minimum times and its closings.
func spare(seed uint64, ticks int) error {
	next := wild(rand.New(rand.NewPCG(seed, 3)))
	s, on := State{}, false
	inState := 0
	var closed []int
	for n := range ticks {
		duty := next()
		var relay unit.Relay
		s, relay = Step(s, Mechanical, duty, tick)
		if (relay == unit.On) == on {
			inState++
			continue
		}
		switch {
		case !on && inState < 4:
			return fmt.Errorf("closed after %d s off at %d s", inState, n)
		case on && inState < 4 && duty.Clamp() > 0:
			return fmt.Errorf("opened after %d s on at %d s at duty %v", inState, n, duty)
		case !on:
			closed = append(closed, n)
		}
		on, inState = !on, 1
		if first := len(closed) - 181; first >= 0 && closed[len(closed)-1]-closed[first] < hour {
			return fmt.Errorf("181 closings between %d s and %d s", closed[first], n)
		}
	}
	if len(closed) < ticks/200 {
		return fmt.Errorf("closed only %d times: nothing was tried", len(closed))
	}
	return nil
}

// hostile asks for off just after each closing and for full heat after that:
// the fastest a loop can wear a relay.
func TestAMechanicalRelayIsSparedByALoopThatWorksAgainstIt(t *testing.T) {
	for hold := 1; hold <= 30; hold++ {
		s, since := State{}, 0
		var closed []int
		for n := range 3 * hour {
			duty := unit.Duty(1)
			if s.Relay == unit.On && since >= hold {
				duty = 0
			}
			before := s.Relay
			s, _ = Step(s, Mechanical, duty, tick)
			since++
			if before == unit.Off && s.Relay == unit.On {
				closed, since = append(closed, n), 0
			}
			if first := len(closed) - 181; first >= 0 && closed[len(closed)-1]-closed[first] < hour {
				t.Errorf("held %d s each: 181 closings between %d s and %d s", hold, closed[first], n)
				break
			}
		}
	}
}

func TestADutyOfZeroSwitchesOffAtOnce(t *testing.T) {
	for _, kind := range []Kind{Mechanical, SolidState} {
		for _, duty := range []unit.Duty{0, -0.5, unit.Duty(math.NaN())} {
			for on := 1; on < 30; on++ {
				s := State{}
				for s.Relay == unit.Off {
					s, _ = Step(s, kind, 1, tick)
				}
				for range on - 1 {
					s, _ = Step(s, kind, 1, tick)
				}
				after, relay := Step(s, kind, duty, tick)
				if relay != unit.Off || after.Relay != unit.Off {
					t.Errorf("%v, duty %v, %d s after closing: still on", kind, duty, on)
				}
			}
		}
	}
}

func TestTimeThatDoesNotPassIsOff(t *testing.T) {
	for _, kind := range []Kind{Mechanical, SolidState} {
		s := State{}
		for s.Relay == unit.Off {
			s, _ = Step(s, kind, 1, tick)
		}
		for _, dt := range []time.Duration{0, -tick} {
			if _, relay := Step(s, kind, 1, dt); relay != unit.Off {
				t.Errorf("%v, dt %v: on", kind, dt)
			}
		}
	}
}

func TestFullDutyIsOnWithoutABreak(t *testing.T) {
	for _, kind := range []Kind{Mechanical, SolidState} {
		s := State{}
		deliver(&s, kind, 1, 30)
		if mean, closings := deliver(&s, kind, 1, hour); mean != 1 || closings != 0 {
			t.Errorf("%v: mean %v with %d closings at full duty", kind, mean, closings)
		}
	}
}

func TestWhatWasNotDeliveredBeforeAnOffIsNotMadeUpForAfterIt(t *testing.T) {
	for _, kind := range []Kind{Mechanical, SolidState} {
		s := State{}
		deliver(&s, kind, 0.09, 5)
		s, _ = Step(s, kind, 0, tick)
		if s.Carry != 0 {
			t.Errorf("%v: %v s of heat owed over an off", kind, s.Carry)
		}
	}
}

func TestAKindOfRelayThatWasForgottenIsTheGentleOne(t *testing.T) {
	var kind Kind
	if kind.String() != "mechanical" || SolidState.String() != "solid-state" {
		t.Errorf("zero kind is %q", kind)
	}
}

// TestALateTickIsNoTimeInTheNewState: what passed before a change does not count
// as time after it.
func TestALateTickIsNoTimeInTheNewState(t *testing.T) {
	s, relay := State{}, unit.Off
	for range 40 {
		s, relay = Step(s, Mechanical, 1, tick)
	}
	if relay != unit.On {
		t.Fatal("not on at full duty")
	}
	s, _ = Step(s, Mechanical, 0, MinOn+tick) // the loop was away, and heat ends
	for n := 1; n < 4; n++ {
		if s, relay = Step(s, Mechanical, 1, tick); relay == unit.On {
			t.Fatalf("closed after %d s off", n)
		}
	}
	if _, relay = Step(s, Mechanical, 1, tick); relay != unit.On {
		t.Error("still open after 4 s")
	}
}
