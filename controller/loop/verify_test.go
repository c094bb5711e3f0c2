package loop

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
	"mashward/controller/verify"
)

func TestEachFindingHasItsRule(t *testing.T) {
	for k := verify.NotHeating; k <= verify.EnergyBudget; k++ {
		if got := RuleOf(verify.Finding{Kind: k}); got.String() != k.String() {
			t.Errorf("finding %v is rule %v", k, got)
		}
	}
	if got := RuleOf(verify.Finding{}); got != interlock.NoRule {
		t.Errorf("nothing found is rule %v", got)
	}
	if got := RuleOf(verify.Finding{Kind: 200}); got == interlock.NoRule {
		t.Error("an unknown finding permits heat")
	}
}

func TestWhatTheChecksAreTold(t *testing.T) {
	s := controller.State{Mode: controller.Running, Load: 1e5, GrainIn: true, ChillerOn: true}
	got := Checked(&controller.Tick{Now: 7, Applied: unit.On}, &s, &controller.Decision{Pump: unit.On})
	if got.Now != 7 || got.Applied != unit.On || got.Load != 1e5 || !got.Bed || got.Pump != unit.On || !got.Chiller || got.Busy || got.Open {
		t.Errorf("%+v", got)
	}
	for stage, busy := range map[controller.Stage]bool{controller.Pour: true, controller.Hoist: true, controller.Count: false} {
		s.Stage = stage
		if got := Checked(&controller.Tick{}, &s, &controller.Decision{}).Busy; got != busy {
			t.Errorf("%v: hands in the kettle %v", stage, got)
		}
	}
	for kind := controller.BatchStarted; kind <= controller.ChillForeseen; kind++ {
		d := controller.Decision{Count: 1}
		d.Events[0].Kind = kind
		want := kind == controller.WaterAdded || kind == controller.WaterTaken || kind == controller.VolumeRead || kind == controller.MixDoubted
		if got := Checked(&controller.Tick{}, &s, &d).Told; got != want {
			t.Errorf("%v: water was told of: %v", kind, got)
		}
	}
	s.Lifted, s.ChillerOn = true, false
	if got := Checked(&controller.Tick{}, &s, &controller.Decision{}); got.Bed || !got.Open || got.LidOff || got.Chiller || got.Metal || got.Over {
		t.Errorf("after the lift %+v", got)
	}
	s.Deeds.LidOff, s.ColdMetal = true, time.Second // the boil scalds a chiller
	if got := Checked(&controller.Tick{}, &s, &controller.Decision{}); !got.LidOff || got.Chiller || !got.Metal {
		t.Errorf("lid off, cold metal in the boil: %+v", got)
	}
	s.Lifted, s.Mode = false, controller.Aborted
	if got := Checked(&controller.Tick{}, &s, &controller.Decision{}); !got.Over || got.Bed || got.Load != s.Load {
		t.Errorf("a batch that is over: %+v", got)
	}
}

// TestTheContactorFollowsTheBatch: closed while the batch may heat, not with the
// duty; open for a relay that may be welded, when held, and after the run.
func TestTheContactorFollowsTheBatch(t *testing.T) {
	l, r := started(t)
	second := &testLine{name: "contactor", log: r.log}
	l.Contactor = second
	*r.log = nil
	l.ticks(r, 2)
	if want := []string{"element off", "contactor on", "pump", "element on", "contactor on", "pump"}; !alike(*r.log, want) {
		t.Errorf("in a batch that heats it goes %v, want %v: the contactor closes without current", *r.log, want)
	}
	*r.log, r.orders = nil, []controller.Command{{Wish: controller.Stop}}
	l.ticks(r, 1)
	if want := []string{"element off", "contactor off", "pump"}; !alike(*r.log, want) {
		t.Errorf("with STOP it goes %v, want %v: the element first", *r.log, want)
	}
	if l.ticks(r, 2); second.held != unit.Off {
		t.Error("closed although the batch is held")
	}
	r.orders = []controller.Command{{Wish: controller.Resume}}
	if l.ticks(r, 2); second.held != unit.On {
		t.Error("open although the batch goes on")
	}
	second.refuse = errors.New("no answer") // it does not close, for all that is known
	if f := l.ticks(r, 2); r.element.held != unit.Off || f.LineFault == nil {
		t.Errorf("the contactor does not answer: the element is %v, line fault %v", r.element.held, f.LineFault)
	}
	second.refuse = nil
	if l.ticks(r, 2); r.element.held != unit.On || second.held != unit.On {
		t.Error("it answers again, and the element stays off")
	}
	r.reading.Value = 64 // warm enough: the element pauses
	if l.ticks(r, 30); second.held != unit.On {
		t.Error("open because the element pauses")
	}
	l.Guard.Marks[interlock.HeatingWhileOff].State = interlock.Tripped
	if l.ticks(r, 1); second.held != unit.Off {
		t.Error("closed although the relay may be welded")
	}
	r.end = r.now
	if l.Run(never); !second.dropped {
		t.Error("not dropped when the run ended")
	}
}

// alike compares a log with what is wanted; a line that is only named may do as
// it likes.
func alike(log, want []string) bool {
	return slices.EqualFunc(log, want, func(is, should string) bool {
		name, _, _ := strings.Cut(is, " ")
		return is == should || name == should
	})
}

// TestAFindingTakesHeatAwayInTheSameTick: what the checks find reaches the interlock.
func TestAFindingTakesHeatAwayInTheSameTick(t *testing.T) {
	l, r := started(t)
	l.Verifier.Params = verify.Params{Power: 3000, Loss: 7, Room: 18, Boiling: 98.8, Brim: 2e5, Surface: 0.1}
	if f := l.ticks(r, 3); f.Permitted != unit.On || f.Finding.Kind != verify.Nothing {
		t.Fatalf("with nothing found: %+v", f.Verdict)
	}
	l.Watch.Found, l.Watch.Held = verify.Finding{Kind: verify.TooFast}, 20*time.Second
	f := l.ticks(r, 1)
	if f.Finding.Kind != verify.TooFast || f.Verdict.Trip != interlock.TooFast || f.Permitted != unit.Off || r.element.held != unit.Off {
		t.Errorf("found %v, verdict %+v, held %v", f.Finding.Kind, f.Verdict, r.element.held)
	}
}
