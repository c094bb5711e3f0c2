package sim

import (
	"errors"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

func yardBench() *Bench {
	par, load := yard()
	p := New(par, load, 1)
	p.Warm(60)
	return NewBench(p, nil, 1)
}

func TestHeatIsALeaseThatEndsByItself(t *testing.T) {
	b := yardBench()
	if err := b.Element().Hold(unit.On, 3*time.Second); err != nil {
		t.Fatal(err)
	}
	for second, want := range []unit.Relay{unit.On, unit.On, unit.On, unit.Off, unit.Off} {
		b.Next()
		if got := b.Applied(); got != want {
			t.Errorf("second %d after a lease of 3 s: %v, want %v", second+1, got, want)
		}
		if on := b.Plant().Truth().Power > 0; on != (want == unit.On) {
			t.Errorf("second %d: element power on is %v with the line %v", second+1, on, want)
		}
	}
	b.Element().Hold(unit.On, 1500*time.Millisecond)
	b.Next()
	b.Next()
	if b.Applied() != unit.Off {
		t.Error("a lease that ends within a second counted for the whole of it")
	}
	if n := b.Element().Closings(); n != 2 {
		t.Errorf("%d closings counted, want 2", n)
	}
}

func TestADroppedLineStaysOffUntilRearmed(t *testing.T) {
	b := yardBench()
	b.Element().Hold(unit.On, time.Minute)
	b.Element().Drop()
	b.Next()
	if b.Applied() != unit.Off {
		t.Error("a dropped line was on")
	}
	if err := b.Element().Hold(unit.On, time.Minute); !errors.Is(err, ErrDropped) {
		t.Errorf("holding a dropped line on gave %v", err)
	}
	if err := b.Element().Hold(unit.Off, time.Minute); err != nil {
		t.Errorf("holding a dropped line off gave %v", err)
	}
	b.Element().Rearm()
	b.Next()
	if b.Applied() != unit.Off {
		t.Error("rearming alone switched the line on")
	}
	b.Element().Hold(unit.On, time.Minute)
	b.Next()
	if b.Applied() != unit.On {
		t.Error("a rearmed line cannot be held on")
	}
}

func TestReadingsTellWhenTheirConversionBegan(t *testing.T) {
	b := yardBench()
	if r := b.Latest(); r.Good() {
		t.Errorf("a reading before the first tick: %+v", r)
	}
	now, ok := b.Next()
	if now != time.Second || !ok {
		t.Fatalf("the first tick ended at %v, %v", now, ok)
	}
	r := b.Latest()
	if r.Fault != sensors.None || r.Age(now) != 750*time.Millisecond {
		t.Errorf("reading %+v at %v", r, now)
	}
}

func TestThePacerStopsAtItsEnd(t *testing.T) {
	b := yardBench()
	b.End = 2 * time.Second
	ticks := 0
	for _, ok := b.Next(); ok; _, ok = b.Next() {
		ticks++
	}
	if ticks != 2 || b.Now() != 2*time.Second {
		t.Errorf("%d ticks, %v", ticks, b.Now())
	}
}

func BenchmarkBenchTick(b *testing.B) {
	bench := yardBench()
	bench.Plant().Do(Event{Kind: GrainIn})
	b.ReportAllocs()
	for b.Loop() {
		now, _ := bench.Next()
		r := bench.Latest()
		wish := unit.RelayOf(r.Good() && r.Value < 65 && r.Age(now) < 5*time.Second)
		if err := bench.Element().Hold(wish, 3*time.Second); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "x-real-time")
}
