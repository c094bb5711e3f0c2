package gravity

import (
	"math"
	"math/rand/v2"
	"testing"

	"mashward/controller/unit"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if d := math.Abs(got - want); !(d <= tolerance) {
		t.Errorf("%s: got %.7g, want %.7g within %g", what, got, want, tolerance)
	}
}

// asbc is the polynomial that the methods of the ASBC are quoted with: °P of a
// specific gravity 20/20, rms 0.0006 °P.
func asbc(s float64) float64 { return ((135.997*s-630.272)*s+1111.14)*s - 616.868 }

// sucrose is the specific gravity 20/20 in air of a sucrose solution, after
// ICUMSA's density of 1974 at 20 °C, kg/m³ (coefficients from memory; the test
// below holds them against a printed figure). Plato's table is of sucrose.
func sucrose(plato float64) float64 {
	const water, air = 998.2043, 1.2
	w, sum := plato/100, 0.0
	for _, b := range [...]float64{-17.2890, 13.4853, -3.9643, 40.9299, 135.3705, 385.1761} {
		sum = (sum + b) * w
	}
	return (water + sum - air) / (water - air)
}

func TestPlatoAndGravityAgreeWithPublishedTables(t *testing.T) {
	// An encyclopedia's article on Brix: 1.040 (20/20) is 9.99359 °P and 9.99325 °Bx.
	near(t, "1.040 in °P", float64(PlatoOf(1.040)), 9.99359, 0.002)
	near(t, "9.99325 °Bx by ICUMSA", sucrose(9.99325), 1.040, 0.000005)
	for p := 0.0; p <= 25; p += 0.5 {
		near(t, "gravity by ICUMSA's density", float64(GravityOf(unit.Plato(p))), sucrose(p), 0.00005)
		s := sucrose(p)
		near(t, "°P by the ASBC's polynomial", float64(PlatoOf(unit.SpecificGravity(s))), asbc(s), 0.005)
	}
	// The catalogue's formula as it is printed, at the strengths of a table.
	for p, s := range map[unit.Plato]float64{5: 1.01967, 8: 1.03180, 10: 1.04003, 12: 1.04838, 15: 1.06112, 20: 1.08298, 25: 1.10566} {
		near(t, "the formula", float64(GravityOf(p)), s, 0.000005)
	}
}

func TestScalesComeBackAndRise(t *testing.T) {
	before := unit.SpecificGravity(0)
	for p := unit.Plato(-2); p <= 40; p += 0.01 {
		g := GravityOf(p)
		near(t, "°P there and back", float64(PlatoOf(g)), float64(p), 1e-9)
		if g <= before {
			t.Fatalf("%v °P is not heavier than what is weaker", p)
		}
		before = g
	}
}

// A course for brewers works an example: 482 hL of 15.14 °P and 1.060 kg/L
// hold 7,735 kg of extract. 1.060 kg/L is a gravity of 1.0619 against water of
// 20 °C; their °P come from another polynomial, so that ours are 0.4 % more.
func TestExtractIsVolumeTimesDensityTimesStrength(t *testing.T) {
	w := Wort{Volume: 48200, Gravity: 1.060 / 0.998206}
	near(t, "mass, kg", float64(w.Mass()), 48200*1.060, 0.01)
	near(t, "extract, kg", float64(w.Extract())*15.14/float64(PlatoOf(w.Gravity)), 7735.3, 0.5)
	near(t, "extract by our °P, kg", float64(w.Extract()), 7735, 0.005*7735)
	near(t, "points", Wort{Volume: 482, Gravity: 1.062}.Points(), 29884, 1e-6)
}

func TestPointsAreKeptWhenWaterGoesAndComes(t *testing.T) {
	// 27 L of 1.044 boiled to 23 L: by points 1.05165; by kilograms of extract,
	// solved from the ASBC's polynomial, 1.05161.
	after, err := Wort{Volume: 27, Gravity: 1.044}.With(-4)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "27 L to 23 L", float64(after.Gravity), 1.05165, 0.000005)
	near(t, "27 L to 23 L, by extract", float64(after.Gravity), 1.05161, 0.00005)
	random := rand.New(rand.NewPCG(1, 1))
	for range 2000 {
		w := Wort{Volume: unit.Litres(1 + 99*random.Float64()), Gravity: unit.SpecificGravity(1 + 0.12*random.Float64())}
		other := Wort{Volume: unit.Litres(20 * random.Float64()), Gravity: unit.SpecificGravity(1 + 0.1*random.Float64())}
		water := unit.Litres((2*random.Float64() - 0.8) * float64(w.Volume))
		got, err := w.With(water)
		if err != nil {
			t.Fatal(err)
		}
		if d := math.Abs(got.Points() - w.Points()); d > 1e-9*(1+w.Points()) {
			t.Fatalf("%+v with %v L: %g points were lost", w, water, d)
		}
		if both := w.And(other); math.Abs(both.Points()-w.Points()-other.Points()) > 1e-9*(1+both.Points()) {
			t.Fatalf("%+v and %+v make %+v", w, other, both)
		}
		// Kilograms of extract say the same to 0.0002, where a boil takes a fifth.
		if water < 0 && float64(-water/w.Volume) < 0.2 && got.Gravity < 1.08 {
			kept := float64(w.Extract()) / float64(got.Extract())
			near(t, "gravity by points against extract", float64(got.Gravity-1)*kept, float64(got.Gravity-1), 0.0002)
		}
	}
	if _, err := (Wort{Volume: 5, Gravity: 1.05}).With(-5); err == nil {
		t.Error("all the wort was boiled off")
	}
}
