package rehearse

import (
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile"
	"mashward/profile/plan"
)

// Witness looks on while a batch runs on a simulated kettle, and tells at the
// end how it really went. It is a loop.Watcher; it must see the kettle before
// a person acts on it.
type Witness struct {
	Profile profile.Profile
	Plan    plan.Plan
	Kettle  Kettle

	judge    *judge // nil: the truth is not judged
	last     controller.Decision
	config   controller.Config
	now      time.Duration
	armed    time.Duration
	powerCut bool
}

// NewWitness is a witness who judges by the truth.
func NewWitness(p profile.Profile, d plan.Plan, k Kettle) *Witness {
	return &Witness{Profile: p, Plan: d, Kettle: k, config: Core(p, d), judge: newJudge(d, k)}
}

// Watch takes one frame.
func (w *Witness) Watch(f *loop.Frame) {
	for _, e := range f.Decision.Events[:f.Decision.Count] {
		if e.Kind == controller.BatchStarted {
			w.armed = f.Tick.Now
		}
	}
	w.last, w.now = f.Decision, f.Tick.Now
	if w.judge != nil {
		w.judge.Watch(f)
	}
}

// Result puts the verdicts together.
func (w *Witness) Result() Result {
	d := &w.last
	out := Result{
		Outcome: d.Mode.String(), Reason: d.Reason.String(), Simulated: true, Duration: (w.now - w.armed).Seconds(),
		Energy: float64(w.Kettle.Energy()), Switches: w.Kettle.Switches(), Strike: Strike{Water: float64(w.Profile.Water)},
		Steps: []Step{}, Trips: []Instant{}, Cuts: []Span{}, Alarms: []Alarm{},
	}
	switch {
	case w.powerCut:
		out.Outcome, out.Reason = controller.Held.String(), controller.PowerCut.String()
	case !d.Mode.Ended():
		out.Outcome = controller.Held.String()
	case d.Mode == controller.Complete:
		out.Reason = "all steps done"
	}
	if w.Plan.HasStrike {
		t := float64(w.Plan.Strike.Temperature)
		out.Strike.Temperature = &t
	}
	if w.judge != nil {
		w.judged(&out)
	}
	return out
}

func (w *Witness) judged(out *Result) {
	j := w.judge
	for i := range j.steps {
		c := &j.steps[i]
		out.Steps = append(out.Steps, j.verdict(c, stepOf(&w.config, w.Plan, c.index), w.config.Steps[c.index].Ramp))
	}
	if !j.brief && w.Profile.Use != profile.WaterBrew { // water has none
		j.enzymes(out)
	}
	out.Trips = append(out.Trips, j.trips...)
	out.Cuts = append(out.Cuts, j.cuts...)
	for _, a := range j.alarms {
		out.Alarms = append(out.Alarms, Alarm{ID: a.ID, Raised: a.From, Cleared: a.Until})
	}
	w.expectations(out)
}
