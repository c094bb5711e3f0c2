package loop

import (
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/modulate"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors"
)

// rig is a pacer, a probe and two lines that note down what is done to them.
type rig struct {
	now     time.Duration
	end     time.Duration
	reading sensors.Reading
	spoil   func(*rig) // before a reading is given
	log     *[]string
	element testLine
	pump    testLine
	orders  []controller.Command
}

// testLine is one line.
type testLine struct {
	name    string
	log     *[]string
	held    unit.Relay
	lease   time.Duration
	holds   int
	dropped bool
	refuse  error
	dying   bool // panics when it is held
	gaveUp  bool
	applied *unit.Relay
}

func (l *testLine) Hold(r unit.Relay, lease time.Duration) error {
	*l.log = append(*l.log, l.name+" "+r.String())
	if l.dying {
		panic("the driver died")
	}
	l.held, l.lease = r, lease
	l.holds++
	if l.refuse != nil || l.dropped {
		l.held = unit.Off
		return l.refuse
	}
	return nil
}

func (l *testLine) Drop() {
	*l.log = append(*l.log, l.name+" dropped")
	l.held, l.dropped = unit.Off, true
}

func (l *testLine) Applied() unit.Relay {
	if l.applied != nil {
		return *l.applied
	}
	return l.held
}

func (l *testLine) GaveUp() bool { return l.gaveUp }
func (l *testLine) TryAgain()    { l.gaveUp = false }

func (r *rig) Next() (time.Duration, bool) {
	if r.now >= r.end {
		return 0, false
	}
	r.now += time.Second
	return r.now, true
}

func (r *rig) Latest() sensors.Reading {
	r.reading.Taken, r.reading.Fault = r.now, sensors.None
	if r.spoil != nil {
		r.spoil(r)
	}
	return r.reading
}

func (r *rig) Take() (c controller.Command, p controller.Proposal) {
	if len(r.orders) > 0 {
		c, r.orders = r.orders[0], r.orders[1:]
	}
	return c, p
}

// watch is a watcher of one function.
type watch func(*Frame)

func (w watch) Watch(f *Frame) { w(f) }

// started is a loop in the middle of a heat-up of plain water.
func started(t *testing.T) (*Loop, *rig) {
	t.Helper()
	log := &[]string{}
	r := &rig{
		end: time.Hour, log: log, reading: sensors.Reading{Value: 30},
		element: testLine{name: "element", log: log}, pump: testLine{name: "pump", log: log},
		orders: []controller.Command{{}, {Wish: controller.Start}},
	}
	c := controller.Config{
		Power: 3000, Loss: 7, LoadWater: 1e5, LoadMash: 1e5, LoadWort: 1e5, Relay: modulate.SolidState,
		HasPump: true, Boiling: 98.8, Room: 18, CoveredAt: 12, AfterLift: 25, First: 1, Count: 2,
	}
	c.Steps[1] = controller.Step{Kind: profile.Rest, Target: 63, For: time.Hour, Floor: 1}
	l := &Loop{
		Core: controller.Core{Config: c}, Pacer: r, Probe: r, Element: &r.element, Pump: &r.pump, Orders: r,
		Limits: interlock.Limits{
			MashCeiling: 70, BoilCeiling: 102, Boiling: 98.8, CoveredAt: 12, ElementPower: 3000,
			LossAtBoil: 560, OnLimit: time.Hour, ArmedFor: 12 * time.Hour,
		},
	}
	l.ticks(r, 15)
	if f := l.Latest(); f.Permitted != unit.On || f.Decision.Mode != controller.Running || r.element.held != unit.On {
		t.Fatalf("not heating after 15 s: %+v", f.Verdict)
	}
	*log = nil
	return l, r
}

// ticks lets seconds pass.
func (l *Loop) ticks(r *rig, n int) *Frame {
	for range n {
		r.now += time.Second
		l.Tick(r.now)
	}
	return l.Latest()
}

// never ends a Run only by the pacer.
func never(*Frame) bool { return false }

