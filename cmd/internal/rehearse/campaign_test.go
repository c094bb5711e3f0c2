package rehearse

import (
	"cmp"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/controller/verify"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/fault"
	"mashward/sim/kettles"
)

// The limits of controller/verify were chosen with the seeds 1,000,000 to
// 1,004,299 and 5,000,000 to 5,003,999 (healthy), 2,000,000 to 2,001,999 and
// 3,100,000 to 3,100,699 (faulty); what began at 31, 47, 61, 71, 83, 91, 97, 101, 111, 121,
// 131, 151, 161, 171, 181, 211, 221, 231 and 241 million was seen on the way. They are judged on these. Whoever chooses a limit by
// what comes out here has seen them, and takes others.
const (
	judgedHealthy = 251_000_000
	judgedFaulty  = 261_000_000
)

var (
	campaignFrom = flag.Uint64("campaign-from", 0, "look at these seeds instead of those that are judged")
	campaignDays = flag.Int("campaign-days", 0, "so many kettles instead of the usual number")
)

var night = flag.Bool("night", false, "the large fault campaign: 10,000 healthy days and 10,000 faulty runs of each kind, under an hour on two cores")

// caught is one kettle on its brew day: moments of it, to go on from.
type caught struct {
	kettle kettles.Kettle
	seed   uint64
	tuned  bool
	run    *Run
	all    []instant
	bench  *sim.Bench
	when   []string
	trips  []string // of the healthy day itself
	fell   bool     // the day itself did not come to its end
}

// instant is all that is needed to go on from one tick.
type instant struct {
	bench *sim.Bench
	state controller.State
	guard interlock.Guard
	watch verify.State
	stage controller.Stage
	index uint8
	into  time.Duration // the stage
}

// Watch keeps an instant every few seconds.
func (c *caught) Watch(f *loop.Frame) {
	if f.Number%17 != 0 || f.Decision.Mode != controller.Running {
		return
	}
	c.all = append(c.all, instant{
		bench: c.bench.Clone(nil), state: *f.State, guard: c.run.loop.Guard, watch: *f.Watch,
		stage: f.Decision.Stage, index: f.Decision.Index, into: f.State.InStage,
	})
}

// boilsFor is how long those days boil.
const boilsFor = 12 * time.Minute

// brewed is the day of a random kettle: four rests, lift, a short boil, chill.
func brewed(k kettles.Kettle, boils bool) profile.Profile {
	p := FourRests(k)
	p.Steps = append(p.Steps, profile.Step{Kind: profile.Lift})
	if boils {
		p.Steps = append(p.Steps, profile.Step{Kind: profile.Boil, For: boilsFor},
			profile.Step{Kind: profile.Chill, Target: k.Declared.Tap + 20})
	}
	return p
}

// set prepares the day of the kettle of a seed, tuned by a water test or not.
func set(seed uint64, tuned, boils bool) (*caught, error) {
	k := kettles.Random(seed)
	rig := RigOf(k, plan.RelayKind(seed/2%2))
	if tuned {
		var err error
		if rig, _, err = TuneRandom(k, rig, seed); err != nil {
			return nil, err
		}
	}
	p := brewed(k, boils)
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) && boils {
		return set(seed, tuned, false) // too weak to boil: it ends with the lift
	}
	var found *config.Tuning
	if tuned {
		found = rig.Found
	}
	run := &Run{Profile: p, Plan: d, Model: rig.Model(), Bare: true, Checks: Checks(d, found), Delay: 4 * time.Minute}
	return &caught{kettle: k, seed: seed, tuned: tuned, run: run}, nil
}

// live runs the day on a plant, with what goes wrong in it.
func (c *caught) live(k kettles.Kettle, script fault.Script, keep bool) error {
	injector := fault.New(script, FromStart(c.run.Profile)...)
	c.bench = sim.NewBench(sim.New(k.Plant, k.Load, c.seed+7), injector, c.seed)
	c.run.Kettle = &Simulated{Bench: c.bench, Faults: injector}
	if keep {
		c.run.Watchers = append(c.run.Watchers, c)
	}
	c.run.Watchers = append(c.run.Watchers, (*latches)(c))
	r, err := c.run.Go()
	c.fell = r.Outcome != "complete"
	return err
}

