package interlock

import (
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

func TestAgeIsJudgedToTheNanosecond(t *testing.T) {
	for _, c := range []struct {
		taken time.Duration // before now
		want  unit.Relay
	}{{0, unit.On}, {Fresh - 1, unit.On}, {Fresh, unit.On}, {Fresh + 1, unit.Off}} {
		w := ready(t)
		w.g.Last.Taken = w.f.Now + time.Second - c.taken
		w.mute = true
		w.tick()
		if w.v.Permitted != c.want {
			t.Errorf("reading %v old: permitted %v, want %v", c.taken, w.v.Permitted, c.want)
		}
	}
}

func TestReadingFromTheFutureAgesLikeAMissingOne(t *testing.T) {
	w := ready(t)
	for i := range 6 {
		w.f.Now += time.Second
		w.f.Reading = sensors.Reading{Value: 60, Taken: w.f.Now + 1, Fault: sensors.None}
		w.judge()
		if want := unit.RelayOf(i < 5); w.v.Permitted != want {
			t.Errorf("%d s on future readings: permitted %v, want %v", i+1, w.v.Permitted, want)
		}
	}
	w.want(unit.Off, Stale, NoRule)
	w.g.Last.Taken = w.f.Now + time.Hour // even one that got in
	w.mute = true
	w.run(time.Minute)
	w.want(unit.Off, Stale, NoRule)
}

func TestJumpIsBelievedWhenThreeReadingsAgree(t *testing.T) {
	w := ready(t)
	w.temp = 60 + 5
	w.tick()
	w.want(unit.On, NoRule, NoRule) // 5 K is within reach
	w.temp += 5 + lsb
	w.tick()
	w.want(unit.Off, Implausible, NoRule)
	w.tick()
	w.tick() // the third of its kind
	if w.g.Last.Value != w.temp {
		t.Errorf("after three readings the accepted value is %v, want %v", w.g.Last.Value, w.temp)
	}
	w.wantBack(QuietFor - time.Second) // the cause was last there one tick before
}

func TestTheSameMeasurementDoesNotAgreeWithItself(t *testing.T) {
	w := ready(t)
	w.temp = 85 // the power-on value, one conversion, seen three times
	w.tick()
	for range 3 {
		w.f.Now += time.Second
		w.judge()
	}
	w.want(unit.Off, Implausible, NoRule)
	if w.g.Last.Value != 60 {
		t.Errorf("one measurement was believed: %v", w.g.Last.Value)
	}
}

func TestDoubtStaysWhileNoReadingSettlesIt(t *testing.T) {
	w := ready(t)
	w.temp = 80
	w.tick()
	w.mute = true
	w.run(QuietFor)
	w.want(unit.Off, Implausible, NoRule)
	if m := w.g.Marks[Implausible]; m.Seen != w.f.Now {
		t.Errorf("the doubt was last there at %v, want %v", m.Seen, w.f.Now)
	}
}

func TestReadingsThatAgreeMustFollowEachOther(t *testing.T) {
	w := ready(t)
	for i, v := range []float64{80, 80, 80, 80, math.NaN(), 80, 80, 80} {
		w.temp = unit.Celsius(v)
		w.tick()
		if w.g.Last.Value != 60 {
			t.Fatalf("reading %d: %v is believed", i+1, w.g.Last.Value)
		}
	}
	w.tick()
	if w.g.Last.Value != 80 {
		t.Errorf("five in a row are not believed: %v", w.g.Last.Value)
	}
}

func TestAReachOfFiveSecondsIsTheLongest(t *testing.T) {
	for _, c := range []struct {
		step     unit.Celsius
		believed bool
	}{{12.5, true}, {12.5 + lsb, false}} {
		w := ready(t)
		w.mute = true
		w.run(time.Minute)
		w.mute, w.temp = false, 60-c.step
		w.tick()
		if got := w.g.Last.Value == w.temp; got != c.believed {
			t.Errorf("%.4f K after a minute without a reading: believed %v", float64(c.step), got)
		}
	}
}

func TestAlternatingReadingsNeverAgree(t *testing.T) {
	w := ready(t)
	for i := range 30 {
		w.temp = []unit.Celsius{85, 75}[i%2]
		w.tick()
		w.want(unit.Off, w.v.Cut, NoRule)
	}
	if w.g.Last.Value != 60 {
		t.Errorf("alternating readings were believed: %v", w.g.Last.Value)
	}
}

func TestReadingThatGoesBackInTimeIsImplausible(t *testing.T) {
	for name, r := range map[string]sensors.Reading{
		"older":         {Value: 60, Taken: 18 * time.Second, Fault: sensors.None},
		"contradiction": {Value: 61, Taken: 20 * time.Second, Fault: sensors.None},
	} {
		w := ready(t) // the last reading was taken at 20 s
		w.f.Now += time.Second
		w.f.Reading = r
		w.judge()
		if w.v.Permitted != unit.Off || w.v.Cut != Implausible {
			t.Errorf("%s: %+v, want a cut by implausible", name, w.v)
		}
	}
}

// Known events of a brew day must not cost a trip, and those that fall through
// a probe's lag not even a cut. The falls are common practice, no source.
func TestEventsOfTheDayAreNotImplausible(t *testing.T) {
	w := ready(t)
	start := w.f.Now
	for w.temp > 54.5 { // grain poured within 10 s into the strike water
		w.temp -= 0.55
		w.tick()
		w.want(unit.On, NoRule, NoRule)
	}
	for s := range 60 { // 8 K of cold water through a probe of 5 s
		w.temp = 54.5 - 8*unit.Celsius(1-math.Exp(-float64(s)/5))
		w.tick()
		w.want(unit.On, NoRule, NoRule)
	}
	w.temp -= 8 // and through no lag at all: cut, back within 30 s
	w.tick()
	w.want(unit.Off, Implausible, NoRule)
	w.wantBack(QuietFor + 2*time.Second)
	for w.temp = 46; w.temp < 80; w.temp += 43.0 / 60 { // 3 kW into 1 L
		w.tick()
	}
	if trip, _ := w.g.standing(Tripped); trip != NoRule {
		t.Errorf("a healthy day from %v tripped %v", start, trip)
	}
}

func TestTrueEightyFiveIsNoFault(t *testing.T) {
	w := ready(t)
	w.f.Stage = Lifted
	for w.temp = 60; w.temp < 98; w.temp += lsb {
		w.tick()
		w.want(unit.On, NoRule, NoRule)
	}
}

// A twentieth of all readings is a spike of 20 K for eight hours, up to where it is too
// hot: heat is cut each time, and nothing latches, with noise of 0.5 K besides.
func TestSpikesAreCutButDoNotLatch(t *testing.T) {
	random := newRandom(3)
	w := ready(t)
	lit := 0
	for range 8 * 3600 {
		w.temp = 70 + unit.Celsius(random.NormFloat64()*0.5)
		if random.Float64() < 0.05 {
			w.temp += 20
		}
		w.tick()
		if w.v.Permitted == unit.On {
			lit++
		}
		if w.v.Trip != NoRule {
			t.Fatalf("tripped %v at %v", w.v.Trip, w.f.Now)
		}
	}
	if lit < 3600 {
		t.Errorf("heat was permitted for %d s of 8 h", lit)
	}
}
