package sim

import (
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/profile/heat"
	"mashward/sensors"
	"mashward/sim/fault"
)

// faulty is the yard kettle in its mash, quiet probe, on a bench where one fault
// begins at second 100, pump held on, element as held by the test.
func faulty(kind fault.Kind, lasts time.Duration) *Bench {
	p := mashing(60)
	p.par.Probe.Noise, p.par.Probe.Step = 0, 0
	f := fault.Default(kind)
	f.At.After = 100 * time.Second
	if lasts > 0 {
		f.For = lasts
	}
	i := fault.New(fault.Script{f})
	i.Armed(0)
	return NewBench(p, i, 1)
}

// pass lets ticks pass with the element held and gives the bench back.
func (b *Bench) pass(ticks int, element unit.Relay) *Bench {
	for range ticks {
		b.Element().Hold(element, 3*time.Second)
		b.Pump().Hold(unit.On, 3*time.Second)
		b.Next()
	}
	return b
}

func TestProbeFaultsTakeTheValueAway(t *testing.T) {
	for kind, want := range map[fault.Kind]sensors.Fault{
		fault.ProbeOpen: sensors.Open, fault.ProbeShorted: sensors.Shorted,
		fault.ProbeCRC: sensors.Checksum, fault.ProbePowerOn: sensors.PowerOn,
	} {
		b := faulty(kind, time.Minute).pass(100, unit.Off)
		if !b.Latest().Good() {
			t.Errorf("%v: no reading before the fault", kind)
		}
		b.pass(60, unit.Off)
		r := b.Latest()
		if r.Fault != want {
			t.Errorf("%v: reading %+v, want %v", kind, r, want)
		}
		if kind == fault.ProbePowerOn && r.Value != 85 {
			t.Errorf("power-on value is %v", r.Value)
		}
		if b.pass(1, unit.Off); !b.Latest().Good() {
			t.Errorf("%v: no reading after the fault", kind)
		}
	}
}

func TestAStuckProbeRepeatsItsLastReadingWithFreshInstants(t *testing.T) {
	b := faulty(fault.ProbeStuck, 0)
	b.plant.par.Probe.Noise = 0.05
	before := b.pass(100, unit.On).Latest()
	b.pass(200, unit.On)
	if r := b.Latest(); r.Value != before.Value || r.Taken != before.Taken+200*time.Second || !r.Good() {
		t.Errorf("%+v, before %+v", r, before)
	}
	if b.plant.Mash().Minus(before.Value) < 2 {
		t.Error("the mash did not move, so that nothing was shown")
	}
}

func TestOffsetDriftNoiseAndSpikesChangeTheReadingOnly(t *testing.T) {
	errorOf := func(b *Bench) float64 { return float64(b.Latest().Value) - b.plant.x[b.plant.r.sensed] }
	b := faulty(fault.ProbeOffset, 0).pass(100, unit.Off)
	near(t, "error before the offset", errorOf(b), 0, 1e-9)
	near(t, "offset", errorOf(b.pass(1, unit.Off)), 3, 1e-9)
	near(t, "drift after half an hour", errorOf(faulty(fault.ProbeDrift, 0).pass(100+1801, unit.Off)), 0.5, 1e-6)

	b = faulty(fault.ProbeNoise, 0).pass(100, unit.Off)
	squares := 0.0
	for range 3000 {
		e := errorOf(b.pass(1, unit.Off))
		squares += e * e
	}
	near(t, "noise", math.Sqrt(squares/3000), 0.5, 0.03)

	b = faulty(fault.ProbeSpike, 0).pass(100, unit.Off)
	spikes := 0
	for range 3000 {
		switch e := errorOf(b.pass(1, unit.Off)); {
		case math.Abs(e-20) < 1e-9:
			spikes++
		case math.Abs(e) > 1e-9:
			t.Fatalf("a spike of %g K", e)
		}
	}
	near(t, "share of spikes", float64(spikes)/3000, 0.05, 0.015)
	if m := b.plant.Mash(); m < 50 || m > 61 {
		t.Errorf("the mash has %.1f °C", m)
	}
}

func TestAProbeOutFallsTowardsTheRoom(t *testing.T) {
	b := faulty(fault.ProbeOut, 5*time.Minute).pass(100, unit.Off)
	before := b.Latest().Value
	after := b.pass(25, unit.Off).Latest().Value
	near(t, "fall after its 25 s in air", float64(before-after), (1-1/math.E)*float64(before-18), 2)
	near(t, "reading after 4 min in air", float64(b.pass(215, unit.Off).Latest().Value), 18, 0.5)
	near(t, "reading back in the wort", float64(b.pass(200, unit.Off).Latest().Value), float64(b.plant.Truth().ElementWort), 0.1)
}

func TestAWeldedRelayHeatsWithTheLineOffAndAnOpenOneNever(t *testing.T) {
	b := faulty(fault.RelayWelded, 0).pass(101, unit.Off)
	if b.plant.Truth().Power != 3000 || b.Applied() != unit.Off {
		t.Errorf("welded: %v W, line %v", b.plant.Truth().Power, b.Applied())
	}
	b = faulty(fault.RelayOpen, 0).pass(100, unit.On)
	if b.plant.Truth().Power != 3000 {
		t.Error("no power before the fault")
	}
	if b.pass(1, unit.On); b.plant.Truth().Power != 0 || b.Applied() != unit.On {
		t.Errorf("open: %v W, line %v", b.plant.Truth().Power, b.Applied())
	}
}

