package controller_test

import (
	"math"
	"testing"

	"mashward/controller"
	"mashward/profile"
)

// By hand: 7 W/K x 80.8 K = 566 W, 6 W/(m² K) x 0.126 m² x 80.8 K = 61 W and 1500 W
// of steam are 2127 W.
func TestTheVigourGoesByThePowerAndTheLossThatTheDayHasShown(t *testing.T) {
	c := sampleConfig()
	c.Steps[6].Duty, c.Steps[6].Steam = 0.7, 1500
	x := along(t, c, profile.Boil, controller.Boil)
	const all = 7*80.8 + 6*0.126*80.8 + 1500
	for name, one := range map[string]struct{ gain, spare, want float64 }{
		"as declared":                  {1, 0, all / 3000},
		"a rise nearly as declared":    {1.04, 0, all / 3000},
		"mains 5 % high":               {1.10, 0, all / 3300},
		"more than mains can be":       {0.70, 0, all / 3000},
		"a rest took 2 % more to keep": {1, 0.02, all/3000 + 0.02*80.8/(77-18)},
		"a rest took far more":         {1, 0.2, 0.7 * 1.25},
	} {
		y := x.from()
		y.s.Law.Gain, y.s.Law.Spare, y.s.Law.SpareAt = one.gain, one.spare, 77
		y.tick()
		if got := float64(y.d.Duty); math.Abs(got-one.want) > 1e-3 {
			t.Errorf("%s: duty %.4f, want %.4f", name, got, one.want)
		}
	}
	c.Steps[6].Duty = 1 // more than the element can
	if y := along(t, c, profile.Boil, controller.Boil); y.tick().Duty != 1 {
		t.Errorf("duty %v of an element that is too weak", y.d.Duty)
	}
}
