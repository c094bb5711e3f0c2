package interlock

import (
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
)

// ruleTests has one test a rule; SAFETY.md names them by the id.
var ruleTests = map[Rule]func(*testing.T){
	Stale:           staleCutsAndTripsAfterAMinute,
	Implausible:     implausibleCutsAndTripsAfterAMinute,
	OverTemperature: overTemperatureTripsOnTheFirstSample,
	NotArmed:        notArmedCuts,
	Empty:           emptyCutsBySwitchAndTripsByBalance,
	OnTooLong:       onTooLongTrips,
	TickLate:        tickLateCuts,
	NotHeating:      findingTrips(NotHeating),
	HeatingWhileOff: findingTrips(HeatingWhileOff),
	TooFast:         findingTrips(TooFast),
	ProbeOut:        probeOutCutsAndTripsAfterAMinute,
	ProbeStuck:      findingTrips(ProbeStuck),
	PumpStopped:     findingTrips(PumpStopped),
	EnergyBudget:    findingTrips(EnergyBudget),
}

func TestEachRule(t *testing.T) {
	for _, r := range Rules() {
		test, ok := ruleTests[r]
		if !ok {
			t.Errorf("rule %v has no test", r)
			continue
		}
		t.Run(r.String(), test)
	}
}

func staleCutsAndTripsAfterAMinute(t *testing.T) {
	w := ready(t)
	w.mute = true
	w.run(Fresh)
	w.want(unit.On, NoRule, NoRule)
	w.tick() // 6 s old
	w.want(unit.Off, Stale, NoRule)
	w.mute = false
	w.wantBack(QuietFor)

	w.mute = true
	w.run(Fresh + time.Second)
	since := w.f.Now
	w.run(TripAfter)
	w.want(unit.Off, Stale, NoRule)
	if w.v.Since != since {
		t.Errorf("the cut began at %v, want %v", w.v.Since, since)
	}
	w.tick()
	w.want(unit.Off, NoRule, Stale)
	w.clear()
	w.want(unit.Off, NoRule, Stale) // the cause is still there
	w.mute = false
	w.run(time.Hour)
	w.want(unit.Off, NoRule, Stale) // nothing but a person clears it
	w.clear()
	w.want(unit.On, NoRule, NoRule)
}

func TestIdleKettleWithoutAProbeIsNoTrip(t *testing.T) {
	w := &walk{t: t, mute: true} // zero limits, too: nothing is planned
	w.run(time.Hour)
	w.want(unit.Off, Stale, NoRule)
	w.l, w.f.Armed, w.f.Heats, w.f.Wanted = sampleLimits(), true, true, unit.On
	w.run(TripAfter)
	w.want(unit.Off, Stale, NoRule)
	w.tick()
	w.want(unit.Off, NoRule, Stale)
}

func implausibleCutsAndTripsAfterAMinute(t *testing.T) {
	w := ready(t)
	for _, bad := range []unit.Celsius{-127, coldest - lsb, hottest + lsb, 4095.9, unit.Celsius(math.NaN()), unit.Celsius(math.Inf(1)), unit.Celsius(math.Inf(-1))} {
		w.temp = bad
		w.tick()
		w.want(unit.Off, Implausible, NoRule)
		w.temp = 60
		w.wantBack(QuietFor)
	}
	w.temp = 127.9375
	w.run(TripAfter + time.Second)
	w.want(unit.Off, Implausible, NoRule)
	w.tick()
	w.want(unit.Off, Stale, Implausible) // by now there is no reading either
	w.temp = 60
	w.run(QuietFor)
	w.want(unit.Off, NoRule, Implausible)
	w.clear()
	w.want(unit.On, NoRule, NoRule)
}

func overTemperatureTripsOnTheFirstSample(t *testing.T) {
	for _, c := range []struct {
		stage Stage
		rig   unit.Celsius
		limit unit.Celsius
	}{{Mash, 0, 83}, {Lifted, 0, 102.9}, {Mash, 80, 80}, {Lifted, 102, 102}, {Mash, 104, 83}, {9, 0, 83}} {
		w := ready(t)
		w.f.Stage, w.l.Rig = c.stage, c.rig
		for w.temp < c.limit-lsb {
			w.temp = min(w.temp+1, c.limit-lsb)
			w.tick()
			w.want(unit.On, NoRule, NoRule)
		}
		w.temp = c.limit
		w.tick()
		w.want(unit.Off, NoRule, OverTemperature)
		w.clear()
		w.want(unit.Off, NoRule, OverTemperature) // still at the limit
		w.mute = true
		w.clear()
		w.want(unit.Off, NoRule, OverTemperature) // nothing shows that it fell
		w.mute, w.temp = false, c.limit-lsb
		w.run(time.Hour)
		w.want(unit.Off, NoRule, OverTemperature)
		w.clear()
		w.want(unit.On, NoRule, NoRule)
	}
}

