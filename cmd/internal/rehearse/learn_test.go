package rehearse

import (
	"math"
	"slices"
	"testing"
	"testing/synctest"

	"mashward/cmd/internal/learn"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// heard keeps the proposals of a batch and whether the core took them.
type heard struct {
	proposals []controller.Proposal
	taken     []bool
	onMean    int // ticks
}

func (h *heard) Watch(f *loop.Frame) {
	if f.Tick.Proposal.Present {
		h.proposals = append(h.proposals, f.Tick.Proposal)
		h.taken = append(h.taken, f.State.Sight.Fitted)
	}
	if f.Decision.OnMean {
		h.onMean++
	}
}

// TestTheMashIsLearnedInTheBatch: on thirty kettles that no figure of the refit
// was chosen by, the three heated rests of a day make three proposals; by the
// second at least nine of ten kettles have a model that is taken, its power over
// capacity within 5 % of the truth in all and within 2 % in the middle, and the
// loop acts on it.
func TestTheMashIsLearnedInTheBatch(t *testing.T) {
	const kettleCount, from = 30, 90000
	fitted, acting := 0, 0
	var off []float64
	for seed := uint64(from); seed < from+kettleCount; seed++ {
		k := tuneKettle(t, seed, plan.SolidState)
		p := FourRests(k.kettle)
		d, _ := plan.Make(p, k.plan)
		h := &heard{}
		plant := sim.New(k.kettle.Plant, k.kettle.Load, seed)
		r := Run{Profile: p, Plan: d, Model: k.model, Kettle: &Simulated{Bench: sim.NewBench(plant, nil, seed)}, Watchers: []loop.Watcher{h}, Bare: true}
		if _, err := r.Go(); err != nil {
			t.Fatal(err)
		}
		if len(h.proposals) < 2 {
			t.Errorf("kettle %d: %d proposals in three heated rests", seed, len(h.proposals))
			continue
		}
		if h.taken[1] {
			fitted++
		}
		if h.onMean > 600 {
			acting++
		}
		off = append(off, strengthOff(k.kettle, d, h)...)
	}
	slices.Sort(off)
	t.Logf("%d of %d fitted by the second heated rest, %d acted on; power over capacity off by %.1f %% in the middle, %.1f %% at most",
		fitted, kettleCount, acting, 100*off[len(off)/2], 100*off[len(off)-1])
	if fitted < kettleCount*9/10 || acting < kettleCount*9/10 {
		t.Errorf("%d fitted, %d acted on of %d", fitted, acting, kettleCount)
	}
	if off[len(off)/2] > 0.02 || off[len(off)-1] > 0.05 {
		t.Errorf("off by %.3f in the middle, %.3f at most", off[len(off)/2], off[len(off)-1])
	}
}

// strengthOff is how far power over capacity of the models that were taken is
// from the plant's.
func strengthOff(k kettles.Kettle, d plan.Plan, h *heard) []float64 {
	var off []float64
	true := float64(k.Plant.Element.Power) / float64(Core(FourRests(k), d).LoadMash)
	for i, p := range h.proposals {
		if h.taken[i] {
			off = append(off, math.Abs(float64(p.Model.Power)/float64(p.Model.Capacity())/true-1))
		}
	}
	return off
}

// TestAMistakenVolumeIsLearnedInTheBatch: with 30 % less or more water than was
// said, what is learned of the mash is the truth, not what was said: power over
// capacity is off by less than a quarter of the lie.
func TestAMistakenVolumeIsLearnedInTheBatch(t *testing.T) {
	for _, c := range Changes()[:2] {
		for seed := uint64(90000); seed < 90006; seed++ {
			k := tuneKettle(t, seed, plan.SolidState)
			p := FourRests(k.kettle)
			d, _ := plan.Make(p, k.plan)
			plant := k.kettle
			c.Do(&plant)
			h := &heard{}
			r := Run{Profile: p, Plan: d, Model: k.model, Kettle: &Simulated{Bench: sim.NewBench(sim.New(plant.Plant, plant.Load, seed), nil, seed)}, Watchers: []loop.Watcher{h}, Bare: true}
			if _, err := r.Go(); err != nil {
				t.Fatal(err)
			}
			told := Core(p, d).LoadMash
			truth := float64(told) + 4186*0.998*float64(plant.Load.Water)*float64(plant.Plant.Water.Error)
			want := float64(plant.Plant.Element.Power) / truth
			last := h.proposals[len(h.proposals)-1].Model
			if got := float64(last.Power) / float64(last.Capacity()); math.Abs(got/want-1) > 0.07 {
				t.Errorf("%s, kettle %d: power over capacity %.2f mK/s; true %.2f mK/s", c.Name, seed, 1e3*got, 1e3*want)
			}
		}
	}
}

// TestALearnerBesideTheLoopProposesTheSame: what a goroutine of its own proposes
// of a batch is what the tick itself would have.
func TestALearnerBesideTheLoopProposesTheSame(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := tuneKettle(t, 90001, plan.SolidState)
		p := FourRests(k.kettle)
		d, _ := plan.Make(p, k.plan)
		config := Core(p, d)
		config.Model = k.model
		beside := &besides{learner: learn.New(config, true)}
		h := &heard{}
		r := Run{
			Profile: p, Plan: d, Model: k.model, Bare: true, Watchers: []loop.Watcher{beside, h},
			Kettle: &Simulated{Bench: sim.NewBench(sim.New(k.kettle.Plant, k.kettle.Load, 90001), nil, 90001)},
		}
		if _, err := r.Go(); err != nil {
			t.Fatal(err)
		}
		if len(h.proposals) == 0 || !slices.Equal(beside.proposals, h.proposals) {
			t.Errorf("beside the loop %d proposals, in it %d, or others", len(beside.proposals), len(h.proposals))
		}
	})
}

// besides takes from a learner whatever it has in each tick.
type besides struct {
	learner   *learn.Learner
	proposals []controller.Proposal
}

func (b *besides) Watch(f *loop.Frame) {
	b.learner.Watch(f)
	synctest.Wait()
	if p := b.learner.Take(); p.Present {
		b.proposals = append(b.proposals, p)
	}
}
