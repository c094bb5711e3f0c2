package learn

import (
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/observer"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors"
)

// mash is a batch as the learner sees it: a mash that is held, heated and held
// again, on a kettle of one mass that a probe follows by 15 s.
type mash struct {
	l         *Learner
	f         loop.Frame
	state     controller.State
	at, probe float64
	proposals []controller.Proposal
}

func batch(aside bool) *mash {
	m := &mash{at: 50, probe: 50, l: New(controller.Config{Power: 3000, Loss: 7, Room: 18, LoadMash: 120e3}, aside)}
	m.state.GrainIn, m.state.Load = true, 120e3
	m.f.State = &m.state
	m.f.Decision = controller.Decision{Stirred: true, Index: 1, Kind: profile.MashIn, Reached: true}
	return m
}

// second is one tick with the element on or off.
func (m *mash) second(on unit.Relay) {
	power := -7 * (m.at - 18)
	if on == unit.On {
		power += 3000
	}
	m.at += power / 120e3
	m.probe += (m.at - m.probe) / 15
	m.f.Tick.Now += time.Second
	m.f.Tick.Applied = on
	m.f.Tick.Reading = sensors.Reading{Value: unit.Celsius(m.probe), Taken: m.f.Tick.Now, Fault: sensors.None}
	m.l.Watch(&m.f)
	if p := m.l.Take(); p.Present {
		m.proposals = append(m.proposals, p)
	}
}

// hold keeps the mash where it is, by a pulse in thirteen seconds.
func (m *mash) hold(span time.Duration) {
	for i := range int(span / time.Second) {
		m.second(unit.RelayOf(i%13 == 0))
	}
}

// rest heats for eight minutes and holds for as long as is said, what happens in
// between.
func (m *mash) rest(index uint8, hold time.Duration, happens func()) {
	m.f.Decision.Index, m.f.Decision.Kind, m.f.Decision.Reached = index, profile.Rest, false
	for range 240 {
		m.second(unit.On)
	}
	happens()
	for range 240 {
		m.second(unit.On)
	}
	m.f.Decision.Reached = true
	m.hold(hold)
}

func nothing() {}

// TestAHeatedRestMakesOneProposal, 12 min after it was reached and 20 ticks for
// the answer; the mash-in, which was not heated, makes none.
func TestAHeatedRestMakesOneProposal(t *testing.T) {
	m := batch(false)
	m.hold(15 * time.Minute)
	if len(m.proposals) != 0 {
		t.Fatal("a mash-in was fitted")
	}
	m.rest(2, 12*time.Minute+18*time.Second, nothing)
	if len(m.proposals) != 0 {
		t.Fatal("the answer came before its time")
	}
	m.hold(20 * time.Minute)
	if len(m.proposals) != 1 {
		t.Fatalf("%d proposals of one rest", len(m.proposals))
	}
	p := m.proposals[0]
	if got := float64(p.Model.Power / unit.Watts(p.Model.Capacity()) * 120e3); got < 2970 || got > 3030 {
		t.Errorf("power over capacity as of %.0f W in this mash; want 3000 within 1 %%", got)
	}
	if p.Evidence.Residual > 0.03 || !p.Evidence.Inside || p.Evidence.Span != 23*time.Minute {
		t.Errorf("evidence %+v", p.Evidence)
	}
}

// TestAShortRestIsFittedAtItsEnd, if it stood for five minutes.
func TestAShortRestIsFittedAtItsEnd(t *testing.T) {
	for hold, want := range map[time.Duration]int{4 * time.Minute: 0, 6 * time.Minute: 1} {
		m := batch(false)
		m.hold(5 * time.Minute)
		m.rest(2, hold, nothing)
		m.rest(3, 0, nothing)
		if len(m.proposals) != want {
			t.Errorf("a rest of %v made %d proposals; want %d", hold, len(m.proposals), want)
		}
	}
}

