package observer

import (
	"bytes"
	"encoding/json"
	"math"
	"os/exec"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/deploy/yardstick"
)

// sample is a kettle of 26 L with 3 kW and a mash in it.
func sample() Model {
	return Model{
		Power: 2930, Element: 8 * time.Second, Heated: 42e3, Mash: 75e3, Exchange: 410, Loss: 7.2, Room: 17,
		Probe: 11 * time.Second, Delay: 9 * time.Second,
	}
}

// reference is what SciPy makes of the same model: expm for a second with the
// input held, and solve_discrete_are for the gain.
const reference = `
import json, sys
import numpy as np
from scipy.linalg import expm, solve_discrete_are
m = json.load(sys.stdin)
A = np.array(m["a"]); B = np.array(m["b"]); Q = np.array(m["q"]); r = m["r"]
n = len(A)
M = np.zeros((n+1, n+1)); M[:n,:n] = A; M[:n,n] = B
E = expm(M)
Ad, Bd = E[:n,:n], E[:n,n]
k = [i for i in range(n) if i != 5]
Ar = Ad[np.ix_(k, k)]
H = np.zeros((1, len(k))); H[0,3] = 1
S = solve_discrete_are(Ar.T, H.T, Q[np.ix_(k, k)], np.array([[r]]))
K = (S @ H.T / (H @ S @ H.T + r))[:,0]
json.dump({"ad": Ad.tolist(), "bd": Bd.tolist(), "k": K.tolist()}, sys.stdout)
`

// TestDiscretisationAndGainAgreeWithSciPy: 1e-10 and 1e-6, relative to the
// largest figure of each.
func TestDiscretisationAndGainAgreeWithSciPy(t *testing.T) {
	if err := exec.Command("/usr/bin/python3", "-c", "import scipy.linalg").Run(); err != nil {
		yardstick.Missing(t, "the discretisation and the gain are not compared with SciPy's: apt-get install python3-scipy")
	}
	for name, change := range map[string]func(*Model){
		"as it is":         func(*Model) {},
		"probe in the bed": func(m *Model) { m.InMash = true },
		"fast exchange":    func(m *Model) { m.Exchange = 4000 },
		"slow exchange":    func(m *Model) { m.Exchange = 90 },
		"large kettle":     func(m *Model) { m.Heated, m.Mash, m.Power = 160e3, 300e3, 5600 },
		"no loss":          func(m *Model) { m.Loss = 0 },
	} {
		m := sample()
		change(&m)
		compare(t, name, m)
	}
}

func compare(t *testing.T, name string, m Model) {
	t.Helper()
	a, b := continuous(m)
	var q Matrix
	d := Steering()
	p := float64(m.Power)
	q[power][power], q[heated][heated], q[mash][mash], q[probe][probe] = 1e-6*p*p, d.Temperature, d.Temperature, d.Probe
	q[extra][extra] = d.Extra * p * p
	in, err := json.Marshal(map[string]any{"a": a, "b": b, "q": q, "r": 0.07 * 0.07})
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-c", reference)
	cmd.Stdin = bytes.NewReader(in)
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s: SciPy: %v", name, err)
	}
	var want struct {
		Ad [][]float64
		Bd []float64
		K  []float64
	}
	if err := json.Unmarshal(out, &want); err != nil {
		t.Fatal(err)
	}
	f, ok := New(m, d)
	if !ok {
		t.Fatalf("%s: no filter", name)
	}
	for i := range f.Carry {
		for j := range f.Carry {
			if diff := math.Abs(f.Carry[i][j] - want.Ad[i][j]); diff > 1e-10*math.Max(1, math.Abs(want.Ad[i][j])) {
				t.Errorf("%s: step[%d][%d] is %v; SciPy has %v", name, i, j, f.Carry[i][j], want.Ad[i][j])
			}
		}
		if diff := math.Abs(f.Input[i] - want.Bd[i]); diff > 1e-10*math.Max(1, math.Abs(want.Bd[i])) {
			t.Errorf("%s: input[%d] is %v; SciPy has %v", name, i, f.Input[i], want.Bd[i])
		}
	}
	for i := range want.K {
		if diff := math.Abs(f.Gain[i] - want.K[i]); diff > 1e-6*math.Max(1e-3, math.Abs(want.K[i])) {
			t.Errorf("%s: gain[%d] is %v; SciPy has %v", name, i, f.Gain[i], want.K[i])
		}
	}
}

