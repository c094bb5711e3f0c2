// Package follow hands the frames of a loop, or the ticks of a record, to the
// account of how late a batch is. It is beside the loop and decides nothing.
package follow

import (
	"cmp"
	"encoding/json"
	"math"
	"time"

	"mashward/cmd/internal/late"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/plan"
)

// Follower follows one batch. The zero value knows no plan and tells nothing. It
// is a loop.Watcher.
type Follower struct {
	ledger  *late.Ledger
	lengths [profile.MaxSteps + 1]time.Duration // of the steps, as far as a record tells
}

// New follows a batch with this plan.
func New(p late.Planned) *Follower {
	f := &Follower{ledger: late.New(p)}
	for _, s := range p.Steps {
		f.lengths[min(int(s.Index), profile.MaxSteps)] = s.Hold()
	}
	return f
}

// Note is the plan as it is kept with a record.
func Note(d plan.Plan) json.RawMessage {
	text, err := json.Marshal(late.Of(d))
	if err != nil {
		return nil // a figure that is no number: the plan is refused anyway
	}
	return text
}

// Figures is a noted plan without anything that Note does not write; nil: it is none.
func Figures(noted json.RawMessage) json.RawMessage {
	var p late.Planned
	if json.Unmarshal(noted, &p) != nil {
		return nil
	}
	text, err := json.Marshal(p)
	if err != nil {
		return nil
	}
	return text
}

// Noted follows the batch of a record; one that keeps no plan tells nothing.
func Noted(h *record.Head) *Follower {
	var p late.Planned
	if len(h.Plan) == 0 || json.Unmarshal(h.Plan, &p) != nil {
		return &Follower{}
	}
	return New(p)
}

// Account is how late it is; false where that is not known.
func (f *Follower) Account() (late.Account, bool) {
	if f == nil {
		return late.Account{}, false
	}
	return f.ledger.Account()
}

// By is how late it is, and that by cause; false where that is not known. It allocates
// nothing.
func (f *Follower) By() (total time.Duration, by [late.Causes]time.Duration, known bool) {
	if f == nil {
		return 0, by, false
	}
	return f.ledger.By()
}

// Watch takes one frame.
func (f *Follower) Watch(fr *loop.Frame) {
	if f == nil || f.ledger == nil {
		return
	}
	d, t := &fr.Decision, &fr.Tick
	f.ledger.Take(&late.Second{
		Clock: d.Clock, Mode: d.Mode, Reason: d.Reason, Index: d.Index, Kind: d.Kind, Stage: d.Stage, Prompt: d.Prompt,
		Earned: d.Earned, For: fr.State.Steps[d.Index].For, Reached: d.Reached, Target: d.Target, HasTarget: d.HasTarget,
		Estimate: d.Estimate, HasEstimate: d.HasEstimate, Duty: d.Duty, Applied: t.Applied, Pump: d.Pump,
		Cut: fr.Verdict.Cut != interlock.NoRule, Command: t.Command, Events: d.Events[:d.Count],
	})
}

// Tick takes one tick of a record.
func (f *Follower) Tick(t *record.Tick) {
	if f.ledger == nil {
		return
	}
	f.edited(t)
	f.ledger.Take(&late.Second{
		Clock: t.Clock, Mode: t.Mode, Reason: t.Reason, Index: t.Index, Kind: t.Kind, Stage: t.Stage, Prompt: t.Prompt,
		Earned: t.Earned, For: f.lengths[min(int(t.Index), profile.MaxSteps)], Reached: t.Reached, Target: t.Target, HasTarget: t.HasTarget,
		Estimate: t.Estimate, HasEstimate: t.HasEstimate, Duty: t.Duty, Applied: t.In.Applied, Pump: t.Pump,
		Cut: t.Cut != interlock.NoRule, Command: t.In.Command, Events: t.Events,
	})
}

// edited keeps the lengths of the steps: a record has no state in its ticks.
func (f *Follower) edited(t *record.Tick) {
	c := &t.In.Command
	for _, e := range t.Events {
		switch {
		case e.Kind == controller.Accepted && c.Wish == controller.Extend:
			f.lengths[min(int(cmp.Or(c.Step, t.Index)), profile.MaxSteps)] += c.By
		case e.Kind == controller.BoilExtended:
			f.lengths[min(int(t.Index), profile.MaxSteps)] += time.Duration(math.Round(e.Value * float64(time.Second)))
		}
	}
}

// Block takes a block of a record.
func (f *Follower) Block(b *record.Block) {
	if b.Kind == record.KindTick {
		f.Tick(&b.Tick)
	}
}

// Tell is how late it is and why, for programs and pages; nil where that is not
// known.
func (f *Follower) Tell() *late.Told {
	a, known := f.Account()
	if !known {
		return nil
	}
	return a.Tell(f.ledger.Planned())
}
