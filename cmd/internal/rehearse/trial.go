package rehearse

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/line"
	"mashward/controller/loop"
	"mashward/controller/modulate"
	"mashward/controller/record"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/controller/verify"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/profile/plan"
	"mashward/sensors"
	"mashward/sim"
)

// Above is how far over its start a water test may come: 8 K are meant.
const Above unit.Kelvin = 15

// Tested is what a water test needs of a kettle: pacer, probe and lines. Where it
// has a Drop of its own, that takes all its lines off at once.
type Tested interface {
	loop.Pacer
	sensors.Probe
	Element() loop.Element
	Pump() line.Line
	// PowerLost tells that the supply is cut: board and element are dead.
	PowerLost() bool
	// Err is why Next ended early.
	Err() error
}

// Trial is a water test on a kettle, through the same loop, interlock and lease
// as a batch.
type Trial struct {
	Rig      config.Rig // as declared
	Water    unit.Litres
	Kettle   Tested
	Watchers []loop.Watcher
	// Storage is where the test is recorded; nil: it is not. Go closes it. Head is
	// filled in but for what the test itself knows.
	Storage record.Storage
	Head    record.Head
	// Latch is shown the interlock's memory when the loop has ended, before
	// anything else is done; nil: nobody wants it.
	Latch func(*interlock.Guard)

	loop     loop.Loop
	course   tune.Course
	patience time.Duration // run clock at which a probe without a reading ends it
	started  time.Duration
	command  controller.Command
	ended    <-chan struct{} // a person ends it
	recorder *record.Recorder
	failed   error          // ends it without a result
	cuts     int            // of heat
	cutBy    interlock.Rule // the last one
	isCut    bool
}

// Outcome is how a water test went and what it found.
type Outcome struct {
	Mode     controller.Mode
	Reason   controller.Reason
	Broken   bool        // seconds are missing; it was ended for that
	Cut      string      // heat was cut again and again; it was ended for that, the last time by this rule
	Found    tune.Result // means something only when Mode is Complete
	Duration time.Duration
	Unstored error // why the record is not whole; nil if it is, or if there is none
}

// What ends a water test without a result.
var (
	ErrNoReading = errors.New("the probe gives no good reading: nothing can be tested without one")
	ErrRelay     = errors.New("a relay did not answer, and nobody knows what it did: isolate the element at the breaker, then look why")
)

// Known is what the rig declares about kettle and test water.
func (t *Trial) Known() tune.Known {
	return tune.Known{
		Power: t.Rig.Element.Power, Load: heat.WaterCapacity(t.Water) + t.Rig.Kettle.Vessel,
		Loss: t.Rig.Kettle.Loss, Room: t.Rig.Site.Room,
	}
}

// Go runs the test to its end, or until ctx is done: that takes the element off
// in the same moment, and ends the test as stopped by operator with the next
// tick. Every way out leaves the element off.
func (t *Trial) Go(ctx context.Context) (Outcome, error) {
	known := t.Known()
	t.prepare(known)
	t.ended = ctx.Done()
	drop := t.loop.Element.Drop
	if k, ok := t.Kettle.(interface{ Drop() }); ok {
		drop = k.Drop
	}
	defer context.AfterFunc(ctx, drop)()
	t.loop.Run(t.over)
	if t.Latch != nil {
		t.Latch(&t.loop.Guard)
	}
	last := t.loop.Latest()
	unstored := t.closeRecord(last)
	byHand := Outcome{Mode: controller.Stopped, Reason: controller.ByOperator, Duration: last.Tick.Now - t.started, Unstored: unstored}
	if ctx.Err() != nil {
		return byHand, nil
	}
	if err := cmp.Or(t.failed, t.Kettle.Err()); err != nil {
		return Outcome{Unstored: unstored}, err
	}
	if last.Decision.Mode == controller.Idle {
		return Outcome{}, ErrNoReading
	}
	out := Outcome{
		Mode: last.Decision.Mode, Reason: last.Decision.Reason, Broken: t.course.Broken(), Duration: last.Tick.Now - t.started, Unstored: unstored,
	}
	if t.cuts > mostCuts {
		out.Cut = t.cutBy.String()
	}
	if out.Mode == controller.Complete && !out.Broken {
		out.Found = tune.Identify(t.course.Samples(), known)
	}
	if ctx.Err() != nil { // while it was worked out
		return byHand, nil
	}
	return out, nil
}

// prepare puts the test before a loop.
func (t *Trial) prepare(known tune.Known) {
	config := controller.Config{
		Power: known.Power, Loss: known.Loss, Vessel: t.Rig.Kettle.Vessel, LoadWater: known.Load,
		HasPump: t.Rig.Pump.Present(), Boiling: t.Rig.Boiling(), Room: known.Room, Tap: t.Rig.Site.Tap,
		Test: controller.DefaultTest(), Count: 1, Relay: modulate.SolidState,
	}
	t.loop = loop.Loop{
		Core: controller.Core{Config: config}, Pacer: t.Kettle, Probe: t.Kettle, Element: t.Kettle.Element(),
		Verifier: verify.Verifier{Params: IdleChecks(t.Rig)}, Orders: (*trialOrders)(t), Watchers: append([]loop.Watcher{t}, t.Watchers...), Limits: interlock.Limits{Boiling: config.Boiling},
	}
	if config.HasPump {
		t.loop.Pump = t.Kettle.Pump()
	}
	if t.Rig.Contactor.Present() {
		t.loop.Contactor = contactorOf(t.Kettle)
	}
}

