package rehearse

import (
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"mashward/controller"
	"mashward/controller/invariant"
	"mashward/controller/line"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/deploy/explore"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/fault"
	"mashward/sim/kettles"
)

// harried is a brew day on a random kettle on which much goes wrong and persons
// press what they like; every tick of its loop is held to the laws.
type harried struct {
	t       *rapid.T
	run     Run
	bench   *sim.Bench
	element spied
	second  spied
	checker invariant.Checker
	r       *rand.Rand
	idle    int                               // ticks before it is armed
	presses map[time.Duration]controller.Wish // at random, by the run clock
	crashes map[time.Duration]time.Duration   // at an instant: for how long no process is there
	patient int                               // how often a held batch is brought to go on
	left    int                               // ticks after the end
	beside  controller.Command                // what is pressed in the coming tick
	rules   map[string]int                    // of cuts and trips that were seen
}

// spied is a line that notes what it is told in a tick.
type spied struct {
	loop.Element
	held  unit.Relay
	lease time.Duration
	holds int
}

func (s *spied) Hold(r unit.Relay, d time.Duration) error {
	s.held, s.lease, s.holds = r, d, s.holds+1
	return s.Element.Hold(r, d)
}

// newHarried draws a day. Its rests are short: what may go wrong does so at their
// ends.
func newHarried(t *rapid.T) *harried {
	k := kettles.Random(rapid.Uint64Range(0, 9999).Draw(t, "kettle"))
	rig := RigOf(k, rapid.SampledFrom([]plan.RelayKind{plan.Mechanical, plan.SolidState}).Draw(t, "relay"))
	p := brewed(k, rapid.IntRange(0, 2).Draw(t, "boils") > 0)
	for i := range p.Steps {
		if p.Steps[i].For > 0 {
			p.Steps[i].For = time.Duration(rapid.IntRange(1, 8).Draw(t, "minutes")) * time.Minute
		}
	}
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		p.Steps = p.Steps[:5] // too weak to boil: it ends with the lift
		if d, problems = plan.Make(p, rig.PlanKettle()); plan.Refused(problems) {
			t.Fatal(problems)
		}
	}
	h := &harried{t: t, r: rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "chance"), 1)), rules: map[string]int{}, left: 30}
	h.run = On(rig, p, d, nil)
	h.run.Bare, h.run.Delay = true, time.Duration(rapid.IntRange(0, 300).Draw(t, "delay"))*time.Second
	h.run.Contactor = rapid.Bool().Draw(t, "contactor")
	injector := fault.New(drawScript(t, len(p.Steps)), FromStart(p)...)
	h.bench = sim.NewBench(sim.New(k.Plant, k.Load, h.r.Uint64()), injector, h.r.Uint64())
	h.run.Kettle = &Simulated{Bench: h.bench, Faults: injector}
	h.idle, h.patient = rapid.IntRange(5, 60).Draw(t, "idle"), rapid.IntRange(0, 4).Draw(t, "patience")
	h.presses, h.crashes = drawPresses(t), drawCrashes(t)
	core, limits := Core(p, d), Limits(p, d)
	h.checker.Day = loop.DayOf(&core, &limits)
	return h
}

// drawScript is up to four faults at any moments.
func drawScript(t *rapid.T, steps int) fault.Script {
	one := rapid.Custom(func(t *rapid.T) fault.Fault {
		f := fault.Default(fault.Kind(rapid.IntRange(int(fault.ProbeOpen), int(fault.TickLate)).Draw(t, "fault")))
		f.At = fault.Moment{OfStep: rapid.Bool().Draw(t, "of step"), Step: rapid.IntRange(0, steps).Draw(t, "step")}
		most := 150
		if f.At.OfStep {
			most = 20
		}
		f.At.After = time.Duration(rapid.IntRange(0, most).Draw(t, "after")) * time.Minute
		if !f.Kind.AtOnce() {
			f.For = time.Duration(rapid.SampledFrom([]int{1, 4, 8, 30, 61, 90, 200, 900, 0}).Draw(t, "for")) * time.Second
		}
		if f.Kind == fault.PowerCut && f.For == 0 {
			f.For = time.Minute // it ends, or there is nothing more to see
		}
		f.Kelvin *= unit.Kelvin(rapid.SampledFrom([]int{1, 1, 5}).Draw(t, "times"))
		return f
	})
	script := fault.Script(rapid.SliceOfN(one, 0, 4).Draw(t, "faults"))
	if rapid.IntRange(0, 4).Draw(t, "flutter") == 4 {
		script = append(script, flutter(t)...)
	}
	return script
}

