package sim

import (
	"testing"
	"time"

	"mashward/controller/unit"
)

// mashing is the yard kettle in the middle of a mash, settled at a temperature.
func mashing(at unit.Celsius) *Plant {
	par, load := yard()
	p := New(par, load, 1)
	p.Warm(at)
	p.Do(Event{Kind: GrainIn})
	p.Warm(at)
	for range 1800 {
		p.second(p.losing(unit.On), unit.On)
	}
	return p
}

func TestOffsetIsWhatHoldingTheProbePlaceLeavesInTheMash(t *testing.T) {
	for _, at := range []Place{Outlet, Return, Bed} {
		p := mashing(60)
		p.par.Probe.Place = at
		offset := Offset(p, 66)
		// Held by hand, in small steps of power, until nothing moves.
		q := p.Clone()
		watts := 0.0
		for range 6 * 3600 {
			watts += (66 - q.x[placeNode(at)]) * 0.15
			q.second(max(0, watts+(66-q.x[placeNode(at)])*300), unit.On)
		}
		held := q.Truth()
		if off := held.ProbePlace - 66; off > 0.001 || off < -0.001 {
			t.Fatalf("%v: held at %.4f °C instead of 66", at, held.ProbePlace)
		}
		if got := held.Mash.Minus(held.ProbePlace); got-offset > 0.001 || offset-got > 0.001 {
			t.Errorf("%v: offset %.4f K, the held kettle has %.4f K", at, offset, got)
		}
		t.Logf("%v: offset %.4f K", at, offset)
	}
}

func TestLimitIsTheLatestSecondThatDoesNotPeakOver(t *testing.T) {
	p := mashing(63)
	limit, ok := Limit(p, 71, 0.1, 0)
	if !ok {
		t.Fatal("no limit for an easy heat-up")
	}
	// Every second tried in turn, without any of the search's short cuts.
	tryOff := func(off int) (peak unit.Celsius, reached int) {
		q := p.Clone()
		reached = -1
		for s := 0; s < off+900; s++ {
			if reached < 0 && q.Mash() >= 71.1-0.3 {
				reached = s
			}
			q.Advance(unit.RelayOf(s < off), unit.On)
			peak = max(peak, q.Mash())
		}
		return peak, reached
	}
	off := 0
	for peak, _ := tryOff(off + 64); peak <= 71.12; peak, _ = tryOff(off + 64) {
		off += 64
	}
	for peak, _ := tryOff(off + 1); peak <= 71.12; peak, _ = tryOff(off + 1) {
		off++
	}
	h := heatUp{goal: 71.1, start: p.Mash()}
	if found, _ := h.latestOff(p); found != off {
		t.Errorf("heat off after %d s, trying every second gives %d s", found, off)
	}
	_, reached := tryOff(off)
	if want := time.Duration(reached) * time.Second; limit != want {
		t.Errorf("limit %v, trying every second gives %v", limit, want)
	}
}

func TestLimitUnderARampCeilingFollowsIt(t *testing.T) {
	p := mashing(63)
	free, _ := Limit(p, 71, 0, 0)
	ramp := unit.KelvinPerSecond(0.5 / 60)
	slow, ok := Limit(p, 71, 0, ramp)
	// 8 K less 0.3 K at 0.5 K/min are 924 s.
	if !ok || slow < 920*time.Second || slow > 950*time.Second {
		t.Errorf("at 0.5 K/min reached after %v, want about 924 s", slow)
	}
	fast, _ := Limit(p, 71, 0, 1)
	if fast != free {
		t.Errorf("a ceiling no element can reach changes the limit from %v to %v", free, fast)
	}
}

func TestThereIsNoLimitWhereThereIsNothingToReach(t *testing.T) {
	p := mashing(63)
	if _, ok := Limit(p, 63.2, 0, 0); ok {
		t.Error("a limit for a start within 0.3 K")
	}
	if _, ok := Limit(p, 60, 0, 0); ok {
		t.Error("a limit for cooling")
	}
	if _, ok := Limit(p, 103, 0, 0); ok {
		t.Error("a limit above the boiling point")
	}
}

func BenchmarkLimitAndOffset(b *testing.B) {
	p := mashing(63)
	for b.Loop() {
		offset := Offset(p, 71)
		Limit(p, 71, offset, 0)
	}
}
