package interlock

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"mashward/controller/invariant"
	"mashward/controller/unit"
	"mashward/deploy/explore"
	"mashward/sensors"
)

var night = flag.Bool("night", false, "the properties on ten times as many random days, with another seed each time")

func newRandom(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 7)) }

// machine is the interlock on a brew day gone wrong. It is biased to the ready
// state (armed, heats, wanted, good reading) and, when it is disturbed, to the
// limits plus or minus one step of the probe, because a generator that draws
// evenly is almost never on and shows nothing.
type machine struct {
	l       Limits
	g       Guard
	f       Facts
	v       Verdict
	mode    invariant.Mode
	jitter  *rand.Rand // of ticks in which nothing is wrong
	checker invariant.Checker
	before  Guard
	fired   [ruleEnd]int // how often a rule began to cut, or tripped
}

// newMachine is one before its first tick.
func newMachine(t *rapid.T) *machine {
	m := &machine{l: sampleLimits(), jitter: newRandom(rapid.Uint64().Draw(t, "jitter"))}
	m.l.OnLimit = 10 * time.Minute
	m.checker.Day = dayOf(m.l)
	return m
}

// dayOf is what the checker knows of the limits: 78 °C is the highest target.
func dayOf(l Limits) invariant.Day {
	return invariant.Day{
		Hottest: 78, Boiling: l.Boiling, Rig: l.Rig, CoveredAt: l.CoveredAt, Power: l.ElementPower,
		LossAtBoil: l.LossAtBoil, LongestOn: l.OnLimit, ArmedFor: l.ArmedFor,
	}
}

// pass lets ticks pass in which something is wrong, nil: nothing.
func (m *machine) pass(t *rapid.T, ticks int, wrong func(*Facts)) {
	for range ticks {
		m.healthy()
		if wrong != nil {
			wrong(&m.f)
		}
		m.step(t)
	}
}

// healthy are the next facts as they should be: now and then heat is not wanted,
// or somebody clears.
func (m *machine) healthy() {
	f := &m.f
	f.Now = m.g.Now + time.Second
	f.Reading = sensors.Reading{Value: m.below(1 + m.jitter.IntN(20)), Taken: f.Now, Fault: sensors.None}
	f.Wanted, f.Applied = unit.RelayOf(m.jitter.IntN(12) != 0), m.v.Permitted
	f.Armed, f.Heats = true, true
	f.EmptySwitch, f.Finding, f.Clear = Unknown, NoRule, m.jitter.IntN(15) == 0
}

// below is so many steps of the probe below the limit in force.
func (m *machine) below(steps int) unit.Celsius {
	return m.l.InForce(true, m.f.Stage) - unit.Celsius(steps)*lsb
}

// step judges the facts as they stand and holds the verdict against the laws.
func (m *machine) step(t *rapid.T) {
	m.before = m.g
	sure := m.f.Applied == m.v.Permitted
	m.g, m.v = m.l.Step(m.g, m.f)
	switch {
	case !m.f.Heats:
		m.mode = []invariant.Mode{invariant.Idle, invariant.Held, invariant.Complete, invariant.Stopped, invariant.Aborted, invariant.Offered}[m.jitter.IntN(6)]
	case !m.mode.Heats() || m.jitter.IntN(200) == 0:
		m.mode = []invariant.Mode{invariant.Running, invariant.Paused}[m.jitter.IntN(2)]
	}
	for r, mark := range m.g.Marks {
		if mark.State != Quiet && mark.State != m.before.Marks[r].State {
			m.fired[r]++
		}
	}
	for _, b := range m.checker.Check(m.fact(sure)) {
		t.Errorf("%v\n%+v\n%+v", b, m.f, m.v)
	}
	if m.f.Now <= m.before.Now && m.before.Started && m.g != m.before {
		t.Error("time that does not move on has changed the guard")
	}
}

// fact is the tick as the checker sees it.
func (m *machine) fact(sure bool) invariant.Fact {
	f, v := &m.f, &m.v
	name := func(r Rule) string {
		if r == NoRule {
			return ""
		}
		return r.String()
	}
	return invariant.Fact{
		Now: f.Now, Reading: f.Reading, Applied: f.Applied, Sure: sure, Mode: m.mode, Scene: invariant.Warm, Wanted: f.Wanted,
		Armed: f.Armed, Lifted: f.Stage != Mash, Volume: f.Volume, Statement: f.Statement, Drawn: f.Drawn, Dry: f.EmptySwitch > Filled, Clear: f.Clear,
		Guarded: true, Finding: name(f.Finding), Cut: name(v.Cut), Trip: name(v.Trip), On: v.Permitted, Lease: LateAfter,
	}
}

// actions are what may happen on such a day.
func (m *machine) actions(persons bool) map[string]func(*rapid.T) {
	draw := func(t *rapid.T, low, high int) int { return rapid.IntRange(low, high).Draw(t, "n") }
	// Long enough to latch now and then.
	span := func(t *rapid.T) int {
		return rapid.OneOf(rapid.IntRange(1, 12), rapid.IntRange(1, 12), rapid.Just(75)).Draw(t, "ticks")
	}
	during := func(wrong func(*rapid.T) func(*Facts)) func(*rapid.T) {
		return func(t *rapid.T) {
			w := wrong(t)
			m.pass(t, span(t), func(f *Facts) {
				w(f)
				f.Clear = f.Clear && persons
			})
			m.calm(t, draw(t, 20, 60), persons)
		}
	}
	all := m.troubles(draw)
	out := map[string]func(*rapid.T){"nothing": func(t *rapid.T) { m.calm(t, draw(t, 20, 100), persons) }}
	for name, wrong := range all {
		out[name] = during(wrong)
	}
	out["restart"] = func(t *rapid.T) {
		m.g, m.v, m.f.Now = m.g.Restarted(), Verdict{}, 0
		m.checker = m.checker.Restarted()
		m.calm(t, draw(t, 1, 60), persons)
	}
	out["limits"] = func(t *rapid.T) {
		m.l.OnLimit = time.Duration(rapid.SampledFrom([]int{0, 1, 30, 120, 600, 600, 86400}).Draw(t, "on")) * time.Second
		m.l.ArmedFor = rapid.SampledFrom([]time.Duration{time.Minute, time.Hour, 12 * time.Hour, 99 * time.Hour}).Draw(t, "armed")
		m.checker.Day = dayOf(m.l)
	}
	return out
}

