package rehearse

import (
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/late/follow"
	"mashward/cmd/internal/learn"
	"mashward/controller"
	"mashward/controller/line"
	"mashward/controller/loop"
	"mashward/controller/observer"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/controller/verify"
	"mashward/profile"
	"mashward/profile/plan"
)

// HeldLimit is how long a simulated batch may be held without a way on before
// the rehearsal ends.
const HeldLimit = time.Hour

// Longest is the end of any rehearsal: a brew day has no second day.
const Longest = 36 * time.Hour

// Run is one rehearsal. Profile, Plan and Kettle are needed; the rest may be
// left out.
type Run struct {
	Profile  profile.Profile
	Plan     plan.Plan
	Kettle   Kettle
	Delay    time.Duration  // of the person at each prompt
	Model    observer.Model // of the kettle, from a water test; zero: none
	Watchers []loop.Watcher
	Trace    *Trace
	// Leaves has the person end steps by another clock than the controller's, as
	// a comparison with controllers that have none needs it; nil: he does not.
	Leaves func(*loop.Frame) bool
	// Tells has the person say what he has done to the kettle besides; see Person.
	Tells func(*loop.Frame) controller.Command
	// Checks are what the model-based checks know; without power it is the plan's
	// kettle, untuned.
	Checks verify.Params
	// Contactor tells that the rig has one in series with the element's relay.
	Contactor bool
	// Bare leaves the truth unjudged: for measuring speed.
	Bare bool
	// Brief judges the day without what takes long and only the one day is looked
	// at for: the limit of each heat-up and the enzymes.
	Brief bool
	// From is where in a day the rehearsal begins, on a kettle that is as far;
	// nil: at the beginning. Its result then tells of the rest of the day only, and the
	// truth is not judged.
	From *controller.State

	loop      loop.Loop
	person    Person
	learner   *learn.Learner
	witness   *Witness
	heldSince time.Duration
}

// On is a rehearsal of a rig's day: with what a water test found of it, with its
// checks and its contactor.
func On(rig config.Rig, p profile.Profile, d plan.Plan, k Kettle) Run {
	return Run{Profile: p, Plan: d, Kettle: k, Model: rig.Model(), Checks: Checks(d, rig.Found), Contactor: rig.Contactor.Present()}
}

// Go carries the batch to its end and tells how it went.
func (r *Run) Go() (Result, error) {
	r.prepare()
	r.loop.Run(r.over)
	if err := r.Kettle.Err(); err != nil {
		return Result{}, err
	}
	if r.Trace != nil {
		if err := r.Trace.flush(); err != nil {
			return Result{}, err
		}
	}
	return r.witness.Result(), nil
}

// Record has the batch recorded, as a real one is. Call it before Go, with the
// head filled in but for what the run itself knows.
func (r *Run) Record(storage record.Storage, head record.Head) (*record.Recorder, error) {
	head.Config, head.Limits = Core(r.Profile, r.Plan), Limits(r.Profile, r.Plan)
	head.Config.Model, head.Checks = r.Model, r.checks()
	NameSteps(&head, r.Profile)
	head.Plan = follow.Note(r.Plan)
	if k, ok := r.Kettle.(*Simulated); ok {
		storage = &faulty{Storage: storage, kettle: k}
	}
	recorder, err := record.New(storage, head, controller.Initial(), record.Options{Direct: true, Guard: &r.loop.Guard, Watch: &r.loop.Watch})
	if err != nil {
		return nil, err
	}
	r.Watchers = append(r.Watchers, recorder)
	return recorder, nil
}

// NameSteps gives a record the words for its steps and additions.
func NameSteps(head *record.Head, p profile.Profile) {
	head.StepNames, head.AdditionNames = []string{""}, nil
	for _, s := range p.Steps {
		head.StepNames = append(head.StepNames, s.Name)
	}
	all, _ := p.Order()
	for _, a := range all {
		head.AdditionNames = append(head.AdditionNames, a.Add)
	}
}