// contactorOf is the line of a kettle's contactor; nil where it has none.
func contactorOf(kettle any) line.Line {
	if k, ok := kettle.(interface{ Contactor() line.Line }); ok {
		return k.Contactor()
	}
	return nil
}

// trialOrders gives the one command of a test.
type trialOrders Trial

// Take implements loop.Orders.
func (o *trialOrders) Take() (controller.Command, controller.Proposal) {
	c := o.command
	o.command = controller.Command{}
	return c, controller.Proposal{}
}

// mostCuts is how often heat may be cut in a test. A single odd reading is borne;
// what comes again and again comes from a probe that cannot be believed, and each
// return of the heat is a closing of the relay.
const mostCuts = 2

// over starts the test with the first good reading, under a limit that counts
// from it, and tells when it is over. A relay of which nobody knows what it does
// ends it, and so do seconds that are missing: there is nothing to be learned.
func (t *Trial) over(f *loop.Frame) bool {
	select {
	case <-t.ended:
		return true
	default:
	}
	if f.LineFault != nil {
		t.failed = fmt.Errorf("%w: %w", ErrRelay, f.LineFault)
		return true
	}
	d := &f.Decision
	if d.Mode == controller.Idle {
		return t.waiting(f)
	}
	cut := f.Verdict.Cut
	if cut != interlock.NoRule && !t.isCut {
		t.cuts, t.cutBy = t.cuts+1, cut
	}
	t.isCut = cut != interlock.NoRule
	return d.Mode.Ended() || d.Mode == controller.Held || t.course.Broken() || t.cuts > mostCuts || t.Kettle.PowerLost()
}

// waiting begins the test where there is a good reading; true if none comes, or
// if it cannot be recorded.
func (t *Trial) waiting(f *loop.Frame) bool {
	d, now := &f.Decision, f.Tick.Now
	if t.patience == 0 {
		t.patience = now + time.Minute - time.Second
	}
	if d.HasEstimate && t.started == 0 {
		t.started = now
		t.loop.Limits = interlock.Limits{
			MashCeiling: d.Estimate.Plus(Above), BoilCeiling: d.Estimate.Plus(Above),
			Rig: t.Rig.Limits.OverTemperature, Boiling: t.Rig.Boiling(), CoveredAt: t.Rig.Kettle.ElementCoveredAt,
			ElementPower: t.Rig.Element.Power, OnLimit: time.Hour, ArmedFor: 2 * time.Hour,
		}
		t.failed = t.openRecord()
		t.command = controller.Command{Wish: controller.Start}
	}
	return t.failed != nil || now >= t.patience && t.started == 0
}

// openRecord begins the record with the tick to come.
func (t *Trial) openRecord() (err error) {
	if t.Storage == nil {
		return nil
	}
	head := t.Head
	head.Config, head.Limits, head.Checks = t.loop.Core.Config, t.loop.Limits, t.loop.Verifier.Params
	head.StepNames = []string{head.Profile}
	t.recorder, err = record.New(t.Storage, head, t.loop.State, record.Options{Guard: &t.loop.Guard, Watch: &t.loop.Watch})
	if err == nil {
		t.loop.Watchers = append(t.loop.Watchers, t.recorder)
	}
	return err
}

// closing is how long storage may take to close the record.
const closing = 10 * time.Second

// closeRecord closes the record, if there is one. That of a test which a person
// or a failure has ended stays without an end, as that of a batch.
func (t *Trial) closeRecord(last *loop.Frame) error {
	if t.recorder == nil {
		if t.Storage != nil {
			return t.Storage.Close()
		}
		return nil
	}
	if last.Decision.Mode == controller.Held {
		t.recorder.End()
	}
	ctx, cancel := context.WithTimeout(context.Background(), closing)
	defer cancel()
	return t.recorder.Close(ctx)
}

// Watch keeps the samples from the last minutes of rest on.
func (t *Trial) Watch(f *loop.Frame) {
	Second(&t.course, f.Decision.Mode, f.Decision.Stage, &f.Tick)
}

// Second puts one tick of a water test into its course, as it comes from a loop
// or from a record.
func Second(c *tune.Course, mode controller.Mode, stage controller.Stage, tick *controller.Tick) {
	if mode == controller.Running {
		c.Add(tick.Now, stage == controller.Still, tune.Sample{On: tick.Applied == unit.On, Reading: tick.Reading.Value, Has: tick.Reading.Good()})
	}
}

// Foreseen is the largest overshoot that a rehearsal of three rests in water
// shows on the kettle as it was found, controlled with the same figures.
func Foreseen(rig config.Rig, water unit.Litres, t config.Tuning) (unit.Kelvin, error) {
	rest := func(at unit.Celsius) profile.Step {
		return profile.Step{Kind: profile.Rest, Target: at, For: 20 * time.Minute, Floor: profile.DefaultFloor}
	}
	p := profile.Profile{Name: "water test", Water: water, Steps: []profile.Step{rest(44), rest(63), rest(71)}}
	rig = rig.Tuned(t)
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		return 0, errors.New("no rehearsal: " + problems[0].What + "; " + problems[0].Remedy)
	}
	run := On(rig, p, d, &Simulated{Bench: sim.NewBench(sim.New(rig.Plant(), config.Load(p), 1), nil, 1)})
	result, err := run.Go()
	if err != nil {
		return 0, err
	}
	worst := 0.0
	for _, s := range result.Steps {
		if s.Overshoot != nil {
			worst = math.Max(worst, *s.Overshoot)
		}
	}
	return unit.Kelvin(worst), nil
}
