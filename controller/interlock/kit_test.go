package interlock

import (
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

// lsb is the step of a 12-bit probe.
const lsb unit.Celsius = 0.0625

// sampleLimits are those of a 50 L kettle at 340 m: mash-out 78 °C, boiling
// point 98.9 °C, 12 L to cover 3 kW.
func sampleLimits() Limits {
	return Limits{
		MashCeiling: 83, BoilCeiling: 102.9, Boiling: 98.9,
		CoveredAt: 12, ElementPower: 3000, LossAtBoil: 560,
		OnLimit: 90 * time.Minute, ArmedFor: 12 * time.Hour,
	}
}

// walk drives an interlock second by second. The line does what is permitted.
type walk struct {
	t    *testing.T
	l    Limits
	g    Guard
	f    Facts
	v    Verdict
	temp unit.Celsius // what a good probe reads
	mute bool         // the probe gives nothing
}

// ready is a walk in the middle of a heat-up: armed, running, heating.
func ready(t *testing.T) *walk {
	t.Helper()
	w := &walk{t: t, l: sampleLimits(), temp: 60}
	w.f = Facts{Wanted: unit.On, Armed: true, Heats: true}
	w.run(20 * time.Second)
	w.want(unit.On, NoRule, NoRule)
	return w
}

// after lets d pass in one step.
func (w *walk) after(d time.Duration) {
	w.f.Now += d
	if w.mute {
		w.f.Reading = sensors.Reading{Taken: w.f.Now, Fault: sensors.Open}
	} else {
		w.f.Reading = sensors.Reading{Value: w.temp, Taken: w.f.Now, Fault: sensors.None}
	}
	w.judge()
}

// judge steps with the facts as they stand.
func (w *walk) judge() {
	w.g, w.v = w.l.Step(w.g, w.f)
	w.f.Applied = w.v.Permitted
	w.f.Clear = false
}

func (w *walk) tick() { w.after(time.Second) }

// run ticks for d.
func (w *walk) run(d time.Duration) {
	for end := w.f.Now + d; w.f.Now < end; {
		w.tick()
	}
}

// clear ticks with a person clearing.
func (w *walk) clear() {
	w.f.Clear = true
	w.tick()
}

func (w *walk) want(permitted unit.Relay, cut, trip Rule) {
	w.t.Helper()
	if w.v.Permitted != permitted || w.v.Cut != cut || w.v.Trip != trip {
		w.t.Fatalf("at %v, %.4f °C: permitted %v, cut %v, trip %v; want %v, %v, %v", w.f.Now, float64(w.temp),
			w.v.Permitted, w.v.Cut, w.v.Trip, permitted, cut, trip)
	}
}

// wantBack runs until the heat is back and checks that it took exactly so long.
func (w *walk) wantBack(after time.Duration) {
	w.t.Helper()
	from := w.f.Now
	for w.v.Permitted == unit.Off {
		if w.f.Now-from > 5*time.Minute {
			w.t.Fatalf("heat is not back after 5 min: %+v", w.v)
		}
		w.tick()
	}
	if got := w.f.Now - from; got != after {
		w.t.Fatalf("heat is back after %v, want %v", got, after)
	}
}