func TestRunDropsElementAndPumpHoweverItEnds(t *testing.T) {
	for name, end := range map[string]func(*Loop, *rig) func(*Frame) bool{
		"the pacer ends": func(l *Loop, r *rig) func(*Frame) bool { r.end = r.now + 3*time.Second; return never },
		"it is done":     func(*Loop, *rig) func(*Frame) bool { return func(*Frame) bool { return true } },
		"a watcher panics": func(l *Loop, _ *rig) func(*Frame) bool {
			l.Watchers = append(l.Watchers, watch(func(*Frame) { panic("watcher") }))
			return never
		},
		"the core panics": func(l *Loop, _ *rig) func(*Frame) bool {
			l.State.Index = 200 // out of range
			return never
		},
		"the probe panics":   func(_ *Loop, r *rig) func(*Frame) bool { r.spoil = func(*rig) { panic("probe") }; return never },
		"the driver panics":  func(_ *Loop, r *rig) func(*Frame) bool { r.element.dying = true; return never },
		"the pump panics":    func(_ *Loop, r *rig) func(*Frame) bool { r.pump.dying = true; return never },
		"the pacer panics":   func(l *Loop, _ *rig) func(*Frame) bool { l.Pacer = nil; return never },
		"asking done panics": func(*Loop, *rig) func(*Frame) bool { return func(*Frame) bool { panic("done") } },
	} {
		l, r := started(t)
		done := end(l, r)
		panicked := recovered(func() { l.Run(done) })
		if wants := name != "the pacer ends" && name != "it is done"; (panicked != nil) != wants {
			t.Errorf("%s: panic %v", name, panicked)
		}
		if !r.element.dropped || !r.pump.dropped || r.element.held == unit.On {
			t.Errorf("%s: element dropped %v, pump dropped %v", name, r.element.dropped, r.pump.dropped)
		}
		first := slices.IndexFunc(*r.log, func(s string) bool { return s == "element dropped" || s == "pump dropped" })
		if first < 0 || (*r.log)[first] != "element dropped" {
			t.Errorf("%s: the element is not dropped first: %v", name, *r.log)
		}
	}
}

func recovered(do func()) (value any) {
	defer func() { value = recover() }()
	do()
	return nil
}

func TestThePumpIsDroppedEvenWhenTheElementCannotBe(t *testing.T) {
	l, r := started(t)
	r.end = r.now + time.Second
	l.Element = dying{&r.element}
	if recovered(func() { l.Run(never) }) == nil {
		t.Error("the panic of a driver is swallowed")
	}
	if !r.pump.dropped {
		t.Error("the pump stays on because the element's driver panicked")
	}
}

// dying is a line that panics when it is dropped.
type dying struct{ *testLine }

func (dying) Drop() { panic("cannot drop") }

func TestTheLinesAreHeldBeforeAnybodySeesTheFrame(t *testing.T) {
	l, r := started(t)
	seen := 0
	l.Watchers = []Watcher{watch(func(f *Frame) {
		seen++
		if n := len(*r.log); n != 2 || (*r.log)[0] != "element "+f.Permitted.String() || (*r.log)[1] != "pump "+f.Decision.Pump.String() {
			t.Errorf("when the frame is shown the lines have seen %v", *r.log)
		}
		*r.log = nil
	})}
	l.ticks(r, 20)
	if seen != 20 {
		t.Errorf("%d frames shown in 20 ticks", seen)
	}
}

func TestEachTickHoldsEachLineOnceForOneLease(t *testing.T) {
	l, r := started(t)
	element, pump := r.element.holds, r.pump.holds
	l.ticks(r, 10)
	if r.element.holds-element != 10 || r.pump.holds-pump != 10 || r.element.lease != Lease || r.pump.lease != Lease {
		t.Errorf("10 ticks: element held %d times, pump %d times, leases %v and %v",
			r.element.holds-element, r.pump.holds-pump, r.element.lease, r.pump.lease)
	}
	if Lease > 3*time.Second {
		t.Errorf("a lease of %v", Lease)
	}
}

func TestTheElementIsHeldAsPermittedNeverAsWanted(t *testing.T) {
	l, r := started(t)
	r.now += 10 * time.Second // a late tick: the interlock cuts for 10 s, while the core goes on wanting heat
	withheld := 0
	for range 8 {
		f := l.ticks(r, 1)
		if r.element.held != f.Permitted {
			t.Fatalf("held %v, permitted %v", r.element.held, f.Permitted)
		}
		if f.Decision.Wanted == unit.On && f.Permitted == unit.Off {
			withheld++
		}
	}
	if withheld < 5 {
		t.Errorf("heat was wanted and withheld in %d of 8 ticks only: nothing was tried", withheld)
	}
	if f := l.ticks(r, 10); f.Permitted != unit.On || r.element.held != unit.On {
		t.Errorf("the heat does not come back: %+v", f.Verdict)
	}
}

