package daemon

import (
	"math"
	"testing"

	"mashward/cmd/internal/config"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile/strict"
	"mashward/testdata"
)

// yardKettle is the sample rig's simulated kettle, half full.
func yardKettle(t *testing.T) *Simulated {
	t.Helper()
	text, err := testdata.Samples.ReadFile("rigs/yard-kettle.yaml")
	if err != nil {
		t.Fatal(err)
	}
	rig, faults := config.ParseRig("yard-kettle.yaml", text)
	if strict.Refused(faults) {
		t.Fatal(faults)
	}
	return NewSimulated(rig, rig.Plant(), 0)
}

// said is a frame in which a wish was granted, or refused.
func said(c controller.Command, what controller.EventKind) *loop.Frame {
	f := &loop.Frame{Tick: controller.Tick{Command: c}}
	f.Decision.Events[0], f.Decision.Count = controller.Event{Kind: what, Value: float64(c.Wish)}, 1
	return f
}

// TestTheSimulatedKettleDoesWhatAPersonSaysHeHasDone: 2 L at 60 °C are 1.970 cold
// ones (IAPWS-IF97), and none where the core has refused them.
func TestTheSimulatedKettleDoesWhatAPersonSaysHeHasDone(t *testing.T) {
	k := yardKettle(t)
	holds := func() unit.Litres { return k.Plant().Truth().Volume }
	before, mash := holds(), k.Mash()
	added := controller.Command{Wish: controller.Added, Volume: 2, At: 60}
	k.Hands(said(added, controller.Refused))
	if holds() != before {
		t.Error("what was refused went in")
	}
	k.Hands(said(added, controller.Accepted))
	if in := float64(holds() - before); math.Abs(in-1.970) > 0.001 || k.Mash() <= mash {
		t.Errorf("%.4f L went in, the mash went from %.2f to %.2f °C", in, mash, k.Mash())
	}
	before = holds()
	k.Hands(said(controller.Command{Wish: controller.TookOut, Volume: 3}, controller.Accepted))
	if out := float64(before - holds()); math.Abs(out-3) > 0.02 { // nearly cold
		t.Errorf("%.4f L went out", out)
	}
	k.Hands(said(controller.Command{Wish: controller.LidOff}, controller.Accepted))
	if !k.Plant().Truth().LidOff {
		t.Error("the lid is on")
	}
	k.Hands(said(controller.Command{Wish: controller.LidOn}, controller.Accepted))
	if k.Plant().Truth().LidOff {
		t.Error("the lid is off")
	}
	before = holds()
	k.Hands(said(controller.Command{Wish: controller.VolumeIs, Volume: 9, At: 20}, controller.Accepted))
	if holds() != before {
		t.Error("reading the volume has changed it")
	}
	level := k.Plant().Truth().Level
	k.Hands(said(controller.Command{Wish: controller.GrainIs, Grain: 5, At: 10}, controller.Accepted))
	k.Hands(said(controller.Command{Wish: controller.GrainIn}, controller.Accepted))
	// A kilogram takes 0.67 L beside its water (common practice, no source).
	if by := float64(k.Plant().Truth().Level - level); math.Abs(by-5*0.67) > 0.01 {
		t.Errorf("5 kg of grain take %.2f L", by)
	}
}