// TestAMashThatDidNotGoOnByItselfIsNotFitted: with the pump off, a hand in it, a
// tick missed or the bag out in the middle of a heat-up, what was gathered means
// nothing. The rest after that is fitted again.
func TestAMashThatDidNotGoOnByItselfIsNotFitted(t *testing.T) {
	for name, disturb := range map[string]func(*mash){
		"not stirred for a while": func(m *mash) {
			m.f.Decision.Stirred = false
			m.hold(time.Minute)
			m.f.Decision.Stirred = true
		},
		"a tick missed": func(m *mash) { m.f.Tick.Now += time.Second },
		"no grain":      func(m *mash) { m.state.GrainIn = false; m.second(unit.On); m.state.GrainIn = true },
		"lifted":        func(m *mash) { m.state.Lifted = true; m.second(unit.On); m.state.Lifted = false },
	} {
		m := batch(false)
		m.hold(5 * time.Minute)
		m.rest(2, 20*time.Minute, func() { disturb(m) })
		if len(m.proposals) != 0 {
			t.Errorf("%s: it was fitted all the same", name)
		}
		if m.rest(3, 20*time.Minute, nothing); len(m.proposals) != 1 {
			t.Errorf("%s: the rest after it made %d proposals", name, len(m.proposals))
		}
	}
}

// TestWaterThatWentInMakesAnotherMash: what was gathered is not fitted, and the
// next rest is fitted with the load that stands there then.
func TestWaterThatWentInMakesAnotherMash(t *testing.T) {
	m := batch(false)
	m.hold(5 * time.Minute)
	m.rest(2, 20*time.Minute, func() { m.state.Load = 140e3 })
	if len(m.proposals) != 0 {
		t.Error("it was fitted over the water that went in")
	}
	m.rest(3, 20*time.Minute, nothing)
	if len(m.proposals) != 1 {
		t.Fatalf("%d proposals", len(m.proposals))
	}
	if got := m.proposals[0].Model.Capacity(); got < 139e3 || got > 141e3 {
		t.Errorf("the model is of %.0f J/K; want 140,000", float64(got))
	}
}

// TestBesideTheLoopATickWaitsForNoFit: the fit runs in a goroutine of its own, and
// one that nobody has taken is not waited for.
func TestBesideTheLoopATickWaitsForNoFit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := batch(true)
		m.hold(5 * time.Minute)
		m.rest(2, 13*time.Minute, nothing)
		synctest.Wait()
		if m.second(unit.Off); len(m.proposals) != 1 {
			t.Errorf("%d proposals", len(m.proposals))
		}
		m.l.ask()
		m.l.ask()
		synctest.Wait() // neither hangs
	})
}

// TestWithoutAWaterTestTheModelIsWhatIsDeclared, and none at all where nothing is.
func TestWithoutAWaterTestTheModelIsWhatIsDeclared(t *testing.T) {
	l := New(controller.Config{Power: 3000, Loss: 7, LoadMash: 120e3, Place: controller.Bed}, false)
	if m := l.prior; !m.Good() || m.Power != 3000 || m.Capacity() != 120e3 || !m.InMash {
		t.Errorf("a declared kettle makes %+v", m)
	}
	if m := New(controller.Config{}, false).prior; m.Good() {
		t.Errorf("nothing declared makes a kettle: %+v", m)
	}
	tested := observer.Model{Power: 2900, Heated: 1e4, Mash: 9e4, Exchange: 900, Element: time.Second, Probe: time.Second}
	if m := New(controller.Config{Model: tested, LoadMash: 120e3}, false).prior; m.Power != 2900 || m.Capacity() != 120e3 {
		t.Errorf("a tested kettle makes %+v", m)
	}
	if p := (*Learner)(nil).Take(); p.Present {
		t.Error("nobody proposes")
	}
	if r := tune.Refit(nil, tested); r.Model.Good() {
		t.Error("nothing was fitted")
	}
}

// TestAMashOtherThanPlannedIsFittedAsItIs: grain that weighed otherwise, or water that
// went in before the pour.
func TestAMashOtherThanPlannedIsFittedAsItIs(t *testing.T) {
	m := batch(false)
	m.state.Load = 126e3
	m.hold(5 * time.Minute)
	m.rest(2, 20*time.Minute, nothing)
	if len(m.proposals) != 1 {
		t.Fatalf("%d proposals", len(m.proposals))
	}
	if got := m.proposals[0].Model.Capacity(); got < 125e3 || got > 127e3 {
		t.Errorf("the model is of %.0f J/K; want 126,000", float64(got))
	}
}
