package rehearse

import (
	"context"
	"errors"
	"math"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/modulate"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/controller/verify"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/profile/plan"
	"mashward/sim"
)

// above is how far over its start a water test may come: 8 K are meant.
const above unit.Kelvin = 15

// Trial is a water test on a kettle, through the same loop, interlock and lease
// as a batch.
type Trial struct {
	Rig      config.Rig // as declared
	Water    unit.Litres
	Kettle   Kettle
	Watchers []loop.Watcher

	loop    loop.Loop
	samples []tune.Sample
	started time.Duration
	command controller.Command
	ended   <-chan struct{} // a person ends it
}

// Outcome is how a water test went and what it found.
type Outcome struct {
	Mode     controller.Mode
	Reason   controller.Reason
	Found    tune.Result // means something only when Mode is Complete
	Duration time.Duration
}

// ErrNoReading says that the probe gave nothing to begin from.
var ErrNoReading = errors.New("the probe gives no good reading: nothing can be tested without one")

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
	t.ended = ctx.Done()
	defer context.AfterFunc(ctx, t.loop.Element.Drop)()
	t.loop.Run(t.over)
	last := t.loop.Latest()
	byHand := Outcome{Mode: controller.Stopped, Reason: controller.ByOperator, Duration: last.Tick.Now - t.started}
	if ctx.Err() != nil {
		return byHand, nil
	}
	if err := t.Kettle.Err(); err != nil {
		return Outcome{}, err
	}
	if last.Decision.Mode == controller.Idle {
		return Outcome{}, ErrNoReading
	}
	out := Outcome{Mode: last.Decision.Mode, Reason: last.Decision.Reason, Duration: last.Tick.Now - t.started}
	if out.Mode == controller.Complete {
		out.Found = tune.Identify(t.samples, known)
	}
	if ctx.Err() != nil { // while it was worked out
		return byHand, nil
	}
	return out, nil
}

// trialOrders gives the one command of a test.
type trialOrders Trial

// Take implements loop.Orders.
func (o *trialOrders) Take() (controller.Command, controller.Proposal) {
	c := o.command
	o.command = controller.Command{}
	return c, controller.Proposal{}
}

// over starts the test with the first good reading, under a limit that counts
// from it, and tells when it is over.
func (t *Trial) over(f *loop.Frame) bool {
	select {
	case <-t.ended:
		return true
	default:
	}
	d := &f.Decision
	if d.Mode == controller.Idle {
		if d.HasEstimate && t.started == 0 {
			t.started = f.Tick.Now
			t.loop.Limits = interlock.Limits{
				MashCeiling: d.Estimate.Plus(above), BoilCeiling: d.Estimate.Plus(above),
				Rig: t.Rig.Limits.OverTemperature, Boiling: t.Rig.Boiling(), CoveredAt: t.Rig.Kettle.ElementCoveredAt,
				ElementPower: t.Rig.Element.Power, OnLimit: time.Hour, ArmedFor: 2 * time.Hour,
			}
			t.command = controller.Command{Wish: controller.Start}
		}
		return f.Tick.Now >= time.Minute && t.started == 0
	}
	return d.Mode.Ended() || d.Mode == controller.Held || t.Kettle.PowerLost()
}

// Watch keeps the samples from the last minutes of rest on.
func (t *Trial) Watch(f *loop.Frame) {
	if f.Decision.Mode != controller.Running {
		return
	}
	t.samples = append(t.samples, tune.Sample{On: f.Tick.Applied == unit.On, Reading: f.Tick.Reading.Value, Has: f.Tick.Reading.Good()})
	const rest = 90 // s
	if f.Decision.Stage == controller.Still && len(t.samples) > rest {
		t.samples = t.samples[len(t.samples)-rest:]
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
