package record

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/modulate"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors"
)

// toy is a lumped kettle with a lagging probe: just enough to carry the core
// through a day. It is pacer, probe, element and person.
type toy struct {
	loop    loop.Loop
	noise   *rand.Rand
	rough   bool // readings with all digits, ticks that come a little late
	n       int64
	now     time.Duration
	wort    float64
	probe   float64
	applied unit.Relay
	asked   int // seconds for which the present question has stood
	prompt  controller.Prompt
	wishes  map[int64]controller.Command
	ticks   int64 // after so many the day ends; 0 = when the batch has
	chiller bool
}

func (t *toy) Next() (time.Duration, bool) {
	t.n++
	if t.ticks > 0 && t.n > t.ticks {
		return t.now, false
	}
	power := 0.0
	if t.applied == unit.On {
		power = 3000
	}
	rate := (power - 8*(t.wort-18)) / 110e3
	if t.chiller {
		rate -= (t.wort - 12) / 400
	}
	t.wort += rate
	if t.wort > 100 {
		t.wort = 100
	}
	t.probe += (t.wort - t.probe) / 15
	t.now = time.Duration(t.n) * time.Second
	if t.rough {
		t.now += time.Duration(t.noise.IntN(5_000_000))
	}
	return t.now, true
}

func (t *toy) Latest() sensors.Reading {
	v := t.probe + 0.03*t.noise.NormFloat64()
	if !t.rough {
		v = float64(int(v*16)) / 16
	}
	r := sensors.Reading{Value: unit.Celsius(v), Taken: t.now - 750*time.Millisecond, Fault: sensors.None}
	if t.rough {
		r.Taken -= time.Duration(t.noise.IntN(2_000_000))
	}
	if t.n%1000 > 994 {
		r = sensors.Reading{Taken: r.Taken, Fault: sensors.Checksum}
	}
	return r
}

func (t *toy) Applied() unit.Relay { return t.applied }
func (t *toy) Drop()               { t.applied = unit.Off }
func (t *toy) Hold(r unit.Relay, _ time.Duration) error {
	t.applied = r
	return nil
}

// Take is the person: answers half a minute after being asked.
func (t *toy) Take() (controller.Command, controller.Proposal) {
	if w, ok := t.wishes[t.n]; ok {
		return w, controller.Proposal{}
	}
	d := &t.loop.Latest().Decision
	if t.asked++; d.Prompt != t.prompt {
		t.prompt, t.asked = d.Prompt, 0
	}
	if t.asked < 30 {
		return controller.Command{}, controller.Proposal{}
	}
	t.asked = 0
	answers := map[controller.Prompt]controller.Wish{
		controller.AskPour: controller.PouringNow, controller.AskGrainIn: controller.GrainIn,
		controller.AskDidGrainGo: controller.NoGrain, controller.AskLift: controller.LiftingNow,
		controller.AskBagClear: controller.BagClear, controller.AskDrained: controller.Drained,
		controller.AskHereLidOff: controller.HereLidOff, controller.AskChiller: controller.ChillerIn,
		controller.AskScald: controller.ChillerIn, controller.AskChillerWater: controller.ChillerIn,
	}
	t.chiller = t.chiller || d.Prompt == controller.AskChiller || d.Prompt == controller.AskChillerWater
	return controller.Command{Wish: answers[d.Prompt]}, controller.Proposal{}
}

// toyConfig is a short brew day of our own.
func toyConfig() controller.Config {
	c := controller.Config{
		Power: 3000, Loss: 8, LoadWater: 110e3, LoadMash: 115e3, LoadWort: 95e3, Vessel: 4e3,
		Relay: modulate.SolidState, HasPump: true, Boiling: 100, Room: 18, Tap: 12,
		CoveredAt: 8, AfterLift: 21, Settle: 5 * time.Minute, Count: 8,
	}
	steps := []controller.Step{
		{Kind: profile.Strike, Target: 48},
		{Kind: profile.MashIn, Target: 46, For: 15 * time.Minute, Floor: 1},
		{Kind: profile.Rest, Target: 63, For: 40 * time.Minute, Floor: 1, Ramp: 1.0 / 60},
		{Kind: profile.Rest, Target: 71, For: 30 * time.Minute, Floor: 1},
		{Kind: profile.MashOut, Target: 77, For: 10 * time.Minute, Floor: 1},
		{Kind: profile.Lift},
		{Kind: profile.Boil, For: 75 * time.Minute, Duty: 0.7, From: 0, To: 2},
		{Kind: profile.Chill, Target: 20},
	}
	copy(c.Steps[:], steps)
	c.Additions = [profile.MaxAdditions]time.Duration{60 * time.Minute, 10 * time.Minute}
	return c
}

func toyLimits() interlock.Limits {
	return interlock.Limits{
		MashCeiling: 82, BoilCeiling: 104, Boiling: 100, CoveredAt: 8, ElementPower: 3000,
		LossAtBoil: 600, OnLimit: 3 * time.Hour, ArmedFor: 12 * time.Hour,
	}
}

func toyHead() Head {
	return Head{
		Program: "test", Simulated: true, Began: "2031-05-04T09:00:00+02:00", Profile: "Rye, four rests",
		ProfileText: "profile: Rye, four rests\n", RigText: "rig: Yard kettle\n",
		StepNames: []string{"", "", "beta"}, AdditionNames: []string{"28 g bittering hops", "finings"},
		Config: toyConfig(), Limits: toyLimits(),
	}
}

func newToy(seed uint64) *toy {
	t := &toy{
		noise: rand.New(rand.NewPCG(seed, 7)), wort: 15, probe: 15,
		wishes: map[int64]controller.Command{5: {Wish: controller.Start}},
	}
	t.loop = loop.Loop{
		Core: controller.Core{Config: toyConfig()}, Limits: toyLimits(),
		Pacer: t, Probe: t, Element: t, Orders: t,
	}
	return t
}

// watch runs the day with these watchers.
func (t *toy) watch(watchers ...loop.Watcher) {
	t.loop.Watchers = watchers
	t.loop.Run(func(f *loop.Frame) bool { return f.Decision.Mode.Ended() })
}

// kept is a watcher that keeps a copy of every frame and its state.
type kept struct {
	frames []loop.Frame
	states []controller.State
	guards []interlock.Guard
	guard  *interlock.Guard
}

func (k *kept) Watch(f *loop.Frame) {
	k.frames, k.states, k.guards = append(k.frames, *f), append(k.states, *f.State), append(k.guards, *k.guard)
}

// recorded runs a toy's day into memory.
func recorded(tb testing.TB, t *toy, more ...loop.Watcher) *Memory {
	tb.Helper()
	m := new(Memory)
	r, err := New(m, toyHead(), t.loop.State, Options{Direct: true, Guard: &t.loop.Guard})
	if err != nil {
		tb.Fatal(err)
	}
	for _, w := range more {
		if s, ok := w.(*sayer); ok {
			s.r = r
		}
	}
	t.watch(append([]loop.Watcher{r}, more...)...)
	if err := r.Close(context.Background()); err != nil {
		tb.Fatal(err)
	}
	return m
}

// opened reads the head of a record that must have one.
func opened(tb testing.TB, s Storage) *Reader {
	tb.Helper()
	r, err := Read(s)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}
