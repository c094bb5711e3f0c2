package ahead_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile"
	"mashward/sim/kettles"
)

// everyTick looks at a day in each tick.
type everyTick struct {
	*looker
	look func(*loop.Frame)
}

func (e everyTick) Watch(f *loop.Frame) { e.looker.Watch(f); e.look(f) }

// Over a whole day: what is forecast is in order and inside its band, nothing lies in
// the past, a moment keeps its name, and what has begun has its true start.
func TestAForecastIsInOrderAllDay(t *testing.T) {
	b, err := prepare(3, wholeDay)
	if err != nil {
		t.Fatal(err)
	}
	l := &looker{b: b, presses: map[string]time.Duration{}}
	names := map[string]bool{}
	starts := map[uint8]time.Duration{}
	check := func(f *loop.Frame) {
		for _, e := range f.Decision.Events[:f.Decision.Count] {
			if e.Kind == controller.StepStarted {
				starts[e.Step] = f.Decision.Clock
			}
		}
		fc, ok := b.day.From(f.State)
		if ok != (f.Decision.Mode == controller.Running) {
			t.Fatalf("%v: %v", f.Decision.Mode, ok)
		}
		if !ok {
			return
		}
		if s := fc.Steps[0]; s.Index != f.Decision.Index || s.Start.At > f.Decision.Clock && f.Decision.Stage != controller.Pour {
			t.Fatalf("at %v in step %d the first step is %+v", f.Decision.Clock, f.Decision.Index, s)
		}
		orderly(t, &fc)
		for _, m := range fc.Moments {
			names[fmt.Sprint(m.Step, m.Of)] = true
		}
	}
	b.run.Watchers = append(b.run.Watchers, everyTick{l, check})
	if r, err := b.run.Go(); err != nil || r.Outcome != "complete" {
		t.Fatal(err, r.Outcome)
	}
	got := make([]string, 0, len(names))
	for n := range names {
		got = append(got, n)
	}
	slices.Sort(got)
	want := []string{"0pour", "5lift", "6addition-1", "6addition-2", "6break", "6chiller", "6loop", "7chill", "7end"}
	if !slices.Equal(got, want) {
		t.Errorf("the moments of the day are %q, want %q", got, want)
	}
}

func orderly(t *testing.T, f *ahead.Forecast) {
	t.Helper()
	inside := func(what string, s ahead.Span) {
		if s.Early > s.At || s.At > s.Late || s.At < 0 {
			t.Fatalf("made at %v: %s is %+v", f.Made, what, s)
		}
	}
	last := time.Duration(0)
	for _, s := range f.Steps {
		inside("a start", s.Start)
		inside("a target", s.Reached)
		inside("an end", s.End)
		if s.Start.At < last-time.Minute || s.End.At < s.Start.At {
			t.Fatalf("made at %v: step %d from %v to %v comes after %v", f.Made, s.Index, s.Start.At, s.End.At, last)
		}
		last = s.End.At
	}
	if f.Finish.At != last || f.Finish.Early < f.Made {
		t.Fatalf("made at %v: the finish %+v is not the end of the last step, %v", f.Made, f.Finish, last)
	}
	for i, m := range f.Moments {
		inside(m.Of, m.Span)
		if m.Early < f.Made || m.What == "" || i > 0 && m.At < f.Moments[i-1].At {
			t.Fatalf("made at %v: moment %+v", f.Made, m)
		}
		if m.Addition != (len(m.Of) > 8 && m.Of[:8] == "addition") {
			t.Fatalf("%+v", m)
		}
	}
	if f.EnergyLow > f.Energy || f.Energy > f.EnergyHigh || f.EnergyLow < 0 {
		t.Fatalf("energy %v in %v to %v", f.Energy, f.EnergyLow, f.EnergyHigh)
	}
}

// Before the first tick, and when the day is over, there is nothing to say; of a
// target that full power cannot reach by what was learned neither.
func TestWhereNothingCanBeSaidNothingIs(t *testing.T) {
	b, err := prepare(3, rehearse.FourRests)
	if err != nil {
		t.Fatal(err)
	}
	s := controller.Initial()
	if _, ok := b.day.From(&s); ok {
		t.Error("a forecast of a batch that has not begun")
	}
	core := controller.Core{Config: b.day.Config}
	tick := controller.Tick{Now: time.Second, Command: controller.Command{Wish: controller.Start}}
	s, _ = core.Step(s, tick)
	f, ok := b.day.From(&s)
	if !ok || f.Finish.At < time.Hour {
		t.Fatalf("at the start: %v, %+v", ok, f.Finish)
	}
	ended := s
	ended.Mode = controller.Complete
	if _, ok := b.day.From(&ended); ok {
		t.Error("a forecast of a batch that is over")
	}
	weak := s
	weak.Law.Spare = 0.99
	if f, ok := b.day.From(&weak); ok {
		t.Errorf("a kettle that loses all its power is said to be done at %v", f.Finish.At)
	}
	offered := s
	offered.Mode = controller.Offered
	if g, ok := b.day.From(&offered); !ok || g.Finish != f.Finish {
		t.Errorf("an offered batch: %v %+v", ok, g.Finish)
	}
}

// hopsEverywhere is a whole day in which something goes in at every moment that there is,
// and which no tap cools to its end.
func hopsEverywhere(k kettles.Kettle) profile.Profile {
	p := wholeDay(k)
	for i := range p.Steps {
		s := &p.Steps[i]
		when := profile.ByClock
		switch s.Kind {
		case profile.MashIn:
			s.Additions = append(s.Additions, profile.Addition{When: profile.AtStrike, Add: "salts"})
		case profile.Chill:
			s.Target = k.Declared.Tap
			when = profile.AtOnce
		case profile.Lift:
			when = profile.AtOnce
		}
		s.Additions = append(s.Additions, profile.Addition{When: when, Add: "more"})
	}
	return p
}

// TestEveryMomentOfThePlanIsForecast: all that the plan calls a person for is still to
// come when a batch has just begun, but the filling and what goes in first, which are done.
func TestEveryMomentOfThePlanIsForecast(t *testing.T) {
	b, err := prepare(3, hopsEverywhere)
	if err != nil {
		t.Fatal(err)
	}
	s, _ := (&controller.Core{Config: b.day.Config}).Step(controller.Initial(), controller.Tick{Now: time.Second, Command: controller.Command{Wish: controller.Start}})
	f, ok := b.day.From(&s)
	if !ok {
		t.Fatal("nothing is forecast")
	}
	foreseen := map[string]bool{}
	for _, m := range f.Moments {
		foreseen[fmt.Sprint(m.Step, " ", m.Of)] = true
	}
	for _, p := range b.plan.Persons {
		if name := fmt.Sprint(p.Step, " ", p.Of); p.Of != "fill" && name != "0 addition-1" && !foreseen[name] {
			t.Errorf("%s is not forecast: %s", name, p.What)
		}
	}
}
