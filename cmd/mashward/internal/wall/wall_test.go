package wall

import (
	"testing"
	"testing/synctest"
	"time"
)

// TestNoDriftBuildsUp: work of any length between two ticks, as long as it
// fits, leaves the tenth tick where ten periods put it.
func TestNoDriftBuildsUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var p Pace
		start := time.Now()
		for range 10 {
			p.Wait(1)
			<-time.After(300 * time.Millisecond) // the tick's work
		}
		if took := time.Since(start); took != 10*time.Second+300*time.Millisecond {
			t.Errorf("ten ticks and the last one's work took %v; want 10.3 s", took)
		}
		if p.Missed() != 0 {
			t.Errorf("%d ticks missed; want none", p.Missed())
		}
	})
}

// TestAwayIsNotCaughtUpInABunch: after half a minute away the missed ticks are
// counted, and the next one waits its second.
func TestAwayIsNotCaughtUpInABunch(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var p Pace
		p.Wait(1)
		<-time.After(30 * time.Second)
		back := time.Now()
		p.Wait(1)
		if took := time.Since(back); took != time.Second || p.Missed() != 30 {
			t.Errorf("waited %v with %d missed; want 1 s and 30", took, p.Missed())
		}
	})
}

// TestNoSpeedDoesNotWait: zero and less mean as fast as can be.
func TestNoSpeedDoesNotWait(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var p Pace
		start := time.Now()
		p.Wait(0)
		p.Wait(-1)
		if took := time.Since(start); took != 0 {
			t.Errorf("waited %v; want none", took)
		}
	})
}

// TestLatenessCountsUpToEachBound: the counts are cumulative, a bound holds
// what equals it, and what is beyond the last is in the total alone.
func TestLatenessCountsUpToEachBound(t *testing.T) {
	var l Lateness
	for _, d := range []time.Duration{0, time.Millisecond, 15 * time.Millisecond, 4 * time.Second} {
		l.add(d)
	}
	ticks, within, sum := l.Read()
	if ticks != 4 || within[0.001] != 2 || within[0.01] != 2 || within[0.02] != 3 || within[3] != 3 {
		t.Errorf("%d ticks, within %v; want 4, and 2, 2, 3, 3 within 0.001, 0.01, 0.02, 3 s", ticks, within)
	}
	if sum != 4.016 {
		t.Errorf("late by %v s in all; want 4.016", sum)
	}
}