func TestHotWaterInAnIdleKettleIsNoTrip(t *testing.T) {
	w := &walk{t: t, temp: 100}
	w.run(time.Minute)
	w.want(unit.Off, NoRule, NoRule)
	w.temp = HighestLimit
	w.tick()
	w.want(unit.Off, NoRule, OverTemperature)
}

func notArmedCuts(t *testing.T) {
	for name, take := range map[string]func(*Facts){
		"not armed": func(f *Facts) { f.Armed = false },
		"no batch":  func(f *Facts) { f.Heats = false },
	} {
		t.Run(name, func(t *testing.T) {
			w := ready(t)
			armed := w.f
			take(&w.f)
			w.tick()
			w.want(unit.Off, NotArmed, NoRule)
			w.run(time.Hour)
			w.want(unit.Off, NotArmed, NoRule)
			w.f.Armed, w.f.Heats = armed.Armed, armed.Heats
			w.wantBack(QuietFor)
			take(&w.f)
			w.f.Wanted = unit.Off
			w.tick()
			w.want(unit.Off, NoRule, NoRule) // nobody asked
		})
	}
}

func TestArmingRunsOut(t *testing.T) {
	w := ready(t)
	w.l.ArmedFor = time.Hour
	w.f.Wanted = unit.Off
	w.run(time.Hour - 21*time.Second) // armed since the first tick, at 1 s
	w.f.Wanted = unit.On
	w.tick()
	w.want(unit.On, NoRule, NoRule)
	w.tick()
	w.want(unit.Off, NotArmed, NoRule)
	w.run(time.Hour)
	w.want(unit.Off, NotArmed, NoRule)
	w.f.Armed = false
	w.tick()
	w.f.Armed = true // a person again
	w.wantBack(QuietFor)
}

func emptyCutsBySwitchAndTripsByBalance(t *testing.T) {
	for _, bad := range []Switch{Dry, 3, 255} {
		w := ready(t)
		w.f.EmptySwitch = bad
		w.tick()
		w.want(unit.Off, Empty, NoRule)
		w.run(time.Hour)
		w.want(unit.Off, Empty, NoRule)
		w.f.EmptySwitch = Filled
		w.wantBack(QuietFor)
		for i := range 120 { // foam: the float dances
			w.f.EmptySwitch = Filled + Switch(i%2)
			w.tick()
			w.want(unit.RelayOf(i == 0), w.v.Cut, NoRule)
		}
		w.f.EmptySwitch = Unknown
		w.wantBack(QuietFor)
	}

	w := boiling(t, 13.5) // 0.5 L above covered level + 1 L
	began := w.f.Now
	for w.v.Trip == NoRule {
		w.want(unit.On, NoRule, NoRule)
		w.tick()
	}
	w.want(unit.Off, NoRule, Empty)
	// 0.5 L of cold water need 0.5 x 0.9982 x 2256.47 kJ from 3000 - 560 W.
	due := time.Duration(math.Round(0.5*0.9982*2256.47e3/(3000-560*98.5/98.9))) * time.Second
	if got := w.f.Now - began; got < due-2*time.Second || got > due+2*time.Second {
		t.Errorf("tripped after %v, want %v", got, due)
	}
	w.clear()
	w.want(unit.Off, NoRule, Empty)
	w.f.Volume = 0 // a statement cannot be taken back
	w.clear()
	w.want(unit.Off, NoRule, Empty)
	w.f.Volume, w.f.Statement = 13.5, 1 // topped up to the same mark
	w.clear()
	w.want(unit.Off, Empty, NoRule)
	w.wantBack(QuietFor - time.Second)
}

func onTooLongTrips(t *testing.T) {
	for _, limit := range []time.Duration{10 * time.Minute, 90 * time.Minute, 5 * time.Hour} {
		w := &walk{t: t, l: sampleLimits(), temp: 60}
		w.l.OnLimit = limit
		w.f = Facts{Armed: true, Heats: true}
		w.run(20 * time.Second)
		w.f.Wanted = unit.On
		w.tick()
		began := w.f.Now
		for w.v.Trip == NoRule {
			w.want(unit.On, NoRule, NoRule)
			w.tick()
		}
		w.want(unit.Off, NoRule, OnTooLong)
		if got, want := w.f.Now-began, min(limit, LongestOn); got != want {
			t.Errorf("limit %v: heated for %v, want %v", limit, got, want)
		}
		w.f.Applied = unit.On // the line does not let go
		w.clear()
		w.want(unit.Off, NoRule, OnTooLong)
		w.clear()
		w.want(unit.On, NoRule, NoRule)
	}
}

