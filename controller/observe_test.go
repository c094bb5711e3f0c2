package controller_test

import (
	"math"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/observer"
	"mashward/controller/unit"
	"mashward/profile"
)

// toyModel is what a fit would find of the toy kettle with its mash.
func toyModel() observer.Model {
	half := unit.JoulesPerKelvin(waterLoad+grainLoad) / 2
	return observer.Model{
		Power: 3000, Element: 2 * time.Second, Heated: half, Mash: half, Exchange: unit.WattsPerKelvin(half / 10), Loss: 7, Room: 18,
		Probe: 10 * time.Second, Delay: 0,
	}
}

func goodProposal() controller.Proposal {
	return controller.Proposal{Present: true, Model: toyModel(), Evidence: controller.Evidence{
		Residual: 0.02, Before: 0.2, Doubt: 0.003, Inside: true, Span: 20 * time.Minute,
	}}
}

// A model that is worse than the one there was, of another load, or of no
// kettle, changes nothing but that it was seen.
func TestAProposalThatIsNotCredibleChangesNothing(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	for name, spoil := range map[string]func(*controller.Proposal){
		"no model":              func(p *controller.Proposal) { p.Model = observer.Model{} },
		"no better than before": func(p *controller.Proposal) { p.Evidence.Before = p.Evidence.Residual },
		"leaves too much":       func(p *controller.Proposal) { p.Evidence.Residual = 0.036 },
		"residual no number":    func(p *controller.Proposal) { p.Evidence.Residual = unit.Kelvin(math.NaN()) },
		"uncertain":             func(p *controller.Proposal) { p.Evidence.Doubt = 0.051 },
		"doubt no number":       func(p *controller.Proposal) { p.Evidence.Doubt = math.NaN() },
		"at a bound":            func(p *controller.Proposal) { p.Evidence.Inside = false },
		"another load":          func(p *controller.Proposal) { p.Model.Heated *= 1.05 },
		"far too strong":        func(p *controller.Proposal) { p.Model.Power *= 1.7 },
		"far too weak":          func(p *controller.Proposal) { p.Model.Power *= 0.4 },
		"heats too fast":        func(p *controller.Proposal) { p.Model.Exchange *= 5 },
		"power no number":       func(p *controller.Proposal) { p.Model.Power = unit.Watts(math.NaN()) },
	} {
		with, without := x.from(), x.from()
		with.proposal = goodProposal()
		spoil(&with.proposal)
		with.tick()
		without.tick()
		if with.s != without.s {
			t.Errorf("%s: the state is another", name)
		}
		if with.count(controller.ProposalSeen, 0) != 1 {
			t.Errorf("%s: it is not said that it was left", name)
		}
	}
}

// No mash, no model of one: what comes before the grain or after the lift is of
// something else.
func TestAProposalOfAMashIsTakenInAMashOnly(t *testing.T) {
	for kind, stage := range map[profile.Kind]controller.Stage{profile.Strike: controller.Ready, profile.Boil: controller.Boil} {
		x := along(t, sampleConfig(), kind, stage)
		x.proposal = goodProposal()
		x.tick()
		if x.s.Sight.Fitted {
			t.Errorf("%v: taken", kind)
		}
	}
}

// onMean is the toy day in its first heated rest, the loop acting on the mean.
func onMean(t *testing.T) *day {
	t.Helper()
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	x.run(10 * time.Minute)
	if x.d.Way != controller.Holding || x.d.OnMean {
		t.Fatalf("way %v, on the mean %v; want the hold loop on the reading", x.d.Way, x.d.OnMean)
	}
	x.proposal = goodProposal()
	x.tick()
	if !x.s.Sight.Fitted || x.count(controller.ProposalSeen, 1) != 1 {
		t.Fatal("a good model was not taken")
	}
	return x
}