// Loop is the loop that ran, for those who want its state.
func (r *Run) Loop() *loop.Loop { return &r.loop }

// orders are what the person wishes and what the learner proposes.
type orders Run

// Take implements loop.Orders.
func (o *orders) Take() (controller.Command, controller.Proposal) {
	return o.person.Take(), o.learner.Take()
}

func (r *Run) prepare() {
	core := Core(r.Profile, r.Plan)
	core.Model = r.Model
	r.person = Person{Delay: r.Delay, Do: r.Kettle.Do, Level: r.level, Leaves: r.Leaves, Tells: r.Tells}
	r.loop = loop.Loop{
		Core:   controller.Core{Config: core},
		State:  controller.Initial(),
		Limits: Limits(r.Profile, r.Plan),
		Pacer:  r.Kettle, Probe: r.Kettle, Element: r.Kettle.Element(),
		Orders: (*orders)(r),
	}
	if r.Profile.Use != profile.WaterBrew { // water is no mash to learn from
		r.learner = learn.New(core, false)
		r.loop.Watchers = append(r.loop.Watchers, r.learner)
	}
	r.loop.Verifier.Params = r.checks()
	if r.Contactor {
		r.loop.Contactor = contactorOf(r.Kettle)
	}
	if r.Plan.Kettle.Pump {
		r.loop.Pump = pumpLine(r.Kettle)
	}
	if r.From != nil {
		r.loop.State = goingOn(*r.From)
	}
	r.witness = &Witness{Profile: r.Profile, Plan: r.Plan, Kettle: r.Kettle}
	if !r.Bare && r.From == nil {
		r.witness = NewWitness(r.Profile, r.Plan, r.Kettle)
		r.witness.judge.brief = r.Brief
	}
	r.loop.Watchers = append(r.loop.Watchers, r.witness)
	if r.Trace != nil {
		r.Trace.kettle = r.Kettle
		r.loop.Watchers = append(r.loop.Watchers, r.Trace)
	}
	// The person acts on the kettle: whoever looks at it comes before.
	r.loop.Watchers = append(append(r.loop.Watchers, r.Watchers...), &r.person)
	if r.From == nil {
		r.person.Start()
	}
}

// checks are what the model-based checks know.
func (r *Run) checks() verify.Params {
	if r.Checks.Power == 0 {
		return Checks(r.Plan, nil)
	}
	return r.Checks
}

func pumpLine(k Kettle) line.Line { return k.Pump() }

// level is what the person reads on the dipstick after the lift.
func (r *Run) level() unit.Litres {
	p := r.Kettle.Plant()
	if p == nil {
		return 0
	}
	const tenth = 10
	return unit.Litres(float64(int(float64(p.Truth().Volume)*tenth+0.5)) / tenth)
}

// over tells the faults what has begun, and when the rehearsal is over.
func (r *Run) over(f *loop.Frame) bool {
	d := &f.Decision
	for _, e := range d.Events[:d.Count] {
		switch e.Kind {
		case controller.BatchStarted:
			r.Kettle.Told(Armed, 0)
		case controller.StepStarted:
			r.Kettle.Told(StepBegan, int(e.Step))
		case controller.TargetReached:
			r.Kettle.Told(StepReached, int(e.Step))
		}
	}
	if r.Kettle.PowerLost() {
		r.witness.powerCut = true
		return true
	}
	if d.Mode != controller.Held {
		r.heldSince = f.Tick.Now
	}
	return d.Mode.Ended() || f.Tick.Now-r.heldSince >= HeldLimit || f.Tick.Now >= Longest
}

// goingOn is the state for a bench whose run clock begins anew although nothing was cut
// off: the law goes on with what it was doing.
func goingOn(s controller.State) controller.State {
	s.Begun, s.Last = false, 0
	return s
}
