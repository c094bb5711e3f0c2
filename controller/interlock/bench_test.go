package interlock

import (
	"testing"
	"time"

	"mashward/sensors"
)

func BenchmarkStep(b *testing.B) {
	m := &machine{l: sampleLimits(), jitter: newRandom(1)}
	facts := make([]Facts, 4096)
	for i := range facts {
		m.healthy()
		if i%50 < 5 {
			m.f.Reading.Fault = sensors.Open
		}
		m.g, m.v = m.l.Step(m.g, m.f)
		facts[i] = m.f
	}
	span := facts[len(facts)-1].Now + time.Second
	b.ReportAllocs()
	var g Guard
	i, base := 0, time.Duration(0)
	for b.Loop() {
		f := facts[i]
		f.Now += base
		f.Reading.Taken += base
		g, _ = m.l.Step(g, f)
		if i++; i == len(facts) {
			i, base = 0, base+span
		}
	}
}

func TestStepAllocatesNothing(t *testing.T) {
	w := ready(t)
	if n := testing.AllocsPerRun(1000, func() {
		w.f.Now += time.Second
		w.f.Reading.Taken = w.f.Now
		w.g, w.v = w.l.Step(w.g, w.f)
	}); n != 0 {
		t.Errorf("a Step allocates %v times", n)
	}
}
