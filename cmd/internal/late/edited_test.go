package late

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// warm is a day by hand: up from 20 to 60 °C in 40 min, a kelvin a minute, and 20 min
// there. Power and loss are such that the plan's law is a straight line.
func warm() Planned {
	return Planned{Power: 3000, Room: 20, Finishes: time.Hour, Steps: []PlannedStep{
		{Index: 1, Kind: profile.Rest, From: 20, Target: 60, Reached: 40 * time.Minute, End: time.Hour},
	}}
}

// up feeds a heat-up of a kelvin a minute to a target, from a clock on.
func up(l *Ledger, s *Second, to unit.Celsius) {
	s.Stage, s.Target, s.HasTarget, s.HasEstimate, s.Duty, s.Applied = controller.Heat, to, true, true, 1, unit.On
	for ; s.Estimate < to-1e-6; s.Estimate += 1. / 60 {
		l.Take(s)
		s.Clock += time.Second
	}
	s.Reached = true
}

// rest feeds a rest to its end.
func rest(l *Ledger, s *Second, to time.Duration) {
	s.Stage, s.Duty, s.Applied = controller.Count, 0, unit.Off
	for ; s.Earned < to; s.Earned += time.Second {
		l.Take(s)
		s.Clock += time.Second
	}
}

func begun() *Second {
	return &Second{Mode: controller.Running, Index: 1, Kind: profile.Rest, For: 20 * time.Minute, Estimate: 20}
}

func sums(t *testing.T, l *Ledger) (late time.Duration, by [Causes]time.Duration) {
	t.Helper()
	a, known := l.Account()
	if !known {
		t.Fatal("not known")
	}
	total, again, _ := l.By()
	if by = a.By(); by != again || total != a.Late {
		t.Errorf("%v, and %v", by, again)
	}
	return a.Late, by
}

// A rest that is ten minutes longer without a person's press is the changed day's, at
// once, and no more of it comes at its end.
func TestADayThatWasChangedIsNobodysFault(t *testing.T) {
	l, s := New(warm()), begun()
	up(l, s, 60)
	if late, by := sums(t, l); late.Abs() > 2*time.Second {
		t.Fatalf("as planned it is %v late: %v", late, by)
	}
	rest(l, s, 5*time.Minute)
	s.For = 30 * time.Minute
	l.Take(s)
	if late, by := sums(t, l); by[Profile] != 10*time.Minute || (late-10*time.Minute).Abs() > 2*time.Second {
		t.Errorf("%v late at once: %v", late, by)
	}
	rest(l, s, 30*time.Minute)
	if late, by := sums(t, l); by[Profile] != 10*time.Minute || (late-10*time.Minute).Abs() > 2*time.Second {
		t.Errorf("%v late at its end: %v", late, by)
	}
}

// A boil that is made longer by as much as an addition came late is the person's.
func TestABoilThatIsLongerByADelayIsThePersons(t *testing.T) {
	p := Planned{Power: 3000, Room: 20, Boiling: 100, Finishes: time.Hour, Steps: []PlannedStep{
		{Index: 1, Kind: profile.Boil, From: 100, Target: 100, End: time.Hour},
	}}
	l, s := New(p), &Second{Mode: controller.Running, Index: 1, Kind: profile.Boil, For: time.Hour, Estimate: 100, HasEstimate: true, Stage: controller.Boil}
	tick := func() {
		l.Take(s)
		s.Clock += time.Second
	}
	for ; s.Earned < time.Hour; s.Earned += time.Second {
		tick()
		if s.Earned == 30*time.Minute {
			s.Command, s.Events, s.For = controller.Command{Wish: controller.ExtendByDelay}, []controller.Event{{Kind: controller.Accepted}}, s.For+7*time.Minute
			tick()
			s.Command, s.Events = controller.Command{}, nil
			if _, by := sums(t, l); by[Person] != 7*time.Minute || by[Profile] != 0 {
				t.Errorf("at once: %v", by)
			}
		}
	}
	if late, by := sums(t, l); by[Person] != 7*time.Minute || by[Profile] != 0 || (late-7*time.Minute).Abs() > 3*time.Second {
		t.Errorf("%v late at its end: %v", late, by)
	}
}

// A chill that falls no more waits for whoever ends it; until it asks, it is the chiller's.
func TestAChillThatFallsNoMoreWaitsForAPerson(t *testing.T) {
	p := Planned{Power: 3000, Room: 20, Boiling: 100, Finishes: 20 * time.Minute, Steps: []PlannedStep{
		{Index: 1, Kind: profile.Chill, From: 100, Target: 20, Reached: 20 * time.Minute, End: 20 * time.Minute},
	}}
	l, s := New(p), &Second{Mode: controller.Running, Index: 1, Kind: profile.Chill, Estimate: 25, HasEstimate: true, Stage: controller.Cool, HasTarget: true, Target: 20}
	tick := func(n time.Duration) {
		for range n / time.Second {
			l.Take(s)
			s.Clock += time.Second
		}
	}
	tick(30 * time.Minute)
	_, before := sums(t, l)
	s.Prompt = controller.AskColdest
	tick(6 * time.Minute)
	if _, by := sums(t, l); by[Person] != 6*time.Minute || by[Water] != before[Water] {
		t.Errorf("%v, before it asked %v", by, before)
	}
}

// A target ten kelvin higher takes ten minutes more, and they are the changed day's too;
// one that is ten lower brings as much back.
func TestATargetThatWasChangedIsTheChangedDays(t *testing.T) {
	for to, want := range map[unit.Celsius]time.Duration{70: 10 * time.Minute, 50: -10 * time.Minute} {
		l, s := New(warm()), begun()
		up(l, s, to)
		rest(l, s, time.Minute)
		late, by := sums(t, l)
		if (by[Profile]-want).Abs() > 3*time.Second || (late-want).Abs() > 3*time.Second {
			t.Errorf("to %v °C: %v late, %v", to, late, by)
		}
	}
}

// Ten minutes more of a rest to come are the person's who asked for them, from its start
// on; five that it was shortened by besides are the changed day's.
func TestARestToComeThatIsMadeLongerIsThePersonsWhenItBegins(t *testing.T) {
	p := warm()
	p.Steps = append(p.Steps, PlannedStep{Index: 2, Kind: profile.Rest, From: 60, Target: 60, Start: time.Hour, Reached: time.Hour, End: 80 * time.Minute})
	p.Finishes = 80 * time.Minute
	l, s := New(p), begun()
	up(l, s, 60)
	rest(l, s, 5*time.Minute)
	s.Command, s.Events = controller.Command{Wish: controller.Extend, Step: 2, By: 10 * time.Minute}, []controller.Event{{Kind: controller.Accepted}}
	l.Take(s)
	s.Command, s.Events = controller.Command{}, nil
	rest(l, s, 20*time.Minute)
	if late, by := sums(t, l); late.Abs() > 2*time.Second || by[Person] != 0 {
		t.Errorf("%v late before it begins: %v", late, by)
	}
	s.Index, s.Earned, s.For = 2, 0, 25*time.Minute
	l.Take(s)
	if late, by := sums(t, l); by[Person] != 10*time.Minute || by[Profile] != -5*time.Minute || (late-5*time.Minute).Abs() > 3*time.Second {
		t.Errorf("%v late: %v", late, by)
	}
	rest(l, s, 25*time.Minute)
	if late, by := sums(t, l); by[Person] != 10*time.Minute || (late-5*time.Minute).Abs() > 3*time.Second {
		t.Errorf("%v late at its end: %v", late, by)
	}
}
