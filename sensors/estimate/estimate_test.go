package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

const tick = time.Second

// bench feeds an estimator second by second.
type bench struct {
	s   State
	e   Estimate
	now time.Duration
}

func good(v float64, taken time.Duration) sensors.Reading {
	return sensors.Reading{Value: unit.Celsius(v), Taken: taken, Fault: sensors.None}
}

// give lets a second pass and then shows a reading.
func (b *bench) give(r sensors.Reading) Estimate {
	b.now += tick
	b.s, b.e = Step(b.s, r, b.now, tick, 0)
	return b.e
}

// reads lets seconds pass with a probe that reads v each time.
func (b *bench) reads(v float64, seconds int) Estimate {
	for range seconds {
		b.give(good(v, b.now+tick))
	}
	return b.e
}

// mute lets seconds pass with a probe that gives nothing.
func (b *bench) mute(seconds int) Estimate {
	for range seconds {
		b.give(sensors.Reading{Taken: b.now + tick, Fault: sensors.Open})
	}
	return b.e
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.5g, want %.5g within %.2g", what, got, want, tolerance)
	}
}

func TestNothingIsKnownBeforeTheFirstReading(t *testing.T) {
	b := bench{}
	if e := b.mute(10); e != (Estimate{}) {
		t.Errorf("estimate %+v from a probe that never answered", e)
	}
	if e := b.give(sensors.Reading{}); e.Valid {
		t.Error("the zero reading is believed")
	}
}

func TestTheFirstReadingIsBelievedAtOnce(t *testing.T) {
	b := bench{}
	e := b.reads(62.9, 1)
	if !e.Valid || !e.Fresh || e.Value != 62.9 || e.HasSlope {
		t.Errorf("estimate %+v, want 62.9 °C without a slope", e)
	}
}

func TestThePowerOnValueIsRefusedAwayFrom85(t *testing.T) {
	for _, at := range []float64{12, 63, 82.9, 87.1, 98} {
		b := bench{}
		b.reads(at, 60)
		before := b.s.Rejected
		if e := b.reads(85, 3); e.Fresh || e.Value != unit.Celsius(at) || b.s.Rejected != before+3 {
			t.Errorf("at %v °C three readings of 85.0 gave %+v, rejected %d", at, e, b.s.Rejected-before)
		}
	}
}

func TestThePowerOnValueIsRefusedAsTheFirstReading(t *testing.T) {
	b := bench{}
	if e := b.reads(85, 5); e.Valid || b.s.Known {
		t.Errorf("85.0 °C as the first reading gave %+v", e)
	}
	if e := b.reads(20, 1); !e.Valid || e.Value != 20 {
		t.Errorf("20 °C after it gave %+v", e)
	}
}

func TestAKettleThatHeatsThrough85IsBelievedThere(t *testing.T) {
	b := bench{}
	rejected := b.s.Rejected
	for v := 80.0; v < 90; v += 0.02 { // 1.2 K/min, read in steps of 1/16 K
		b.reads(math.Round(v*16)/16, 1)
		if !b.e.Valid || !b.e.Fresh {
			t.Fatalf("at %.2f °C: %+v", v, b.e)
		}
	}
	if b.s.Rejected != rejected {
		t.Errorf("%d readings refused on the way through 85 °C", b.s.Rejected)
	}
	if e := b.reads(85, 1); e.Fresh {
		t.Error("85.0 °C is believed at 90 °C")
	}
}

func TestAKettleThatIsKeptAt85IsBelievedThere(t *testing.T) {
	b := bench{}
	b.reads(84.9375, 60)
	if e := b.reads(85, 60); !e.Valid || !e.Fresh || b.s.Rejected != 0 {
		t.Errorf("kept at 85 °C: %+v, %d refused", e, b.s.Rejected)
	}
}

func TestASingleSpikeIsNotSeenAtAll(t *testing.T) {
	for _, spike := range []float64{20, -20, 47, 1} {
		b := bench{}
		b.reads(63, 60)
		b.reads(63+spike, 1)
		for range 30 {
			if e := b.reads(63, 1); e.Value != 63 {
				t.Fatalf("a spike of %v K shows as %.3f °C", spike, float64(e.Value))
			}
		}
	}
}

func TestSpikesInOneOfTwentyReadingsMoveTheEstimateByLittle(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 1))
	b := bench{}
	b.reads(63, 60)
	sum, worst := 0.0, 0.0
	const n = 20000
	for range n {
		v := 63.0
		if random.Float64() < 0.05 {
			v += 20
		}
		e := b.reads(v, 1)
		sum += float64(e.Value) - 63
		worst = max(worst, float64(e.Value)-63)
	}
	// Two spikes among three readings, about 0.7 % of the time, get through.
	near(t, "mean error in K", sum/n, 0.145, 0.06)
	if worst > 20 {
		t.Errorf("worst error %.1f K", worst)
	}
}