func TestElementAndSupplyFaultsTakePower(t *testing.T) {
	near(t, "half an element, W", float64(faulty(fault.ElementHalf, 0).pass(101, unit.On).plant.Truth().Power), 1500, 1e-9)
	near(t, "10 % less voltage, W", float64(faulty(fault.SupplySag, 0).pass(101, unit.On).plant.Truth().Power), 2430, 1e-9)
	b := faulty(fault.ElementDry, 0).pass(100, unit.Off)
	before := b.plant.Mash()
	if tr := b.pass(120, unit.On).plant.Truth(); tr.Mash > before+0.5 || tr.Sheath < 250 {
		t.Errorf("dry element: mash from %.2f to %.2f °C, sheath %.0f °C", before, tr.Mash, tr.Sheath)
	}
}

func TestAStoppedPumpTurnsWithoutFlow(t *testing.T) {
	b := faulty(fault.PumpStopped, 0).pass(100, unit.On)
	if b.plant.r.flow == 0 {
		t.Fatal("no flow before the fault")
	}
	if b.pass(1, unit.On); b.plant.r.flow != 0 || b.Pump().Applied() != unit.On {
		t.Errorf("flow %v kg/s with the pump's line %v", b.plant.r.flow, b.Pump().Applied())
	}
}

func TestVolumeFaultsTakeAndGiveWort(t *testing.T) {
	kettle := func(b *Bench) float64 { return b.plant.x[nodeMass] / heat.ColdDensity }
	b := faulty(fault.LowVolume, 0).pass(100, unit.Off)
	before := kettle(b)
	near(t, "share left", kettle(b.pass(1, unit.Off))/before, 0.35, 0.001)
	near(t, "share left later", kettle(b.pass(50, unit.Off))/before, 0.35, 0.001)

	b = faulty(fault.Drained, time.Minute).pass(100, unit.Off)
	before = kettle(b)
	near(t, "litres drained in a minute", before-kettle(b.pass(60, unit.Off)), 5, 0.01)
	near(t, "litres drained after it", before-kettle(b.pass(60, unit.Off)), 5, 0.01)

	b = faulty(fault.ColdWater, 0).pass(100, unit.Off)
	before, warm := kettle(b), b.plant.Mash()
	b.pass(1, unit.Off)
	near(t, "litres poured in", kettle(b)-before, 5, 0.01)
	if fall := warm.Minus(b.plant.Mash()); fall < 5 || fall > 12 {
		t.Errorf("5 L of 12 °C take %.1f K", fall)
	}
	near(t, "litres poured in later", kettle(b.pass(50, unit.Off))-before, 5, 0.01)
}

func TestTheLidComesOffAndGoesOnAgain(t *testing.T) {
	b := faulty(fault.LidOff, time.Minute).pass(101, unit.Off)
	if !b.plant.Truth().LidOff || b.plant.r.surface == 0 {
		t.Error("the lid is on during the fault")
	}
	if b.pass(60, unit.Off); b.plant.Truth().LidOff {
		t.Error("the lid is off after the fault")
	}
}

func TestAPowerCutKillsTheLinesAndTellsTheShell(t *testing.T) {
	b := faulty(fault.PowerCut, 0).pass(101, unit.On)
	if !b.Effects().PowerCut || b.Applied() != unit.Off || b.Pump().Applied() != unit.Off || b.plant.Truth().Power != 0 {
		t.Errorf("cut %v, element %v, pump %v, %v W", b.Effects().PowerCut, b.Applied(), b.Pump().Applied(), b.plant.Truth().Power)
	}
	b.pass(600, unit.On)
	if b.Effects().PowerCut || b.Applied() != unit.On {
		t.Error("the power is not back after 10 min")
	}
}

func TestALateTickJumpsAndTheLeaseRunsOutInIt(t *testing.T) {
	b := faulty(fault.TickLate, 0).pass(100, unit.On)
	energy := b.plant.Truth().Energy
	b.pass(1, unit.On)
	if b.Now() != 105*time.Second {
		t.Errorf("the late tick ended at %v", b.Now())
	}
	near(t, "energy in the late tick, J", float64(b.plant.Truth().Energy-energy), 3*3000, 1e-6)
	if on := b.Element().OnTime(); on != 3*time.Second || b.Applied() != unit.On {
		t.Errorf("on for %v of 5 s, applied %v", on, b.Applied())
	}
	if b.pass(1, unit.On); b.Now() != 106*time.Second {
		t.Errorf("the tick after it ended at %v", b.Now())
	}
}

func TestTheShellHearsOfItsFaults(t *testing.T) {
	if e := faulty(fault.StorageFull, 0).pass(101, unit.Off).Effects(); !e.StorageFull {
		t.Error("storage-full is not said")
	}
	if e := faulty(fault.StorageError, 0).pass(101, unit.Off).Effects(); !e.StorageError {
		t.Error("storage-error is not said")
	}
	b := faulty(fault.ClockStep, 0)
	var stepped time.Duration
	for range 300 {
		stepped += b.pass(1, unit.Off).Effects().ClockStep
	}
	if stepped != 14*24*time.Hour {
		t.Errorf("the clock jumped by %v in all", stepped)
	}
}

func TestEqualSeedsGiveEqualRunsUnderFaults(t *testing.T) {
	run := func(seed uint64) (sum float64) {
		par, load := yard()
		i := fault.New(fault.Script{fault.Default(fault.ProbeNoise), fault.Default(fault.ProbeSpike)})
		i.Armed(0)
		b := NewBench(New(par, load, seed), i, seed)
		for range 500 {
			b.pass(1, unit.On)
			sum += float64(b.Latest().Value)
		}
		return sum
	}
	if run(3) != run(3) {
		t.Error("one seed, two runs")
	}
	if run(3) == run(4) {
		t.Error("two seeds, one run")
	}
}