// calm lets ticks pass in which nothing is wrong.
func (m *machine) calm(t *rapid.T, ticks int, persons bool) {
	m.pass(t, ticks, func(f *Facts) { f.Clear = f.Clear && persons })
}

// troubles are what can be wrong for a while.
func (m *machine) troubles(draw func(*rapid.T, int, int) int) map[string]func(*rapid.T) func(*Facts) {
	just := func(wrong func(*Facts)) func(*rapid.T) func(*Facts) {
		return func(*rapid.T) func(*Facts) { return wrong }
	}
	return map[string]func(*rapid.T) func(*Facts){
		"no reading": func(t *rapid.T) func(*Facts) {
			fault := rapid.SampledFrom([]sensors.Fault{sensors.NoReading, sensors.Open, sensors.Shorted, sensors.Checksum, sensors.PowerOn, 99}).Draw(t, "fault")
			return func(f *Facts) { f.Reading.Fault = fault }
		},
		"at the limit": func(t *rapid.T) func(*Facts) {
			steps := draw(t, -1, 1)
			return func(f *Facts) { f.Reading.Value = m.below(steps) }
		},
		"an old reading": func(t *rapid.T) func(*Facts) {
			age := Fresh + time.Duration(draw(t, -1, 1))
			return func(f *Facts) { f.Reading.Taken -= age }
		},
		"a frozen reading": func(*rapid.T) func(*Facts) {
			r := m.f.Reading
			return func(f *Facts) { f.Reading = r }
		},
		"from the future": func(t *rapid.T) func(*Facts) {
			ahead := time.Duration(draw(t, 0, 2))
			return func(f *Facts) { f.Reading.Taken += ahead }
		},
		"an odd value": func(t *rapid.T) func(*Facts) {
			odd := unit.Celsius(rapid.SampledFrom([]float64{-5.0625, -5, 110, 110.0625, math.NaN(), math.Inf(1), -127, 85, 4095.9, 60}).Draw(t, "value"))
			return func(f *Facts) { f.Reading.Value = odd }
		},
		"not armed":    just(func(f *Facts) { f.Armed = m.jitter.IntN(4) == 0 }),
		"does not run": just(func(f *Facts) { f.Heats = false }),
		"level switch": func(t *rapid.T) func(*Facts) {
			says := Switch(draw(t, 0, 3))
			return func(f *Facts) { f.EmptySwitch = says }
		},
		"a finding": func(t *rapid.T) func(*Facts) {
			found := Rule(draw(t, int(NotHeating), int(EnergyBudget)))
			return func(f *Facts) { f.Finding = found }
		},
		"late": func(t *rapid.T) func(*Facts) {
			late := LateAfter - time.Second + time.Duration(draw(t, -1, 1))
			return func(f *Facts) { f.Now += late; f.Reading.Taken += late }
		},
		"time stands": func(t *rapid.T) func(*Facts) {
			back := time.Second + time.Duration(draw(t, 0, 2))
			return func(f *Facts) { f.Now -= back }
		},
		"the line stays on": just(func(f *Facts) { f.Applied = unit.On }),
		"an odd wish": func(t *rapid.T) func(*Facts) {
			wish := unit.Relay(draw(t, 0, 3))
			return func(f *Facts) { f.Wanted = wish }
		},
		"lifted": func(t *rapid.T) func(*Facts) {
			volume := unit.Litres(13) + unit.Litres(draw(t, 0, 400))*0.01
			return func(f *Facts) { f.Stage, f.Volume = Lifted, volume }
		},
		"taken out": func(t *rapid.T) func(*Facts) {
			m.f.Drawn += unit.Litres(draw(t, 0, 100)) * 0.01
			return func(*Facts) {}
		},
		"in the mash": just(func(f *Facts) { f.Stage, f.Volume = Mash, 0 }),
	}
}

// TestHeatIsPermittedOnlyWhenEveryLawHolds walks the interlock through random days
// gone wrong.
func TestHeatIsPermittedOnlyWhenEveryLawHolds(t *testing.T) {
	var all invariant.Tally
	var fired [ruleEnd]int
	size := explore.Size{Checks: 600, Night: *night}
	explore.Check(t, size, func(t *rapid.T) {
		m := newMachine(t)
		defer func() {
			all = all.Add(m.checker.Tally)
			for r, n := range m.fired {
				fired[r] += n
			}
		}()
		t.Repeat(m.actions(true))
	})
	t.Log(all)
	if testing.Short() {
		return // too few to meet everything
	}
	if why := all.Vacuous(size.Each()); why != "" {
		t.Error(why)
	}
	for _, r := range Rules() {
		if fired[r] < 20 {
			t.Errorf("rule %v fired %d times only", r, fired[r])
		}
	}
	t.Logf("fired: %v", fired)
}

// everyRule are the rules as a slice.
func everyRule() []Rule {
	all := Rules()
	return all[:]
}
