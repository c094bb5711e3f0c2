package observer

import (
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
)

// poured is a mash of some 25 L, its parts apart as in a heat-up.
func poured(t *testing.T) (*Filter, State) {
	t.Helper()
	m := Model{
		Power: 3000, Element: 8 * time.Second, Heated: 48e3, Mash: 72e3, Exchange: 900, Loss: 7, Room: 18,
		Probe: 12 * time.Second, Delay: 4 * time.Second,
	}
	f, ok := New(m, Steering())
	if !ok {
		t.Fatal("no filter")
	}
	s := Begin(60)
	for range 120 {
		s = f.Step(s, unit.On, 60, false)
	}
	return &f, s
}

// By the method of mixtures no heat is lost: the mean of all that stands there is
// that of the parts, whatever ran where. 12.5 kJ/K at 12 °C.
func TestPouredLosesNoHeat(t *testing.T) {
	f, s := poured(t)
	const c = 12.5e3
	g, ok := New(f.Model.With(f.Model.Capacity()+c), Steering())
	if !ok {
		t.Fatal("no filter")
	}
	before := float64(f.Mean(&s.X))
	after := f.Poured(s, c, 12, &g)
	if want := (120e3*before + c*12) / 132.5e3; math.Abs(float64(g.Mean(&after.X))-want) > 1e-9 {
		t.Errorf("mean %.6f °C, want %.6f", float64(g.Mean(&after.X)), want)
	}
	if g.Heated(&after.X) >= g.Mash(&after.X) || after.X[probe] != s.X[probe] {
		t.Errorf("heated part %.2f, mash %.2f °C: it goes into the heated part, and shows there first", float64(g.Heated(&after.X)), float64(g.Mash(&after.X)))
	}
}

// A model that is scaled as a whole foresees the same readings and the same mean.
func TestScaledForeseesTheSame(t *testing.T) {
	f, s := poured(t)
	s.X[extra] = -80
	g, ok := New(f.Model.Scaled(0.8), Steering())
	if !ok {
		t.Fatal("no filter")
	}
	u := s.Scaled(0.8)
	for i := range 900 {
		on := unit.RelayOf(i%3 == 0)
		reading := unit.Celsius(64 + math.Sin(float64(i)/60))
		s, u = f.Step(s, on, reading, true), g.Step(u, on, reading, true)
		if d := float64(f.Mean(&s.X) - g.Mean(&u.X)); math.Abs(d) > 0.02 {
			t.Fatalf("after %d s the means are %.4f K apart", i, d)
		}
	}
	if math.Abs(float64(g.Extra(&u.X)/f.Extra(&s.X))-0.8) > 0.02 {
		t.Errorf("extra %v and %v W", f.Extra(&s.X), g.Extra(&u.X))
	}
}
