package ahead_test

import (
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

var night = flag.Bool("night", false, "judge the forecasts on hundreds of random kettles instead of some")

// wholeDay is a day for any kettle: four rests, lift, an hour's boil, chill.
func wholeDay(k kettles.Kettle) profile.Profile {
	p := rehearse.FourRests(k)
	p.Steps = append(p.Steps, profile.Step{Kind: profile.Lift},
		profile.Step{Kind: profile.Boil, For: time.Hour, Additions: []profile.Addition{
			{Left: time.Hour, Add: "hops"}, {Left: 10 * time.Minute, Add: "finings"}, {Left: 10 * time.Minute, Add: "more hops"},
		}},
		profile.Step{Kind: profile.Chill, Target: 22})
	return p
}

// A site's mains lie within 5 % of the nominal voltage, so that power lies within
// 10 %, and those of a day within 1.5 % of the site's (common practice, no source).
const (
	siteMains = 0.05
	dayMains  = 0.015
)

// brew is one day on the random kettle of a seed, every second seed after a water
// test on another day.
type brew struct {
	seed   uint64
	tuned  bool
	rig    config.Rig
	plan   plan.Plan
	run    rehearse.Run
	kettle *rehearse.Simulated
	day    ahead.Day
}

// errTooWeak is for a kettle that no such day can be planned on.
var errTooWeak = errors.New("this kettle cannot do this day")

func prepare(seed uint64, of func(kettles.Kettle) profile.Profile) (*brew, error) {
	k := kettles.Random(seed)
	chance := rand.New(rand.NewPCG(seed, 0x6168656164))
	spread := func(of float64) float64 { return 1 + of*(2*chance.Float64()-1) }
	site := 230 * spread(siteMains)
	b := &brew{seed: seed, tuned: seed%2 == 0, rig: rehearse.RigOf(k, plan.RelayKind(seed/2%2))}
	k.Plant.Supply.Actual = unit.Volts(site * spread(dayMains))
	if b.tuned {
		var err error
		if b.rig, _, err = rehearse.TuneRandom(k, b.rig, seed); err != nil {
			return nil, err
		}
	}
	k.Plant.Supply.Actual = unit.Volts(site * spread(dayMains))
	p := of(k)
	d, problems := plan.Make(p, b.rig.PlanKettle())
	if plan.Refused(problems) {
		return nil, errTooWeak
	}
	b.plan = d
	b.kettle = &rehearse.Simulated{Bench: sim.NewBench(sim.New(k.Plant, k.Load, seed+7), nil, seed)}
	b.run = rehearse.On(b.rig, p, d, b.kettle)
	b.run.Bare = true
	b.day = ahead.Day{Config: rehearse.Core(p, d), Plan: d}
	b.day.Config.Model = b.run.Model
	return b, nil
}

// minute is what was forecast at one minute of a day, and what the plan says.
type minute struct {
	f      ahead.Forecast
	at     time.Duration
	rests  time.Duration // fixed ones that are left
	plan   time.Duration // left by the plan, without them
	energy unit.Joules   // that has gone in
	stage  controller.Stage
	index  uint8
}

// looker forecasts every minute.
type looker struct {
	b       *brew
	due     time.Duration
	minutes []minute
	ends    [profile.MaxSteps + 1]time.Duration
	presses map[string]time.Duration // when somebody was really needed
	last    time.Duration
	none    int // minutes without a forecast
}

func (l *looker) Watch(f *loop.Frame) {
	d := &f.Decision
	l.last = d.Clock
	for _, e := range d.Events[:d.Count] {
		switch e.Kind {
		case controller.StepEnded:
			l.ends[e.Step] = d.Clock
		case controller.PromptRaised:
			of := map[controller.Prompt]string{
				controller.AskPour: "pour", controller.AskLift: "lift", controller.AskHereLidOff: "break",
				controller.AskScald: "chiller", controller.AskChiller: "chill", controller.AskChillerWater: "chill",
			}[controller.Prompt(e.Value)]
			l.presses[fmt.Sprint(e.Step, of)] = d.Clock
		case controller.AdditionDue:
			l.presses[fmt.Sprint(e.Step, "addition-", int(e.Value)+1)] = d.Clock
		}
	}
	if d.Clock < l.due || d.Mode != controller.Running {
		return
	}
	l.due = d.Clock + time.Minute
	fc, ok := l.b.day.From(f.State)
	if !ok {
		l.none++
		return
	}
	l.minutes = append(l.minutes, minute{
		f: fc, at: d.Clock, rests: restsOf(f.State), plan: l.b.planned(f), energy: l.b.kettle.Energy(), stage: d.Stage, index: d.Index,
	})
}

// planned is what the plan leaves of heating and cooling, aligned by step: the kinder
// way to read it, for a plan that looks only at the clock never makes up for a delay.
func (b *brew) planned(f *loop.Frame) time.Duration {
	left := time.Duration(0)
	for _, s := range b.plan.Steps {
		switch d := &f.Decision; {
		case s.Index > int(d.Index):
			left += s.Heat()
		case s.Index == int(d.Index) && !d.Reached:
			left += max(0, s.Heat()-f.State.InStep)
		}
	}
	return left
}

// brewed runs the day of a seed and forecasts every minute of it.
func brewed(seed uint64, of func(kettles.Kettle) profile.Profile) (*looker, error) {
	b, err := prepare(seed, of)
	if err != nil {
		return nil, err
	}
	l := &looker{b: b, presses: map[string]time.Duration{}}
	b.run.Watchers = append(b.run.Watchers, l)
	r, err := b.run.Go()
	if err == nil && r.Outcome != "complete" {
		err = fmt.Errorf("the day of seed %d ended %s: %s", seed, r.Outcome, r.Reason)
	}
	return l, err
}

// restsOf is what is left of the fixed times of the day: rests, boil, stand, that no
// kettle can shorten.
func restsOf(s *controller.State) time.Duration {
	left := time.Duration(0)
	for i := s.Index; i < s.Count; i++ {
		switch step := &s.Steps[i]; step.Kind {
		case profile.MashIn, profile.Rest, profile.MashOut, profile.Boil, profile.Stand:
			left += step.For
			if i == s.Index {
				left -= min(s.Earned, step.For)
			}
		case profile.Strike, profile.Lift, profile.Chill:
		}
	}
	return left
}