// flutter is a fault of a moment that comes again and again for more than an hour.
func flutter(t *rapid.T) (script fault.Script) {
	f := fault.Default(rapid.SampledFrom([]fault.Kind{fault.TickLate, fault.ProbeOffset, fault.ProbeOpen}).Draw(t, "flutters"))
	f.Kelvin, f.Duration, f.For = 20, 4*time.Second, time.Second
	if f.Kind == fault.ProbeOpen {
		f.For = 6 * time.Second
	}
	f.At.After = time.Duration(rapid.IntRange(0, 60).Draw(t, "from")) * time.Minute
	return again(f, time.Duration(rapid.IntRange(11, 30).Draw(t, "period"))*time.Second)
}

// again is a fault that comes at every period for 70 min.
func again(f fault.Fault, period time.Duration) (script fault.Script) {
	for end := f.At.After + 70*time.Minute; f.At.After < end; f.At.After += period {
		script = append(script, f)
	}
	return script
}

func drawPresses(t *rapid.T) map[time.Duration]controller.Wish {
	out := map[time.Duration]controller.Wish{}
	for _, second := range rapid.SliceOfN(rapid.IntRange(60, 12000), 0, 8).Draw(t, "pressed at") {
		w := controller.Wish(rapid.IntRange(int(controller.PouringNow), int(controller.TakeUpAlone)).Draw(t, "wish"))
		if w != controller.End || rapid.IntRange(0, 3).Draw(t, "really") == 3 {
			out[time.Duration(second)*time.Second] = w
		}
	}
	return out
}

func drawCrashes(t *rapid.T) map[time.Duration]time.Duration {
	out := map[time.Duration]time.Duration{}
	for _, second := range rapid.SliceOfN(rapid.IntRange(60, 12000), 0, 2).Draw(t, "crashes at") {
		out[time.Duration(second)*time.Second] = time.Duration(rapid.IntRange(1, 400).Draw(t, "away")) * time.Second
	}
	return out
}

// begin makes the loop of a process.
func (h *harried) begin() {
	h.run.prepare()
	l := &h.run.loop
	h.element = spied{Element: l.Element}
	l.Element = &h.element
	if h.run.Contactor {
		h.second = spied{Element: h.bench.Contactor()}
		l.Contactor = line.Line(&h.second)
	}
	l.Orders = (*meddled)(h)
}

// meddled are the orders of such a day.
type meddled harried

// Take implements loop.Orders.
func (o *meddled) Take() (controller.Command, controller.Proposal) {
	c := controller.Command{}
	if o.idle--; o.idle < 0 {
		c = o.run.person.Take()
	}
	if o.beside.Wish != controller.NoWish {
		c, o.beside = o.beside, controller.Command{}
	}
	return c, o.run.learner.Take()
}

// see holds a frame to the laws and decides what is pressed next. True: the process
// ends here.
func (h *harried) see(f *loop.Frame) bool {
	fact := f.Fact()
	fact.Sure, fact.On, fact.Lease, fact.Contactor = true, h.element.held, h.element.lease, h.second.held
	for _, b := range h.checker.Check(fact) {
		h.t.Errorf("%v; step %d, %v, %v, verdict %+v, reading %+v", b, f.Decision.Index, f.Decision.Stage, f.Tick.Command.Wish, f.Verdict, f.Tick.Reading)
	}
	if h.element.holds != 1 {
		h.t.Errorf("%v: the line was asked %d times in one tick", f.Tick.Now, h.element.holds)
	}
	h.element.holds = 0
	if h.t.Failed() {
		return true
	}
	h.rules[fact.Cut]++
	h.rules[fact.Trip]++
	h.run.over(f)
	h.press(f)
	if f.Decision.Mode.Ended() {
		h.left--
	}
	_, crash := h.crashes[f.Tick.Now]
	return crash || h.run.Kettle.PowerLost() || h.left <= 0 || f.Tick.Now > 8*time.Hour
}