func TestWhatCannotBeATemperatureIsRefused(t *testing.T) {
	b := bench{}
	b.reads(63, 60)
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -5.1, 110.1, 127.9375, -55, 1e300} {
		if e := b.reads(v, 1); e.Fresh || e.Value != 63 {
			t.Errorf("%v °C gave %+v", v, e)
		}
	}
	if b.s.Rejected != 8 {
		t.Errorf("%d refused, want 8", b.s.Rejected)
	}
	for _, v := range []float64{-5, 110} {
		if e := b.reads(v, 1); !e.Fresh {
			t.Errorf("%v °C, the end of the range, is refused", v)
		}
	}
}

func TestAReadingFromTheFutureIsRefused(t *testing.T) {
	b := bench{}
	b.reads(63, 60)
	for range 10 {
		b.give(good(40, b.now+tick+time.Millisecond))
	}
	if b.e.Valid || b.e.Value != 63 || b.s.Rejected != 10 {
		t.Errorf("ten readings from the future: %+v, %d refused", b.e, b.s.Rejected)
	}
	if e := b.reads(63, 1); !e.Valid {
		t.Errorf("a good reading after them: %+v", e)
	}
}

func TestAReadingOlderThanTheLastIsRefused(t *testing.T) {
	b := bench{}
	b.reads(63, 60)
	e := b.give(good(40, b.now-3*tick))
	if e.Fresh || b.s.Last.Value != 63 || b.s.Rejected != 1 {
		t.Errorf("a reading that goes back in time: %+v, last %+v", e, b.s.Last)
	}
}

func TestAReadingThatIsNotRenewedPermitsNothingAfterFiveSeconds(t *testing.T) {
	b := bench{}
	b.reads(63, 60)
	last := good(63, b.now)
	for age := 1; age <= 20; age++ {
		e := b.give(last)
		if want := age <= 5; e.Valid != want || e.Fresh || e.Age != time.Duration(age)*tick {
			t.Errorf("%d s old: %+v, want valid %v", age, e, want)
		}
	}
}

func TestAFaultyReadingIsAMissingOne(t *testing.T) {
	for f := sensors.NoReading; f <= sensors.Bus; f++ {
		if f == sensors.None {
			continue
		}
		b := bench{}
		b.reads(63, 60)
		for range 6 {
			b.give(sensors.Reading{Value: 12, Taken: b.now + tick, Fault: f})
		}
		if b.e.Valid || b.e.Value != 63 {
			t.Errorf("%v for 6 s: %+v", f, b.e)
		}
	}
}

func TestAMissingReadingIsProjectedToTheWorstItMayHaveBecome(t *testing.T) {
	const rise = 0.03 // K/s
	s, e := Step(State{}, good(70, 0), 0, 0, rise)
	near(t, "worst of a new reading in °C", float64(e.Worst), 70, 0)
	for now := tick; now <= 60*tick; now += tick {
		s, e = Step(s, sensors.Reading{Fault: sensors.Open}, now, tick, rise)
		near(t, "worst in °C after "+now.String(), float64(e.Worst), 70+rise*now.Seconds(), 1e-9)
	}
	near(t, "value in °C, not held for a truth but kept", float64(e.Value), 70, 1e-9)
}

func TestAProbeThatComesBackIsBelievedAtWhatItReadsNow(t *testing.T) {
	b := bench{}
	b.reads(50, 300)
	b.mute(600)
	e := b.reads(76, 1)
	if !e.Valid {
		t.Fatalf("%+v", e)
	}
	near(t, "the first value after ten minutes without a reading in °C", float64(e.Value), 76, 0.01)
	if e.HasSlope {
		t.Error("it has a slope over a time in which nothing was read")
	}
	b.reads(76, 60)
	if fall := b.s.Fall(time.Minute); fall > 0.01 {
		t.Errorf("a fall of %.2f K that nobody measured", float64(fall))
	}
}

func TestWaterThatCooledWhileTheProbeWasSilentForLessThanAMinuteHasFallen(t *testing.T) {
	b := bench{}
	b.reads(70, 300)
	b.mute(40) // somebody poured grain and knocked the probe
	b.reads(68, 1)
	near(t, "fall in K", float64(b.s.Fall(time.Minute)), 2, 0.01)
}

// ramp reads a ramp of rate K/min with noise for the given seconds and returns
// the mean and the worst error of the slope in K/min.
func ramp(seed uint64, rate, noise float64, period func(*rand.Rand) time.Duration) (mean, worst float64) {
	random := rand.New(rand.NewPCG(seed, 2))
	s, now, n := State{}, time.Duration(0), 0
	for now < 30*time.Minute {
		dt := period(random)
		now += dt
		v := 40 + rate/60*now.Seconds() + noise*random.NormFloat64()
		var e Estimate
		s, e = Step(s, good(math.Round(v*16)/16, now), now, dt, 0)
		if now < 3*time.Minute {
			continue
		}
		miss := float64(e.Slope)*60 - rate
		mean += miss
		worst = max(worst, math.Abs(miss))
		n++
	}
	return mean / float64(n), worst
}