func TestAPauseStartsTheCountOfHeatingAnew(t *testing.T) {
	w := ready(t)
	w.l.OnLimit = time.Minute
	for range 20 {
		w.f.Wanted = unit.Off
		w.tick()
		w.tick()
		w.f.Wanted = unit.On
		w.run(time.Minute)
		w.want(unit.On, NoRule, NoRule)
	}
}

func tickLateCuts(t *testing.T) {
	w := ready(t)
	w.after(LateAfter)
	w.want(unit.On, NoRule, NoRule)
	w.after(LateAfter + 1)
	w.want(unit.Off, TickLate, NoRule)
	w.wantBack(QuietFor)
	w.after(time.Hour)
	w.want(unit.Off, TickLate, NoRule)
}

func TestTimeThatDoesNotMoveOnIsRefused(t *testing.T) {
	for _, back := range []time.Duration{0, 1, time.Second, time.Hour, math.MaxInt64} {
		w := ready(t)
		before, now := w.g, w.f.Now
		w.f.Now -= back
		w.f.Clear = true
		w.judge()
		w.want(unit.Off, TickLate, NoRule)
		if w.g != before {
			t.Errorf("%v back: the guard has changed", back)
		}
		w.f.Now = now
		w.tick()
		w.want(unit.On, NoRule, NoRule)
	}
}

func findingTrips(r Rule) func(*testing.T) {
	return func(t *testing.T) {
		w := ready(t)
		w.f.Finding = r
		w.tick()
		w.want(unit.Off, NoRule, r)
		w.clear()
		w.want(unit.Off, NoRule, r)
		w.f.Finding = NoRule
		w.run(time.Hour)
		w.want(unit.Off, NoRule, r)
		w.clear()
		w.want(unit.On, NoRule, NoRule)
	}
}

func probeOutCutsAndTripsAfterAMinute(t *testing.T) {
	w := ready(t)
	w.f.Finding = ProbeOut
	w.tick()
	w.want(unit.Off, ProbeOut, NoRule)
	w.run(TripAfter)
	w.want(unit.Off, ProbeOut, NoRule)
	w.f.Finding = NoRule
	w.wantBack(QuietFor)
	w.f.Finding = ProbeOut
	w.run(TripAfter + 2*time.Second)
	w.want(unit.Off, NoRule, ProbeOut)
}

func TestFindingThatMakesNoSenseIsImplausible(t *testing.T) {
	for _, odd := range []Rule{Stale, OverTemperature, TickLate, ruleEnd, 255} {
		w := ready(t)
		w.f.Finding = odd
		w.tick()
		w.want(unit.Off, Implausible, NoRule)
	}
}

func TestEveryTripMustBeClearedAndTheOldestIsNamed(t *testing.T) {
	w := ready(t)
	w.f.Finding = TooFast
	w.tick()
	first := w.f.Now
	w.f.Finding = NotHeating
	w.tick()
	w.want(unit.Off, NoRule, TooFast)
	if w.v.Since != first {
		t.Errorf("since %v, want %v", w.v.Since, first)
	}
	w.clear() // not-heating is still found
	w.want(unit.Off, NoRule, NotHeating)
	w.f.Finding = NoRule
	w.clear()
	w.want(unit.On, NoRule, NoRule)
}

func TestWithoutAnyReadingNothingIsTooHot(t *testing.T) {
	w := &walk{t: t, mute: true}
	w.f.Armed = true
	w.run(time.Minute)
	w.want(unit.Off, Stale, NoRule)
}

func TestAMarkOfNoKnownStateIsATrip(t *testing.T) {
	w := ready(t)
	w.g.Marks[TooFast].State = 200
	w.run(time.Minute)
	w.want(unit.Off, NoRule, TooFast)
	w.g = w.g.Restarted()
	w.f.Now = 0
	w.run(time.Minute)
	w.want(unit.Off, NoRule, TooFast)
}

func TestRuleNamesAreUniqueAndKnown(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range Rules() {
		if r == NoRule || seen[r.String()] || r.String() == "" {
			t.Errorf("rule %d: id %q is taken or missing", r, r)
		}
		seen[r.String()] = true
	}
	if len(seen) != 14 || NoRule.String() != "none" || Rule(200).String() != "unknown rule" {
		t.Errorf("%d ids, NoRule is %q", len(seen), NoRule)
	}
}
