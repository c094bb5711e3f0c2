package fault_test

import (
	"strings"
	"testing"
	"time"

	"mashward/sim/fault"
)

// every is a script with all faults in it, nothing but the moment said.
const every = `faults:
  - {at: 1 min, fault: probe-open}
  - {at: 1 min, fault: probe-stuck}
  - {at: 1 min, fault: probe-offset}
  - {at: 1 min, fault: probe-drift}
  - {at: 1 min, fault: probe-noise}
  - {at: 1 min, fault: probe-spike}
  - {at: 1 min, fault: probe-power-on}
  - {at: 1 min, fault: probe-crc}
  - {at: 1 min, fault: probe-shorted}
  - {at: 1 min, fault: probe-out}
  - {at: 1 min, fault: relay-welded}
  - {at: 1 min, fault: relay-open}
  - {at: 1 min, fault: element-half}
  - {at: 1 min, fault: element-dry}
  - {at: 1 min, fault: pump-stopped}
  - {at: 1 min, fault: low-volume}
  - {at: 1 min, fault: drained}
  - {at: 1 min, fault: lid-off}
  - {at: 1 min, fault: cold-water}
  - {at: 1 min, fault: supply-sag}
  - {at: 1 min, fault: power-cut}
  - {at: 1 min, fault: clock-step}
  - {at: 1 min, fault: storage-full}
  - {at: 1 min, fault: storage-error}
  - {at: 1 min, fault: tick-late}
`

func TestEveryFaultOfTheContractHasItsDefault(t *testing.T) {
	script, faults := fault.Parse("f.yaml", []byte(every))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if len(script) != 25 {
		t.Fatalf("%d faults read, 25 written", len(script))
	}
	for i, f := range script {
		if want := fault.Kind(i + 1); f.Kind != want {
			t.Errorf("entry %d is %v, want %v", i, f.Kind, want)
		}
		want := fault.Default(f.Kind)
		want.At, want.Line = fault.Moment{After: time.Minute}, i+2
		if f != want {
			t.Errorf("%v: %+v, want %+v", f.Kind, f, want)
		}
	}
	near := func(what string, got, want float64) {
		if d := got - want; d > 1e-12 || d < -1e-12 {
			t.Errorf("%s is %g, want %g", what, got, want)
		}
	}
	byKind := func(k fault.Kind) fault.Fault { return script[k-1] }
	near("probe-offset, K", float64(byKind(fault.ProbeOffset).Kelvin), 3)
	near("probe-drift, K/h", float64(byKind(fault.ProbeDrift).Drift)*3600, 1)
	near("probe-noise, K", float64(byKind(fault.ProbeNoise).Kelvin), 0.5)
	near("probe-spike, K", float64(byKind(fault.ProbeSpike).Kelvin), 20)
	near("probe-spike's chance", float64(byKind(fault.ProbeSpike).Chance), 0.05)
	near("low-volume", float64(byKind(fault.LowVolume).Share), 0.35)
	near("drained, L/min", float64(byKind(fault.Drained).Flow)*60, 5)
	near("cold-water, L", float64(byKind(fault.ColdWater).Litres), 5)
	near("supply-sag", float64(byKind(fault.SupplySag).Share), 0.1)
	near("power-cut, s", byKind(fault.PowerCut).For.Seconds(), 600)
	near("clock-step, d", byKind(fault.ClockStep).Duration.Hours()/24, 14)
	near("tick-late, s", byKind(fault.TickLate).Duration.Seconds(), 5)
}

func TestAScriptSaysMomentDurationAndValue(t *testing.T) {
	script, faults := fault.Parse("f.yaml", []byte(`faults:
  - {at: 42 min, fault: relay-welded, for: 10 min}
  - {at: {step: 3, after: 5 min}, fault: probe-offset, value: -2 K}
  - {at: {step: 0}, fault: probe-spike, value: 8 K, chance: 50 %}
`))
	if len(faults) > 0 || len(script) != 3 {
		t.Fatal(script, faults)
	}
	if f := script[0]; f.At != (fault.Moment{After: 42 * time.Minute}) || f.For != 10*time.Minute {
		t.Errorf("%+v", f)
	}
	if f := script[1]; f.At != (fault.Moment{OfStep: true, Step: 3, After: 5 * time.Minute}) || f.Kelvin != -2 || f.For != 0 {
		t.Errorf("%+v", f)
	}
	if f := script[2]; f.At != (fault.Moment{OfStep: true}) || f.Kelvin != 8 || f.Chance != 0.5 {
		t.Errorf("%+v", f)
	}
}