func TestTheSlopeOfANoisyRampIsFoundWithinATenthOfAKelvinAMinute(t *testing.T) {
	exact := func(*rand.Rand) time.Duration { return tick }
	for _, rate := range []float64{-0.5, 0, 0.5, 1, 2} {
		for seed := range uint64(20) {
			mean, worst := ramp(seed, rate, 0.05, exact)
			near(t, "mean error of the slope in K/min", mean, 0, 0.01)
			if worst > 0.13 {
				t.Errorf("%v K/min, seed %d: slope wrong by %.3f K/min", rate, seed, worst)
			}
		}
	}
}

func TestATickThatIsNotExactlyASecondDoesNotBendTheSlope(t *testing.T) {
	for name, period := range map[string]func(*rand.Rand) time.Duration{
		"a millisecond early":        func(*rand.Rand) time.Duration { return tick - time.Millisecond },
		"a millisecond late":         func(*rand.Rand) time.Duration { return tick + time.Millisecond },
		"half a tick more or less":   func(r *rand.Rand) time.Duration { return time.Duration(500+r.IntN(1000)) * time.Millisecond },
		"two seconds":                func(*rand.Rand) time.Duration { return 2 * tick },
		"three seconds, the longest": func(*rand.Rand) time.Duration { return 3 * tick },
	} {
		mean, worst := ramp(1, 1, 0, period)
		near(t, name+": mean error of the slope in K/min", mean, 0, 0.01)
		if worst > 0.3 {
			t.Errorf("%s: slope wrong by %.3f K/min", name, worst)
		}
	}
}

func TestALoopThatWasAwayHasNoSlopeAndNoFall(t *testing.T) {
	b := bench{}
	b.reads(70, 400)
	// Ten minutes pass in one tick; the water has cooled by 2 K meanwhile.
	b.now += 10 * time.Minute
	b.s, b.e = Step(b.s, good(68, b.now), b.now, 10*time.Minute, 0)
	if b.e.HasSlope || b.s.Fall(time.Minute) > 0.01 {
		t.Errorf("slope %v known %v, fall %.2f K over a gap", b.e.Slope, b.e.HasSlope, float64(b.s.Fall(time.Minute)))
	}
	near(t, "value in °C", float64(b.e.Value), 68, 0.01)
}

func TestAClockThatBeginsAnewBeginsTheFilterAnew(t *testing.T) {
	b := bench{}
	b.reads(70, 4000)
	b.now = 0
	e := b.reads(60, 3)
	if !e.Valid {
		t.Fatalf("%+v", e)
	}
	near(t, "value in °C", float64(e.Value), 60, 0.01)
}

func TestNoiseOfTheProbeIsTakenDownToAQuarterAndCostsTenSecondsAtMost(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 7))
	b := bench{}
	b.reads(63, 60)
	const n = 50000
	sum := 0.0
	for range n {
		e := b.reads(63+0.05*random.NormFloat64(), 1)
		sum += math.Pow(float64(e.Value)-63, 2)
	}
	if rms := math.Sqrt(sum / n); rms > 0.05/3.3 || rms < 0.005 {
		t.Errorf("noise of 0.05 K comes out as %.4f K", rms)
	}
	b = bench{}
	v := 20.0
	for range 1000 {
		v += 0.02
		b.reads(v, 1)
	}
	near(t, "delay on a ramp in s", (v-float64(b.e.Value))/0.02, 9, 1)
}

func TestSpreadAndFallAreThoseOfTheLastSpan(t *testing.T) {
	b := bench{}
	if _, known := b.s.Spread(2 * time.Minute); known {
		t.Error("a spread before anything was read")
	}
	b.reads(65, 130)
	if spread, known := b.s.Spread(2 * time.Minute); !known || spread != 0 {
		t.Errorf("spread %v, known %v at a steady 65 °C", spread, known)
	}
	b.reads(63, 40)
	spread, _ := b.s.Spread(2 * time.Minute)
	near(t, "spread in K", float64(spread), 2, 0.01)
	near(t, "fall in K", float64(b.s.Fall(time.Minute)), 2, 0.01)
	b.reads(63, 180)
	spread, _ = b.s.Spread(2 * time.Minute)
	near(t, "spread in K three minutes later", float64(spread), 0, 0.01)
	near(t, "fall in K three minutes later", float64(b.s.Fall(time.Minute)), 0, 0.01)
}

func TestARestartForgetsTheRateAndKeepsTheTemperature(t *testing.T) {
	b := bench{}
	for v := 40.0; v < 45; v += 0.02 {
		b.reads(v, 1)
	}
	value := b.e.Value
	b.s = b.s.Restart()
	if _, known := b.s.SlopeOver(time.Minute); known {
		t.Error("a slope after a restart")
	}
	near(t, "value in °C", float64(b.reads(45, 1).Value), float64(value), 0.05)
}

func TestTheFilterAllocatesNothing(t *testing.T) {
	b := bench{}
	if n := testing.AllocsPerRun(1000, func() { b.reads(63, 1) }); n != 0 {
		t.Errorf("%v allocations a step", n)
	}
}