// latches notes the trips of a day.
type latches caught

// Watch implements loop.Watcher.
func (l *latches) Watch(f *loop.Frame) {
	if id := f.Verdict.Trip.String(); f.Verdict.Trip != interlock.NoRule && !slices.Contains(l.trips, id) {
		l.trips = append(l.trips, id)
		l.when = append(l.when, fmt.Sprintf("%s at %v, step %d, %v for %v", id, f.Tick.Now, f.Decision.Index, f.State.Stage, f.State.InStage))
	}
}

// onward is one run from an instant on with a fault in it.
type onward struct {
	loop  loop.Loop
	bench *sim.Bench
}

// from goes on from an instant with a fault that begins at once.
func (c *caught) from(i *instant, f fault.Fault) *onward {
	injector := fault.New(fault.Script{f})
	injector.Armed(i.bench.Now())
	bench := i.bench.Clone(injector)
	kettle := &Simulated{Bench: bench, Faults: injector}
	person := &Person{Delay: c.run.Delay, Do: kettle.Do, Level: func() unit.Litres { return 0 }}
	o := &onward{bench: bench}
	o.loop = loop.Loop{
		Core: c.run.loop.Core, State: i.state, Limits: c.run.loop.Limits, Guard: i.guard,
		Verifier: verify.Verifier{Params: c.run.Checks}, Watch: i.watch,
		Pacer: kettle, Probe: kettle, Element: kettle.Element(), Pump: bench.Pump(), Orders: alone{person}, Watchers: []loop.Watcher{person},
	}
	return o
}

// end is how a faulty run came out.
type end struct {
	found bool
	after float64 // s
	rule  interlock.Rule
	place sim.Place
	tuned bool
	seed  uint64
}

// follow runs until heat is taken away, or the horizon. counts says from when on
// the delay is counted; nil: from the beginning.
func (o *onward) follow(horizon time.Duration, counts func(*loop.Frame) bool) end {
	begun := counts == nil
	since := time.Duration(0)
	var out end
	first := o.bench.Now()
	o.loop.Run(func(f *loop.Frame) bool {
		if !begun && counts(f) {
			begun, since = true, f.Tick.Now-first
		}
		if f.Verdict.Trip != interlock.NoRule || f.Verdict.Cut != interlock.NoRule {
			out.found, out.rule = true, cmp.Or(f.Verdict.Trip, f.Verdict.Cut)
			if begun {
				out.after = (f.Tick.Now - first - since).Seconds()
			}
			return true
		}
		passed := f.Tick.Now - first
		return begun && passed >= horizon+since || passed > 5*time.Hour || f.Decision.Mode.Ended()
	})
	return out
}

// pick is an instant of the day that suits, by chance; nil if there is none.
func (c *caught) pick(r *rand.Rand, suits func(*instant) bool) *instant {
	var good []*instant
	for i := range c.all {
		if suits(&c.all[i]) {
			good = append(good, &c.all[i])
		}
	}
	if len(good) == 0 {
		return nil
	}
	return good[r.IntN(len(good))]
}

// inRamp is the middle of a heat-up with the grain in: a tenth to six tenths of
// what the plan foresees.
func (c *caught) inRamp(i *instant) bool {
	if i.stage != controller.Heat || i.index < 2 || i.state.Lifted {
		return false
	}
	for _, s := range c.run.Plan.Steps {
		if s.Index == int(i.index) {
			return i.into > s.Heat()/10 && i.into < s.Heat()*6/10 && i.state.Law.Way == controller.Full
		}
	}
	return false
}