func TestAScriptIsStrict(t *testing.T) {
	for _, c := range []struct{ text, place, want string }{
		{"fault: []\n", "f.yaml:1:", "write faults"},
		{"faults:\n  - {at: 1 min, fault: relay-weld}\n", "f.yaml:2:", "write relay-welded"},
		{"faults:\n  - {at: 1 min}\n", "f.yaml:2:", "fault is missing"},
		{"faults:\n  - {fault: lid-off}\n", "f.yaml:2:", "at is missing"},
		{"faults:\n  - {at: 1, fault: lid-off}\n", "f.yaml:2:", "1"},
		{"faults:\n  - {at: 1 min, fault: lid-off, value: 3 K}\n", "f.yaml:2:", "lid-off has no value"},
		{"faults:\n  - {at: 1 min, fault: lid-off, chance: 3 %}\n", "f.yaml:2:", "lid-off has no chance"},
		{"faults:\n  - {at: 1 min, fault: cold-water, for: 3 min}\n", "f.yaml:2:", "at once"},
		{"faults:\n  - {at: 1 min, fault: supply-sag, value: 110 %}\n", "f.yaml:2:", "outside"},
		{"faults:\n  - {at: {step: 33}, fault: lid-off}\n", "f.yaml:2:", "outside"},
		{"faults:\n  - {at: {after: 1 min}, fault: lid-off}\n", "f.yaml:2:", "step is missing"},
	} {
		_, faults := fault.Parse("f.yaml", []byte(c.text))
		found := false
		for _, f := range faults {
			found = found || strings.HasPrefix(f.String(), c.place) && strings.Contains(f.String(), c.want)
		}
		if !found {
			t.Errorf("%q: %v, none of them at %s with %q", c.text, faults, c.place, c.want)
		}
	}
}

func TestAFaultBeginsAtItsMomentAndLastsItsTime(t *testing.T) {
	at := func(m fault.Moment, lasts time.Duration) *fault.Injector {
		return fault.New(fault.Script{{Kind: fault.LidOff, At: m, For: lasts}}, 1)
	}
	when := func(i *fault.Injector) (first, last time.Duration) {
		first = -1
		for now := time.Duration(0); now < 10*time.Minute; now += time.Second {
			switch now {
			case 10 * time.Second:
				i.Armed(now)
			case 60 * time.Second:
				i.Started(1, now)
			case 90 * time.Second:
				i.Reached(1, now)
				i.Started(2, now)
			case 120 * time.Second:
				i.Reached(2, now)
			case 300 * time.Second: // a step gone back to begins its faults no second time
				i.Armed(now)
				i.Started(2, now)
				i.Reached(2, now)
			}
			if i.At(now).LidOff {
				if first < 0 {
					first = now
				}
				last = now
			}
		}
		return first, last
	}
	for _, c := range []struct {
		name        string
		moment      fault.Moment
		lasts       time.Duration
		first, last time.Duration
	}{
		{"from arming", fault.Moment{After: 5 * time.Second}, 3 * time.Second, 15 * time.Second, 17 * time.Second},
		{"for good", fault.Moment{}, 0, 10 * time.Second, 599 * time.Second},
		{"from reaching a step", fault.Moment{OfStep: true, Step: 2, After: time.Second}, time.Minute, 121 * time.Second, 180 * time.Second},
		{"from the start of a step that reaches nothing", fault.Moment{OfStep: true, Step: 1}, time.Minute, 60 * time.Second, 119 * time.Second},
		{"of a step that never comes", fault.Moment{OfStep: true, Step: 7}, time.Minute, -1, 0},
		{"of a step that cannot be", fault.Moment{OfStep: true, Step: 700}, time.Minute, -1, 0},
	} {
		if first, last := when(at(c.moment, c.lasts)); first != c.first || last != c.last {
			t.Errorf("%s: at work from %v to %v, want %v to %v", c.name, first, last, c.first, c.last)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(every))
	f.Add([]byte("faults:\n  - {at: {step: 3, after: 5 min}, fault: probe-offset, value: 3 K}\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		script, _ := fault.Parse("f.yaml", text)
		i := fault.New(script)
		i.Armed(0)
		for now := range 20 {
			i.At(time.Duration(now) * time.Second)
		}
	})
}
