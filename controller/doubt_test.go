package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// With 22 L in the kettle where 26 L are declared, the water heats 18 % faster:
// it is said once, before the grain goes in, and stands as an alarm until then.
func TestWaterThatHeatsOtherwiseThanDeclaredIsSaidBeforeTheGrain(t *testing.T) {
	for name, row := range map[string]struct {
		factor float64
		said   bool
	}{"as declared": {1, false}, "5 % off": {1.05, false}, "a sixth faster": {1.18, true}, "a quarter slower": {0.75, true}} {
		c := sampleConfig()
		c.Power = unit.Watts(float64(c.Power) / row.factor)
		x := along(t, c, profile.Strike, controller.Ready)
		if got := x.count(controller.LoadDoubted, 0) + len(x.times(controller.LoadDoubted)); (got > 0) != row.said {
			t.Errorf("%s: said %v times; want said %v", name, got, row.said)
		}
		if n := len(x.times(controller.LoadDoubted)); n > 1 {
			t.Errorf("%s: said %d times; want once", name, n)
		}
		if x.d.Alarms[controller.AlarmDeclared] != row.said {
			t.Errorf("%s: alarm %v; want %v", name, x.d.Alarms[controller.AlarmDeclared], row.said)
		}
		x.allow(t, controller.PouringNow).allow(t, controller.GrainIn)
		x.run(time.Minute)
		if x.d.Alarms[controller.AlarmDeclared] {
			t.Errorf("%s: the alarm still stands with the grain in", name)
		}
	}
}
