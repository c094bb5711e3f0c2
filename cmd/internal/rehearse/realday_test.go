package rehearse

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller/loop"
	"mashward/profile"
	"mashward/sim"
	"mashward/sim/fault"
)

// What happens on a real day is played on the two sample rigs and on random
// kettles from this seed on, every other one after a water test. The figures of
// the kettle that must mix again were weighed on the first 300 of them; nothing
// else was chosen here.
const realSeeds = 95_000_000

// realKettles is how many random kettles: some in the check, many by -night.
func realKettles() uint64 {
	if *night {
		return 300
	}
	return 14
}

// brewDay is a whole day on one kettle, to be played as often as something can
// happen in it.
type brewDay struct {
	name   string
	run    Run // without a kettle
	plant  sim.Params
	load   sim.Load
	seed   uint64
	sample bool // one of the sample rigs
}

// brewDays are the days that things happen in.
func brewDays(t *testing.T) []*brewDay {
	t.Helper()
	all := []*brewDay{sampleDay(t, "rye-four-rests.yaml", "yard-kettle.yaml"), sampleDay(t, "small-batch.yaml", "small-pot.yaml")}
	for i := range realKettles() {
		seed := realSeeds + i
		c, err := set(seed, i%2 == 1, true)
		if err != nil { // a water test that was refused: the declared figures stay
			c, err = set(seed, false, true)
		}
		if err != nil {
			t.Fatal(err)
		}
		tuned := map[bool]string{true: ", tuned"}[c.tuned]
		all = append(all, &brewDay{
			name: fmt.Sprintf("kettle %d (%v%s)", seed, c.kettle.Plant.Probe.Place, tuned), run: *c.run,
			plant: c.kettle.Plant, load: c.kettle.Load, seed: seed,
		})
	}
	return all
}

// withPump are the days on kettles that have one.
func withPump(t *testing.T) (some []*brewDay) {
	t.Helper()
	for _, b := range brewDays(t) {
		if b.run.Plan.Kettle.Pump {
			some = append(some, b)
		}
	}
	return some
}

// withBoil are the days that boil.
func withBoil(t *testing.T) (some []*brewDay) {
	t.Helper()
	for _, b := range brewDays(t) {
		if b.step(profile.Boil) > 0 {
			some = append(some, b)
		}
	}
	return some
}

// sampleDay is a day of testdata.
func sampleDay(t *testing.T, profileName, rigName string) *brewDay {
	t.Helper()
	p, rig, d := sample(t, profileName, rigName)
	b := &brewDay{name: rig.Name, run: On(rig, p, d, nil), plant: rig.Plant(), load: config.Load(p), seed: 1, sample: true}
	b.run.Bare, b.run.Delay = true, 4*time.Minute
	if strings.HasPrefix(rigName, "yard") {
		b.plant = asBuilt(t, p, rig, nil).Plant().Params()
	}
	return b
}

// scene prepares the day with something that happens in it.
func (b *brewDay) scene(script fault.Script, happens func(*scene, *loop.Frame)) *scene {
	injector := fault.New(script, FromStart(b.run.Profile)...)
	bench := sim.NewBench(sim.New(b.plant, b.load, b.seed+7), injector, b.seed)
	r := b.run
	s := &scene{kettle: &Simulated{Bench: bench, Faults: injector}, events: happens}
	r.Kettle, r.Watchers = s.kettle, []loop.Watcher{s}
	r.prepare()
	s.run = &r
	return s
}

// until plays the scene until it is over, or is as wanted.
func (s *scene) until(so func(*loop.Frame) bool) {
	s.run.loop.Run(func(f *loop.Frame) bool { return s.run.over(f) || so(f) })
}

// step is the index of the first step of a kind; 0 if there is none.
func (b *brewDay) step(k profile.Kind) int {
	for i, s := range b.run.Profile.Steps {
		if s.Kind == k {
			return i + 1
		}
	}
	return 0
}

// heatTime is how long the plan heats up to a step.
func (b *brewDay) heatTime(step int) time.Duration {
	for _, s := range b.run.Plan.Steps {
		if s.Index == step {
			return s.Heat()
		}
	}
	return 0
}

// goal is where the true mash should stand in a step: at its target and what the
// probe's place differs from the mash then.
func (b *brewDay) goal(s *scene, step int) float64 {
	target := b.run.Profile.Steps[step-1].Target
	healthy := s.kettle.Plant().Clone()
	healthy.SetCondition(sim.Condition{})
	return float64(target.Plus(sim.Offset(healthy, target)))
}

// figure is one measured figure over all kettles, beside its limit.
type figure struct {
	what   string
	limit  float64
	worst  float64
	where  string
	n      int
	beyond int
}

// take notes the figure of one kettle.
func (f *figure) take(v float64, b *brewDay) {
	if f.n == 0 || v > f.worst {
		f.worst, f.where = v, b.name
	}
	if f.n++; !(v <= f.limit) {
		f.beyond++
	}
}

// judge prints the figure, and demands that no more than that share of the
// kettles is beyond the limit.
func (f *figure) judge(t *testing.T, may float64) {
	t.Helper()
	t.Logf("%-58s limit %7.2f, worst %7.2f (%s); %d of %d beyond", f.what, f.limit, f.worst, f.where, f.beyond, f.n)
	if f.n == 0 || float64(f.beyond) > may*float64(f.n) {
		t.Errorf("%s: %d of %d are beyond %.2f, worst %.2f on %s; want at most %.0f %%", f.what, f.beyond, f.n, f.limit, f.worst, f.where, may*100)
	}
}
