package loop

import (
	"testing"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
)

// A line that has given up holds the batch, with heat and pump off, until a person
// says that he has looked; nothing else lets it be tried again.
func TestALineThatHasGivenUpHoldsTheBatchUntilAPersonHasLooked(t *testing.T) {
	for name, of := range map[string]func(*rig) *testLine{
		"the element": func(r *rig) *testLine { return &r.element }, "the pump": func(r *rig) *testLine { return &r.pump },
	} {
		l, r := started(t)
		of(r).gaveUp = true
		f := l.ticks(r, 1)
		if d := &f.Decision; d.Mode != controller.Held || d.Reason != controller.LineLost || d.Prompt != controller.AskLookAtFault || !f.GaveUp || f.Verdict.Trip != interlock.NoRule {
			t.Errorf("%s: %v (%v), prompt %v, trip %v", name, d.Mode, d.Reason, d.Prompt, f.Verdict.Trip)
		}
		r.orders = []controller.Command{{Wish: controller.Resume}, {Wish: controller.Stop}, {Wish: controller.Resume}}
		if f = l.ticks(r, 60); f.Decision.Mode != controller.Held || f.Permitted == unit.On || r.element.held == unit.On || r.pump.held == unit.On || !of(r).gaveUp {
			t.Errorf("%s: a minute later %v, permitted %v, element %v, pump %v", name, f.Decision.Mode, f.Permitted, r.element.held, r.pump.held)
		}
		r.orders = []controller.Command{{Wish: controller.ClearTrip}, {Wish: controller.Resume}}
		if f = l.ticks(r, 2); f.Decision.Mode != controller.Running || of(r).gaveUp || f.GaveUp {
			t.Errorf("%s: when a person has looked %v (%v)", name, f.Decision.Mode, f.Decision.Reason)
		}
		if f = l.ticks(r, 5); r.element.held != unit.On {
			t.Errorf("%s: it does not heat again: %v", name, f.Permitted)
		}
	}
}