// TestTheLoopGoesOverToTheMeanWithoutABump: two minutes after a model was taken
// the loop acts on the mean, its duty in that tick is the one of the tick before
// within 2 % of full power, and the kettle stays where it was.
func TestTheLoopGoesOverToTheMeanWithoutABump(t *testing.T) {
	x := onMean(t)
	for i := 0; !x.d.OnMean; i++ {
		if i > 130 {
			t.Fatal("the loop has not gone over to the mean within 130 s")
		}
		before := x.d.Duty
		x.tick()
		if bump := math.Abs(float64(x.d.Duty - before)); bump > 0.02 {
			t.Errorf("%d s after: duty %.3f to %.3f in one tick", i, before, x.d.Duty)
		}
	}
	for range 600 {
		x.tick()
		if off := math.Abs(x.k.at - 63); off > 0.1 {
			t.Fatalf("%.2f °C under the loop on the mean; want 63 within 0.1 K", x.k.at)
		}
		if sum := x.d.Terms.Sum(); math.Abs(float64(unit.Duty(sum).Clamp()-x.d.Duty)) > 1e-9 {
			t.Fatalf("the terms add up to %.4f, the duty is %.4f", sum, x.d.Duty)
		}
	}
}

// TestTheLoopFindsAnUndeclaredLoss: with the lid off the toy loses three times
// as much. The power nobody declared takes it up within minutes.
func TestTheLoopFindsAnUndeclaredLoss(t *testing.T) {
	x := onMean(t)
	x.run(3 * time.Minute)
	x.k.loss *= 3
	x.run(8 * time.Minute)
	if off := x.k.at - 63; math.Abs(off) > 0.1 {
		t.Errorf("%.2f K off 8 min after the loss trebled; want 0.1 at most", off)
	}
	if got, want := float64(x.s.Sight.Extra), -2*7*(63-18.0); math.Abs(got-want) > 0.25*math.Abs(want) {
		t.Errorf("power nobody declared %.0f W; want about %.0f W", got, want)
	}
}

// TestAModelThatDoesNotFitIsLeft: where the probe suddenly shows what no such
// kettle can, the loop says so and goes back to the reading, without a bump.
func TestAModelThatDoesNotFitIsLeft(t *testing.T) {
	x := onMean(t)
	x.run(5 * time.Minute)
	if !x.d.OnMean {
		t.Fatal("not on the mean")
	}
	for i := 0; x.count(controller.ModelDoubted, 0) == 0; i++ {
		if i > 1200 {
			t.Fatal("twenty minutes of a wild probe, and the model still stands")
		}
		x.k.offset = 0.6 * math.Sin(float64(i)/8) // K
		before := x.d.Duty
		x.tick()
		if x.count(controller.ModelDoubted, 0) > 0 {
			if bump := math.Abs(float64(x.d.Duty - before)); bump > 0.25 {
				t.Errorf("duty %.3f to %.3f in the tick of the change", before, x.d.Duty)
			}
		}
	}
	if x.d.OnMean || x.s.Sight.Fitted {
		t.Error("the loop still acts on a model that does not fit")
	}
	x.k.offset = 0
	x.run(15 * time.Minute)
	if off := math.Abs(x.k.at - 63); off > 0.3 {
		t.Errorf("%.2f K off a quarter of an hour later", off)
	}
}

// TestTheModelOutlastsAPauseAndABedRestButNotTheLift.
func TestTheModelOutlastsABedRestButNotTheLift(t *testing.T) {
	x := onMean(t)
	x.run(3 * time.Minute)
	x.command = controller.Command{Wish: controller.RestBed}
	x.tick()
	x.run(time.Minute)
	if x.d.OnMean || x.s.Sight.Trusted {
		t.Error("with the bed at rest the mean is not known")
	}
	x.run(6 * time.Minute)
	if !x.s.Sight.Trusted {
		t.Error("the model is gone after the bed's rest")
	}
	x.answers = true
	for i := 0; !x.s.Lifted; i++ {
		if i > 4*3600 {
			t.Fatal("never lifted")
		}
		x.tick()
	}
	x.tick()
	if x.s.Sight.Fitted {
		t.Error("the model of the mash outlasts the mash")
	}
}