// run lets the model itself, without noise, answer to a schedule.
func run(f *Filter, from unit.Celsius, seconds int, on func(int) bool) (truth []Vector, readings []unit.Celsius) {
	x := Begin(from).X
	var past []Vector
	for t := range seconds {
		x = f.Carry.apply(&x)
		if on(t) {
			for i := range x {
				x[i] += f.Input[i]
			}
		}
		past = append(past, x)
		seen := past[max(0, t-int(f.Delay))]
		if t < int(f.Delay) {
			seen = Begin(from).X
		}
		truth, readings = append(truth, x), append(readings, unit.Celsius(seen[probe]))
	}
	return truth, readings
}

func TestTheObserverSeesItsOwnModelNowAndNotLate(t *testing.T) {
	f, ok := New(sample(), Steering())
	if !ok {
		t.Fatal("no filter")
	}
	on := func(t int) bool { return t > 30 && t < 700 || t > 900 && t%9 == 0 }
	truth, readings := run(&f, 44, 1800, on)
	s := Begin(44)
	for i, y := range readings {
		s = f.Step(s, unit.RelayOf(on(i)), y, true)
		x := f.Now(s)
		// The start is not a steady state of the model (it loses heat), so the
		// first minutes are for settling.
		if i > 600 && math.Abs(x[mash]-truth[i][mash]) > 0.02 {
			t.Fatalf("after %d s the mash is seen at %.3f °C and is at %.3f °C", i, x[mash], truth[i][mash])
		}
	}
	if s.Residual() > 0.01 {
		t.Errorf("residual %.4f K on its own model", float64(s.Residual()))
	}
}

func TestPowerThatNobodyDeclaredIsFound(t *testing.T) {
	f, _ := New(sample(), Steering())
	stronger := sample()
	stronger.Loss += 6 // an open lid: 6 W/K more
	g, _ := New(stronger, Steering())
	on := func(t int) bool { return t%8 == 0 }
	truth, readings := run(&g, 63, 5400, on)
	s := Begin(63)
	var x Vector
	for i, y := range readings {
		s = f.Step(s, unit.RelayOf(on(i)), y, true)
		x = f.Now(s)
	}
	want := -6 * (truth[len(truth)-1][heated] - 17)
	if got := float64(f.Extra(&x)); math.Abs(got-want) > 25 {
		t.Errorf("unknown power %.0f W; want %.0f W", got, want)
	}
}

func TestAMeanThatAnswersAtOnce(t *testing.T) {
	f, _ := New(sample(), Steering())
	s := Begin(63)
	before := f.Now(s)
	s = f.Step(s, unit.On, 63, true)
	after := f.Now(s)
	rise := float64(f.Mean(&after) - f.Mean(&before))
	m := f.Model
	want := (float64(m.Power) - float64(m.Loss)*(63-17)) / float64(m.Capacity())
	if math.Abs(rise-want) > 0.05*want {
		t.Errorf("a second of full power raises the mean by %.5f K; want %.5f K", rise, want)
	}
}

func TestFiguresThatCannotBeAKettleAreRefused(t *testing.T) {
	for name, spoil := range map[string]func(*Model){
		"no power":   func(m *Model) { m.Power = 0 },
		"NaN":        func(m *Model) { m.Loss = unit.WattsPerKelvin(math.NaN()) },
		"no mash":    func(m *Model) { m.Mash = 0 },
		"long delay": func(m *Model) { m.Delay = MostDelay + time.Second },
		"no lag":     func(m *Model) { m.Probe = 0 },
		"infinite":   func(m *Model) { m.Heated = unit.JoulesPerKelvin(math.Inf(1)) },
	} {
		m := sample()
		spoil(&m)
		if _, ok := New(m, Steering()); ok {
			t.Errorf("%s: accepted", name)
		}
	}
}

func TestANewFilterIsCheapEnoughForATick(t *testing.T) {
	if n := testing.AllocsPerRun(10, func() { New(sample(), Steering()) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkNew(b *testing.B) {
	for range b.N {
		New(sample(), Steering())
	}
}

func BenchmarkStepAndNow(b *testing.B) {
	f, _ := New(sample(), Steering())
	s := Begin(63)
	for range b.N {
		s = f.Step(s, unit.On, 63, true)
		x := f.Now(s)
		_ = f.Mean(&x)
	}
}