// inHold is a rest, three minutes and more after it was reached.
func (c *caught) inHold(i *instant) bool {
	return i.stage == controller.Count && i.index >= 2 && i.index <= 3 && i.into > 3*time.Minute && i.into < 15*time.Minute
}

// spreadOver runs do for n seeds on two cores.
func spreadOver(n int, do func(seed uint64)) {
	var wg sync.WaitGroup
	work := make(chan uint64)
	for range 2 {
		wg.Go(func() {
			for seed := range work {
				do(seed)
			}
		})
	}
	for i := range uint64(n) {
		work <- i
	}
	close(work)
	wg.Wait()
}

// tally gathers the ends of one row.
type tally struct {
	mu   sync.Mutex
	ends []end
}

func (t *tally) add(e end) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.ends = append(t.ends, e)
}

// text is the row: how many, how many missed, the bound at 95 %, the delays and
// what it was called.
func (t *tally) text(limit float64) (line string, missed, late int) {
	var delays []float64
	names := map[string]int{}
	worst := end{after: -1}
	for _, e := range t.ends {
		if !e.found {
			missed++
			continue
		}
		delays = append(delays, e.after)
		names[e.rule.String()]++
		if e.after > limit {
			late++
		}
		if e.after > worst.after {
			worst = e
		}
	}
	if len(delays) == 0 {
		return "none found", missed, late
	}
	slices.Sort(delays)
	at := func(share float64) float64 {
		return delays[int(math.Min(share*float64(len(delays)), float64(len(delays)-1)))]
	}
	called := make([]string, 0, len(names))
	for id, n := range names {
		called = append(called, fmt.Sprintf("%s %d", id, n))
	}
	slices.Sort(called)
	return fmt.Sprintf("%d runs, %d missed (95 %%: at most %.2g of all), s: median %.0f, p90 %.0f, p99 %.0f, max %.0f (kettle %d, %v, tuned %v); %d beyond %.0f s; %s",
		len(t.ends), missed, 3/float64(len(t.ends)), at(0.5), at(0.9), at(0.99), worst.after, worst.seed, worst.place, worst.tuned,
		late, limit, strings.Join(called, ", ")), missed, late
}

// TestHealthyDaysAreLeftAlone runs whole brew days on kettles nobody chose a
// limit by, each with something that is no fault: at most one false latch in
// 10,000.
func TestHealthyDaysAreLeftAlone(t *testing.T) {
	n := 150
	if *night {
		n = 5000
	}
	n = cmp.Or(*campaignDays, n)
	var mu sync.Mutex
	days, latched, short := 0, 0, 0
	list := benign()
	spreadOver(n, func(i uint64) {
		for _, tuned := range []bool{false, true} {
			seed := cmp.Or(*campaignFrom, judgedHealthy) + i
			b := list[(2*i+uint64(len(list)/2)*b2u(tuned))%uint64(len(list))]
			c, err := set(seed, tuned, true)
			if err != nil {
				continue // a water test that was refused: the old figures stay
			}
			k := c.kettle
			script := b.change(&k)
			if err := c.live(k, script, false); err != nil {
				t.Error(err)
			}
			mu.Lock()
			if days++; days%1000 == 0 {
				t.Logf("%d days, %d false latches so far", days, latched)
			}
			own := slices.DeleteFunc(c.trips, func(id string) bool { return id == "on-too-long" || id == "not-armed" })
			if len(own) > 0 {
				latched++
				t.Logf("kettle %d (%v, tuned %v), %s: %v", seed, k.Plant.Probe.Place, tuned, b.name, c.when)
			} else if c.fell {
				short++
			}
			mu.Unlock()
		}
	})
	t.Logf("%d healthy days, %d false latches (95 %%: at most %.2g of all if none); %d did not boil or ran into their time", days, latched, 3/float64(days), short)
	if most := max(days/10000, 0); latched > most {
		t.Errorf("%d false latches in %d days; want at most %d", latched, days, most)
	}
}

func b2u(b bool) uint64 {
	if b {
		return 1
	}
	return 0
}