func TestAboveTheLimitNothingHeats(t *testing.T) {
	l, r := started(t)
	r.reading.Value = 75 // above the limit of 70 °C
	f := l.ticks(r, 6)   // five readings in a row until the jump is believed
	if f.Permitted != unit.Off || r.element.held != unit.Off || f.Verdict.Trip != interlock.OverTemperature {
		t.Errorf("permitted %v, held %v, trip %v", f.Permitted, r.element.held, f.Verdict.Trip)
	}
}

func TestAVerdictComesBackToTheCoreInTheNextTick(t *testing.T) {
	l, r := started(t)
	r.reading.Value = 75
	for range 10 {
		before := l.Latest().Verdict
		f := l.ticks(r, 1)
		if f.Tick.Trip != reasonOf(before.Trip) || f.Tick.Inhibited != (before.Cut != interlock.NoRule) {
			t.Fatalf("verdict %+v came back as trip %v, inhibited %v", before, f.Tick.Trip, f.Tick.Inhibited)
		}
	}
	if d := l.Latest().Decision; d.Mode != controller.Held || d.Reason != controller.OverTemperature || d.Pump == unit.On {
		t.Errorf("over the limit: %v (%v), pump %v", d.Mode, d.Reason, d.Pump)
	}
}

func TestAClearedTripLetsThePersonGoOn(t *testing.T) {
	l, r := started(t)
	r.reading.Value = 75
	l.ticks(r, 10)
	r.reading.Value = 60
	r.orders = []controller.Command{{Wish: controller.Resume}, {Wish: controller.ClearTrip}}
	l.ticks(r, 30) // refused; and the jump back has to be believed first
	if d := l.Latest().Decision; d.Mode != controller.Held {
		t.Fatalf("resumed under a trip: %v", d.Mode)
	}
	r.orders = []controller.Command{{Wish: controller.ClearTrip}, {}, {Wish: controller.Resume}}
	if f := l.ticks(r, 5); f.Decision.Mode != controller.Running || f.Verdict.Trip != interlock.NoRule {
		t.Errorf("after clearing and resuming: %v, trip %v", f.Decision.Mode, f.Verdict.Trip)
	}
	if f := l.ticks(r, 10); f.Permitted != unit.On {
		t.Errorf("no heat after a cleared trip: %+v", f.Verdict)
	}
}

func TestWhatTheElementDidComesBackToCoreAndInterlock(t *testing.T) {
	l, r := started(t)
	for _, did := range []unit.Relay{unit.Off, unit.On, unit.Off} {
		r.element.applied = &did
		f := l.ticks(r, 1)
		if f.Tick.Applied != did || f.Facts.Applied != did {
			t.Errorf("element did %v: core told %v, interlock told %v", did, f.Tick.Applied, f.Facts.Applied)
		}
	}
}

func TestTheInterlockSeesTheRawReadingAndNoTarget(t *testing.T) {
	l, r := started(t)
	r.reading.Value = 33.3
	f := l.ticks(r, 1)
	if f.Facts.Reading != f.Tick.Reading || f.Facts.Reading.Value != 33.3 || f.Facts.Now != f.Tick.Now {
		t.Errorf("the interlock was told %+v of %+v", f.Facts, f.Tick)
	}
	if f.Facts.Wanted != f.Decision.Wanted || !f.Facts.Armed || !f.Facts.Heats || f.Facts.Stage != interlock.Mash {
		t.Errorf("facts %+v", f.Facts)
	}
}

func TestTheLiftTellsTheInterlockItsStageAndVolume(t *testing.T) {
	tick := controller.Tick{Now: time.Minute}
	f := factsOf(&tick, &controller.Decision{Mode: controller.Paused, Armed: true, Lifted: true, Volume: 22, Statement: 3, Drawn: 2, Water: 40})
	if f.Stage != interlock.Lifted || f.Volume != 22 || f.Statement != 3 || f.Drawn != 2 || !f.Heats {
		t.Errorf("facts %+v", f)
	}
	for m := controller.Idle; m <= controller.Offered; m++ {
		if f := factsOf(&tick, &controller.Decision{Mode: m}); f.Heats != (m == controller.Running || m == controller.Paused) {
			t.Errorf("%v heats: %v", m, f.Heats)
		}
	}
}

func TestOnlyClearTripClears(t *testing.T) {
	for w := controller.NoWish; w <= controller.ClearTrip; w++ {
		tick := controller.Tick{Command: controller.Command{Wish: w}}
		if f := factsOf(&tick, &controller.Decision{}); f.Clear != (w == controller.ClearTrip) {
			t.Errorf("%v clears: %v", w, f.Clear)
		}
	}
}

