package controller_test

import (
	"testing"

	"mashward/controller"
	"mashward/profile"
)

// Behind a heat-up the law waits until the reading stands. Where the element has failed
// meanwhile it does not stand, it falls: then heat is asked for before a kelvin is lost,
// so that power without heat shows.
func TestAKettleThatFallsAwayWhileItCoastsIsHeatedBeforeAKelvinIsLost(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	x.until(t, "coasting", 10*minute, func() bool { return x.s.Law.Way == controller.Coast })
	x.answers, x.k.power, x.k.loss = false, 0, 12
	since, target := x.now, float64(x.d.Target)
	x.until(t, "full power", 20*minute, func() bool { return x.s.Law.Way == controller.Full })
	if lost := target - x.k.at; lost > 1 || x.tick().Duty < 1 {
		t.Errorf("%.2f K lost after %v, duty %v", lost, x.now-since, x.d.Duty)
	}
}
