package follow_test

import (
	"path/filepath"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/late"
	"mashward/cmd/internal/late/follow"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/fault"
)

const samples = "../../../../testdata"

// day is a day of the sample rig on a true kettle, with a person who may be slow
// at one prompt, and press whatever a test wants besides.
type day struct {
	profile profile.Profile
	rig     config.Rig
	plan    plan.Plan
	plant   sim.Params
	load    sim.Load // zero: as the profile has it
	script  fault.Script
	slow    controller.Prompt
	by      time.Duration
	tells   func(*loop.Frame, *sim.Plant) controller.Command

	person   rehearse.Person
	follower *follow.Follower
	loop     loop.Loop
	// The judge's own account, of nothing but the batch's clock.
	starts map[uint8]time.Duration // first start of each step
	clock  time.Duration
}

// sample is that day: the four rests of the sample without a ceiling on a rate,
// and a plant that is as the rig says.
func sample(t *testing.T) *day {
	t.Helper()
	p, _, err := config.LoadProfile(filepath.Join(samples, "profiles", "rye-four-rests.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	rig, _, err := config.LoadRig(filepath.Join(samples, "rigs", "yard-kettle.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	for i := range p.Steps {
		p.Steps[i].Ramp = 0
	}
	return &day{profile: p, rig: rig, plant: rig.Plant()}
}

// orders are the person's.
type orders struct{ p *rehearse.Person }

// Take implements loop.Orders.
func (o orders) Take() (controller.Command, controller.Proposal) {
	return o.p.Take(), controller.Proposal{}
}

// run carries the day to its end and gives the account; each, where it is given,
// sees every frame and the account by then.
func (d *day) run(t *testing.T, each func(*loop.Frame, *late.Account)) late.Account {
	t.Helper()
	var problems []plan.Problem
	if d.plan, problems = plan.Make(d.profile, d.rig.PlanKettle()); plan.Refused(problems) {
		t.Fatal(problems)
	}
	if d.load.Water == 0 {
		d.load = config.Load(d.profile)
	}
	injector := fault.New(d.script, rehearse.FromStart(d.profile)...)
	k := &rehearse.Simulated{Bench: sim.NewBench(sim.New(d.plant, d.load, 7), injector, 7), Faults: injector}
	d.person = rehearse.Person{Do: k.Do, Level: func() unit.Litres { return unit.Litres(k.Plant().Truth().Volume) }}
	if d.tells != nil {
		d.person.Tells = func(f *loop.Frame) controller.Command { return d.tells(f, k.Plant()) }
	}
	d.follower = follow.New(late.Of(d.plan))
	d.loop = loop.Loop{
		Core: controller.Core{Config: rehearse.Core(d.profile, d.plan)}, State: controller.Initial(), Limits: rehearse.Limits(d.profile, d.plan),
		Pacer: k, Probe: k, Element: k.Element(), Pump: k.Pump(), Orders: orders{&d.person}, Watchers: []loop.Watcher{d.follower},
	}
	d.loop.Verifier.Params = rehearse.Checks(d.plan, d.rig.Found)
	d.starts = map[uint8]time.Duration{}
	d.person.Start()
	d.loop.Run(func(f *loop.Frame) bool {
		d.tell(k, f)
		a, known := d.follower.Account()
		if each != nil && known {
			each(f, &a)
		}
		d.person.Delay = 0
		if f.Decision.Prompt == d.slow {
			d.person.Delay = d.by
		}
		d.person.Watch(f)
		d.clock = f.Decision.Clock
		return f.Decision.Mode.Ended() || f.Tick.Now > 20*time.Hour
	})
	a, known := d.follower.Account()
	if !known {
		t.Fatal("nothing is known")
	}
	return a
}

// tell passes the batch's moments to the faults, and keeps when steps began.
func (d *day) tell(k *rehearse.Simulated, f *loop.Frame) {
	for _, e := range f.Decision.Events[:f.Decision.Count] {
		switch e.Kind {
		case controller.BatchStarted:
			k.Told(rehearse.Armed, 0)
		case controller.StepStarted:
			k.Told(rehearse.StepBegan, int(e.Step))
			if _, have := d.starts[e.Step]; !have {
				d.starts[e.Step] = f.Decision.Clock
			}
		case controller.TargetReached:
			k.Told(rehearse.StepReached, int(e.Step))
		}
	}
}

// show prints an account.
func show(t *testing.T, name string, d *day, a *late.Account) {
	t.Helper()
	p := late.Of(d.plan)
	t.Logf("%s: %v, %s", name, a.Late.Round(time.Second), a.Words(&p))
	for _, p := range a.Parts {
		t.Logf("   %8v  %v at %v of %d", p.Took.Round(time.Second), p.Cause, p.Place, p.Step)
	}
}
