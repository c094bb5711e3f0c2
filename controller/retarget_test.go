package controller_test

import (
	"math"
	"testing"

	"mashward/controller"
	"mashward/controller/unit"
)

func retarget(step uint8, to unit.Celsius) controller.Command {
	return controller.Command{Wish: controller.Retarget, Step: step, At: to}
}

// Nothing is made hotter than the hottest that was armed, whatever was changed before;
// what lies behind, and what is no rest, is left alone.
func TestNoTargetIsMadeHotterThanWhatWasArmed(t *testing.T) {
	x := resting(t) // step 2, of a day whose hottest is the mash-out
	c := &x.core.Config
	const hottest unit.Celsius = 77
	for _, row := range []struct {
		step uint8
		to   unit.Celsius
		want controller.Refusal
	}{
		{0, hottest, controller.NotRefused},
		{0, hottest + 0.01, controller.HotterThanArmed},
		{2, 200, controller.HotterThanArmed},
		{3, hottest + 0.01, controller.HotterThanArmed},
		{3, hottest, controller.NotRefused},
		{0, 0, controller.NeedsFigure},
		{0, unit.Celsius(math.NaN()), controller.NeedsFigure},
		{0, c.Room, controller.NeedsFigure},
		{0, -5, controller.NeedsFigure},
		{1, 50, controller.WrongStage},
		{c.Count, 50, controller.WrongStage},
		{255, 50, controller.WrongStage},
		{6, 50, controller.NoRest},
		{3, 60, controller.NotRefused},
	} {
		y := x.from()
		before := y.s.Steps
		y.refuse(t, retarget(row.step, row.to), row.want)
		if changed := y.s.Steps != before; changed != (row.want == controller.NotRefused) {
			t.Errorf("step %d to %v: changed %v", row.step, row.to, changed)
		}
	}
	y := x.from()
	y.order(retarget(3, hottest))
	y.refuse(t, retarget(3, hottest+0.01), controller.HotterThanArmed) // a change does not make room for the next
}

// A rest that is made hotter is heated, keeps what it has earned, and does not go over
// the new target by more than a rest may.
func TestARestGoesOnAtItsNewTarget(t *testing.T) {
	for _, by := range []unit.Celsius{3, -2} {
		x := resting(t).run(10 * minute)
		earned, to := x.d.Earned, x.d.Target+by
		if why := x.order(retarget(0, to)); why != controller.NotRefused {
			t.Fatal(why)
		}
		if x.d.Target != to || x.d.Stage != controller.Heat || x.d.Reached || x.d.Earned < earned || x.d.Earned > earned+2*tick {
			t.Fatalf("%v: %v at %v, %v earned of %v", by, x.d.Stage, x.d.Target, x.d.Earned, earned)
		}
		if n := x.count(controller.TargetChanged, float64(to)); n != 1 {
			t.Errorf("it is said %d times", n)
		}
		x.until(t, "its time", 6*60*minute, func() bool { return x.d.Stage == controller.Count })
		if over := x.k.at - float64(to); over > 0.5 {
			t.Errorf("%v: %.2f K over when its clock goes on", by, over)
		}
		x.until(t, "the next rest", 3*60*minute, func() bool { return x.d.Index == 3 })
		for _, l := range x.log {
			if l.Kind == controller.StepEnded && l.Step == 2 {
				near(t, "minutes earned", l.Value/60, 35, 0.05)
			}
		}
		if x.core.Config.Steps[2].Target != to-by {
			t.Error("the profile itself was changed")
		}
	}
}

// A later step is changed where it stands, and longer too.
func TestALaterStepIsChangedBeforeItBegins(t *testing.T) {
	x := resting(t)
	stage, target := x.d.Stage, x.d.Target
	if why := x.order(retarget(3, 68)); why != controller.NotRefused {
		t.Fatal(why)
	}
	length := x.s.Steps[3].For
	if why := x.order(controller.Command{Wish: controller.Extend, Step: 3, By: 5 * minute}); why != controller.NotRefused {
		t.Fatal(why)
	}
	x.refuse(t, controller.Command{Wish: controller.Extend, Step: 3, By: -length - 6*minute}, controller.TooShort)
	x.refuse(t, controller.Command{Wish: controller.Extend, Step: 1, By: minute}, controller.WrongStage)
	if x.d.Stage != stage || x.d.Target != target || x.s.Steps[3].For != length+5*minute {
		t.Errorf("%v at %v, step 3 for %v", x.d.Stage, x.d.Target, x.s.Steps[3].For)
	}
	x.until(t, "step 3", 3*60*minute, func() bool { return x.d.Index == 3 })
	if x.d.Target != 68 {
		t.Errorf("it is at %v", x.d.Target)
	}
}