// press is what persons do beside answering: anything at random, and what makes a
// held batch go on, or ends it.
func (h *harried) press(f *loop.Frame) {
	d := &f.Decision
	if w, ok := h.presses[f.Tick.Now]; ok {
		h.beside = controller.Command{Wish: w, Volume: unit.Litres(h.r.IntN(30)), By: time.Minute}
	}
	if f.Number%200 != 0 {
		return
	}
	switch {
	case d.Mode == controller.Offered:
		h.beside = controller.Command{Wish: controller.TakeUp, Volume: h.run.Profile.Water}
	case d.Mode == controller.Paused:
		h.beside.Wish = controller.Resume
	case d.Mode != controller.Held:
		return
	case h.patient < 0:
		h.beside.Wish = controller.End
	case f.Tick.Trip != controller.NoReason && f.Number%400 == 0:
		h.patient--
		h.beside.Wish = controller.ClearTrip
	default:
		h.beside.Wish = controller.Resume
	}
}

// live runs processes until the day is over.
func (h *harried) live() {
	h.begin()
	for range 8 {
		h.run.loop.Run(h.see)
		last := h.run.loop.Latest()
		if h.t.Failed() || h.left <= 0 || last.Tick.Now > 8*time.Hour {
			return
		}
		away := h.crashes[last.Tick.Now]
		for from := h.bench.Now(); h.bench.Now() < from+away || h.run.Kettle.PowerLost(); {
			h.bench.Next()
		}
		state, guard, watch := h.run.loop.State, h.run.loop.Guard, h.run.loop.Watch
		if h.bench.Element().OnTime() > 0 {
			h.t.Errorf("%v: the element is on and nobody is there", h.bench.Now())
		}
		h.bench.Element().Rearm()
		h.bench.Pump().Rearm()
		h.bench.Contactor().Rearm()
		h.begin()
		h.checker = h.checker.Restarted()
		l := &h.run.loop
		l.Guard, l.Watch = guard.Restarted(), watch.Restarted()
		if state.Mode != controller.Idle && !state.Mode.Ended() {
			l.State = state.Offer(h.bench.Now()-last.Tick.Now, h.r.IntN(4) > 0)
		}
	}
}

// TestTheLawsHoldOnAnyDay: the loop as it is, on random kettles of both kinds of
// relay, with up to four faults, presses at random, crashes and power cuts.
func TestTheLawsHoldOnAnyDay(t *testing.T) {
	size := explore.Size{Checks: 100, Night: *night}
	var all invariant.Tally
	rules := map[string]int{}
	explore.Check(t, size, func(t *rapid.T) {
		h := newHarried(t)
		h.live()
		all = all.Add(h.checker.Tally)
		for id, n := range h.rules {
			rules[id] += n
		}
	})
	delete(rules, "")
	t.Log(all)
	t.Logf("ticks under each rule: %v", rules)
	if testing.Short() {
		return
	}
	if why := all.Vacuous(size.Each()); why != "" {
		t.Error(why)
	}
	if len(rules) < 10 {
		t.Errorf("only %d of the 14 rules were ever at work", len(rules))
	}
}

// TestAFlutteringProbeWearsNoRelay: a reading that jumps for a second, again and
// again, has heat cut for 10 s each time. A mechanical relay must not close each
// time it comes back: that was up to 328 times an hour.
func TestAFlutteringProbeWearsNoRelay(t *testing.T) {
	k := kettles.Random(13) // a slow one: its strike water takes more than an hour
	rig := RigOf(k, plan.Mechanical)
	p := brewed(k, false)
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		t.Fatal(problems)
	}
	for _, period := range []time.Duration{12 * time.Second, 14 * time.Second} {
		injector := fault.New(again(fault.Fault{Kind: fault.ProbeOffset, Kelvin: 20, For: time.Second}, period))
		bench := sim.NewBench(sim.New(k.Plant, k.Load, 1), injector, 1)
		core, limits := Core(p, d), Limits(p, d)
		c := &held{t: t, checker: invariant.Checker{Day: loop.DayOf(&core, &limits)}}
		run := On(rig, p, d, &Simulated{Bench: bench, Faults: injector})
		run.Bare, run.Watchers = true, []loop.Watcher{c}
		if _, err := run.Go(); err != nil {
			t.Fatal(err)
		}
		if tally := c.checker.Tally; tally.Cut < 1000 || tally.On < 1000 {
			t.Errorf("every %v: %v: nothing was tried", period, tally)
		}
	}
}

// held is a watcher that holds frames to the laws, to the first that is broken.
type held struct {
	t       *testing.T
	checker invariant.Checker
}

// Watch implements loop.Watcher.
func (h *held) Watch(f *loop.Frame) {
	if bad := h.checker.Check(f.Fact()); len(bad) > 0 && !h.t.Failed() {
		h.t.Error(bad[0])
	}
}