func TestEveryRuleHasItsOwnReason(t *testing.T) {
	of := map[controller.Reason]interlock.Rule{}
	for _, rule := range interlock.Rules() {
		why := reasonOf(rule)
		if why < controller.Stale {
			t.Errorf("%v holds the batch as %q", rule, why)
		}
		if other, taken := of[why]; taken {
			t.Errorf("%v and %v both hold the batch as %q", rule, other, why)
		}
		of[why] = rule
	}
	if len(of) != int(controller.EnergyBudget-controller.Stale)+1 {
		t.Errorf("%d reasons for %d rules", int(controller.EnergyBudget-controller.Stale)+1, len(of))
	}
	if reasonOf(interlock.NoRule) != controller.NoReason {
		t.Error("no rule is a reason")
	}
	if reasonOf(interlock.Rule(200)) == controller.NoReason {
		t.Error("a rule that nobody knows is no reason to hold")
	}
}

func TestARuleAndItsReasonAreNamedAlike(t *testing.T) {
	for rule, words := range map[interlock.Rule]string{
		interlock.Stale: "probe lost", interlock.Implausible: "implausible reading", interlock.OverTemperature: "over-temperature",
		interlock.NotArmed: "not armed", interlock.Empty: "level too low", interlock.OnTooLong: "on too long",
		interlock.TickLate: "tick late", interlock.NotHeating: "not heating", interlock.HeatingWhileOff: "heating while off",
		interlock.TooFast: "heating too fast", interlock.ProbeOut: "probe out", interlock.ProbeStuck: "probe stuck",
		interlock.PumpStopped: "pump stopped", interlock.EnergyBudget: "energy budget",
	} {
		if got := reasonOf(rule).String(); got != words {
			t.Errorf("%v holds the batch as %q, want %q", rule, got, words)
		}
	}
}

func TestALineThatRefusesIsSaidAndDoesNotStopTheOther(t *testing.T) {
	l, r := started(t)
	r.element.refuse = errors.New("element broken")
	pump := r.pump.holds
	if f := l.ticks(r, 1); !errors.Is(f.LineFault, r.element.refuse) || r.pump.holds != pump+1 {
		t.Errorf("line fault %v, pump held %d times", f.LineFault, r.pump.holds-pump)
	}
	r.pump.refuse = fmt.Errorf("pump broken")
	if f := l.ticks(r, 1); !errors.Is(f.LineFault, r.element.refuse) {
		t.Errorf("both refuse: %v", f.LineFault)
	}
	r.element.refuse = nil
	if f := l.ticks(r, 1); !errors.Is(f.LineFault, r.pump.refuse) {
		t.Errorf("the pump's line refuses: %v", f.LineFault)
	}
	r.pump.refuse = nil
	if f := l.ticks(r, 1); f.LineFault != nil {
		t.Errorf("all well again: %v", f.LineFault)
	}
}

func TestFramesAreNumberedAndOneTickApart(t *testing.T) {
	l, r := started(t)
	last := l.Latest().Number
	l.Watchers = []Watcher{watch(func(f *Frame) {
		if f.Number != last+1 {
			t.Errorf("frame %d after %d", f.Number, last)
		}
		if f.State != &l.State || f.State.Last != f.Tick.Now {
			t.Error("the frame does not show the state after its tick")
		}
		last = f.Number
	})}
	l.ticks(r, 10)
}

func TestALoopWithoutPumpAndOrdersRuns(t *testing.T) {
	l, r := started(t)
	l.Pump, l.Orders = nil, nil
	r.end = r.now + 5*time.Second
	l.Run(never)
	if !r.element.dropped || l.Latest().Decision.Mode != controller.Running {
		t.Errorf("dropped %v, %v", r.element.dropped, l.Latest().Decision.Mode)
	}
}

func TestATickAllocatesNothing(t *testing.T) {
	l, r := started(t)
	l.Watchers = []Watcher{watch(func(*Frame) {})}
	r.element.log, r.pump.log = new([]string), new([]string)
	l.Element, l.Pump = quiet{}, quiet{}
	if n := testing.AllocsPerRun(1000, func() { l.ticks(r, 1) }); n != 0 {
		t.Errorf("%v allocations a tick", n)
	}
}

// quiet is a line that does as it is told and says nothing.
type quiet struct{}

func (quiet) Hold(unit.Relay, time.Duration) error { return nil }
func (quiet) Drop()                                {}
func (quiet) Applied() unit.Relay                  { return unit.Off }
