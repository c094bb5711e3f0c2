package main

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/controller/observer"
	"mashward/controller/pid"
	"mashward/controller/unit"
	"mashward/profile/plan"
	"mashward/sensors"
	"mashward/sim"
)

// contested lets all players run on the kettle of a seed, as tuned.
func contested(t *testing.T, seed uint64) [players]score {
	t.Helper()
	k, err := tuneKettle(seed)
	if err != nil {
		t.Fatal(err)
	}
	s, err := k.contest(worlds()[0])
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestTheLimitTakesTheLeastTimeAndPeaksAtMostAFiftiethOfAKelvinOver(t *testing.T) {
	for seed := range uint64(6) {
		for i, f := range contested(t, seed)[limit].rests {
			if math.Abs(f.ratio-1) > 0.005 {
				t.Errorf("kettle %d, rest %d: time ratio %.4f, want 1.00", seed, i, f.ratio)
			}
			// The course is kept in single precision: 4e-6 K at 77 °C.
			if f.overshoot > 0.02+1e-5 || f.overshoot < 0.002 {
				t.Errorf("kettle %d, rest %d: overshoot %.4f K, want at most 0.02 K and not cut too early", seed, i, f.overshoot)
			}
		}
	}
}

func TestNoControllerIsFasterThanTheLimitWithoutOvershooting(t *testing.T) {
	for seed := uint64(3); seed < 6; seed++ {
		for p, s := range contested(t, seed) {
			for i, f := range s.rests {
				if f.ratio < 0.999 && f.overshoot <= 0.02 {
					t.Errorf("kettle %d, %s, rest %d: time ratio %.4f", seed, playerNames[p], i, f.ratio)
				}
			}
		}
	}
}

// afterMashIn is the kettle of a seed as the rivals take it over.
func afterMashIn(t *testing.T, seed uint64) *sim.Plant {
	t.Helper()
	k, err := tuneKettle(seed)
	if err != nil {
		t.Fatal(err)
	}
	_, start, err := k.mash(rehearse.RigOf(k.kettle, plan.SolidState).Tuned(k.found), worlds()[0])
	if err != nil {
		t.Fatal(err)
	}
	return start
}

func TestAControllerThatDoesNothingNeverReachesARest(t *testing.T) {
	s := race(afterMashIn(t, 0), &blind{decider: idle{}}, mishap{})
	for i, f := range s.rests {
		if f.ratio != never || f.rms != never || f.overshoot != 0 || s.switches != 0 {
			t.Errorf("rest %d: %+v, want never, no overshoot, no closing", i, f)
		}
	}
	shown := results{worlds: worlds()[:1], entries: []entry{{scores: [][players]score{{thermostatHalf: s}}}}}
	if line := row(shown, 0, thermostatHalf, false); !strings.Contains(line, "never/never/never") {
		t.Errorf("%q does not say never", line)
	}
}

// Kettle 7 has its probe in the bed, which the heat reaches late.
func TestAThermostatOvershootsMoreThanMashwardWhereTheProbeAnswersLate(t *testing.T) {
	s := contested(t, 7)
	switched, own := s[thermostatHalf].worst(overshoot), s[tuned].worst(overshoot)
	if switched < own+0.2 {
		t.Errorf("overshoot: thermostat %.2f K, mashward %.2f K; want 0.2 K between them at least", switched, own)
	}
}

func TestTheSameIsPrintedHoweverManyWork(t *testing.T) {
	print := func(workers int) string {
		o := options{seen: seeds(0, 2), unseen: seeds(unseenFrom, 1), worlds: worlds()[:2], workers: workers}
		var b bytes.Buffer
		r := run(o)
		table(&b, r)
		goals(&b, r)
		beaten(&b, r)
		return b.String()
	}
	one, three := print(1), print(3)
	if one != three {
		t.Errorf("one worker:\n%s\nthree:\n%s", one, three)
	}
	for _, line := range strings.Split(one, "\n") {
		if n := len([]rune(line)); n > width {
			t.Errorf("%d characters, more than %d: %s", n, width, line)
		}
	}
}

func TestTheMethodFitsThePage(t *testing.T) {
	var b bytes.Buffer
	method(&b, options{seen: seeds(0, half), unseen: seeds(unseenFrom, half), quick: true})
	for _, line := range strings.Split(b.String(), "\n") {
		if n := len([]rune(line)); n > width {
			t.Errorf("%d characters, more than %d: %s", n, width, line)
		}
	}
}

// TestTheRefereeAgreesWithTheJudgeOfARehearsal holds two accounts of one day
// against each other that share no code but the plant's.
func TestTheRefereeAgreesWithTheJudgeOfARehearsal(t *testing.T) {
	k, err := tuneKettle(4)
	if err != nil {
		t.Fatal(err)
	}
	rig := rehearse.RigOf(k.kettle, plan.SolidState).Tuned(k.found)
	profile := rehearse.FourRests(k.kettle)
	d, _ := plan.Make(profile, rig.PlanKettle())
	for i := 1; i < len(profile.Steps); i++ {
		profile.Steps[i].For += patience
	}
	plant := sim.New(k.kettle.Plant, k.kettle.Load, 4)
	bench := &rehearse.Simulated{Bench: sim.NewBench(plant, nil, 4)}
	f := follower{referee: referee{plant: plant}, kettle: bench}
	run := rehearse.On(rig, profile, d, bench)
	run.Leaves = f.leaves
	result, err := run.Go()
	if err != nil {
		t.Fatal(err)
	}
	s := f.referee.score(0, f.seconds)
	for i, own := range s.rests {
		step := result.Steps[i+2]
		near := func(what string, got, want, by float64) {
			if !(math.Abs(got-want) <= by) {
				t.Errorf("rest %d, %s: referee %.4f, judge %.4f", i, what, got, want)
			}
		}
		near("time ratio", own.ratio, *step.Reached / *step.Limit, 0.001)
		near("overshoot", own.overshoot, *step.Overshoot, 0.0005)
		near("hold RMS", own.rms, *step.HoldRMS, 0.001)
		near("hot side", own.hot, *step.HotSide, 0.0005)
		// The judge sees the second in which the step is left.
		near("length", float64(len(f.referee.courses[i].mash)), step.End-step.Start, 1)
	}
}

func TestARestHasItsTimeFromTheMomentTheTrueMashIsThere(t *testing.T) {
	for seed := uint64(0); seed < 2; seed++ {
		p := afterMashIn(t, seed)
		r := referee{plant: p, goals: goalsOf(p)}
		b := &blind{decider: &thermostat{hysteresis: 0.5}}
		r.begin()
		b.begin()
		for over := false; !over; over = r.second() {
			b.drive(p, 0)
		}
		c := r.courses[0]
		if there := len(c.mash) - 1 - c.reached; there != int(programme[0].lasts/time.Second) {
			t.Errorf("kettle %d: %d s there, want %v", seed, there, programme[0].lasts)
		}
		if before := float64(c.mash[c.reached-1]); before >= c.goal-within {
			t.Errorf("kettle %d: %.3f °C a second before it was reached", seed, before)
		}
	}
}

func TestWhatAProbeReadsTooHighIsTakenOutOfTheGoals(t *testing.T) {
	p := afterMashIn(t, 1)
	par := p.Params()
	par.Probe.Offset = 1
	plain := goalsOf(p)
	shifted := sim.New(par, sim.Load{Water: 20}, 1)
	straight := par
	straight.Probe.Offset = 0
	unshifted := goalsOf(sim.New(straight, sim.Load{Water: 20}, 1))
	for i, g := range goalsOf(shifted) {
		if math.Abs(unshifted[i]-1-g) > 0.02 {
			t.Errorf("rest %d: goal %.3f °C, want 1 K below %.3f °C", i, g, unshifted[i])
		}
		if math.Abs(plain[i]-float64(programme[i].target)) > 0.7 {
			t.Errorf("rest %d: goal %.3f °C is not near its target", i, plain[i])
		}
	}
}

// integrator is a kettle without mixing whose probe answers late.
func integrator(delay time.Duration) observer.Model {
	return observer.Model{Power: 3000, Heated: 1e5, Mash: 1, Exchange: 1, Delay: delay}
}

// Relay feedback on k·exp(-Ls)/s cycles with period 4L and amplitude k·L·d
// (Åström and Hägglund, Automatica 20 (1984) 645). The two lags of the filter
// are 8 s beside a delay of 1000 s.
func TestTheRelayCycleIsTheOneOfTheTextbook(t *testing.T) {
	c := relayCycle(integrator(1000 * time.Second))
	if p := c.period.Seconds(); p < 4*1000 || p > 4*1008 {
		t.Errorf("period %.0f s, want 4000 s and a little for the filter", p)
	}
	// The clock of the cycle runs in steps of 0.05 s, the lags round the peaks.
	if want := 3000 / 1e5 * 1000 * swing; c.amplitude < want || c.amplitude > want*1.008 {
		t.Errorf("amplitude %.3f K, want %.3f K and a little for the filter", c.amplitude, want)
	}
	g := c.gains(swing)
	if kc := 0.6 * 4 * swing / (math.Pi * c.amplitude); math.Abs(g.Proportional-kc) > 1e-12 || g.Integral != c.period/2 || g.Derivative != c.period/8 {
		t.Errorf("gains %+v are not 0.6 Ku, Tu/2, Tu/8", g)
	}
}

func TestTheHalfRuleCountsTheLargestLagHalf(t *testing.T) {
	m := integrator(5 * time.Second)
	m.Element, m.Probe = 10*time.Second, 8*time.Second
	p := reduce(m)
	// 5 + 10/2 + 8 + 4 + 4 and half a tick.
	if math.Abs(p.Delay.Seconds()-26.5) > 1e-6 || math.Abs(p.Gain-3000/(1e5+1)) > 1e-9 {
		t.Errorf("gain %.5f K/s, delay %v; want 0.03 K/s and 26.5 s", p.Gain, p.Delay)
	}
	// A quarter heats at once, the rest 200 s behind it: T0 = 200 s, the pole at
	// 50 s, so that the heated part rises four times as fast as the whole.
	m.Heated, m.Mash, m.Exchange = 25e3, 75e3, 375
	if p = reduce(m); math.Abs(p.Gain/(0.03*4)-1) > 1e-9 {
		t.Errorf("gain %.4f K/s with a heated quarter, want 0.12 K/s", p.Gain)
	}
	m.InMash = true
	if p = reduce(m); math.Abs(p.Delay.Seconds()-(5+25+10+8+8+0.5)) > 1e-6 || math.Abs(p.Gain-0.03) > 1e-9 {
		t.Errorf("gain %.4f K/s, delay %v with the probe in the mash; want 0.03 K/s and 56.5 s", p.Gain, p.Delay)
	}
}

func TestAThermostatSwitchesOffAtTheTargetAndOnBelowItsHysteresis(t *testing.T) {
	x := &thermostat{hysteresis: 0.5, relay: 1}
	for i, row := range []struct {
		reading unit.Celsius
		want    unit.Relay
	}{{44, unit.On}, {62.9, unit.On}, {63, unit.Off}, {63.4, unit.Off}, {62.6, unit.Off}, {62.5, unit.On}, {62.8, unit.On}, {63.1, unit.Off}} {
		if got := x.second(63, sensors.Reading{Value: row.reading, Fault: sensors.None}); got != row.want {
			t.Errorf("reading %d, %.1f °C: %v, want %v", i, float64(row.reading), got, row.want)
		}
	}
}

// TestTheTextbookLoopComesToItsTarget runs the loop on an integrating kettle
// with a loss: with any weight of the target it must come there without an
// offset, and a long heat-up must not wind it up.
func TestTheTextbookLoopComesToItsTarget(t *testing.T) {
	for _, weight := range []float64{0, 1} {
		m := newModelled(integrator(20 * time.Second))
		g := pid.SIMC(0.03, 30*time.Second, 30*time.Second)
		g.Weight, g.Derivative = weight, 10*time.Second
		x := &textbook{gains: g, relay: 1}
		highest, last, y := 0.0, 0.0, 0.0
		for s := range 3 * 3600 {
			r := sensors.Reading{Value: unit.Celsius(40 + y), Taken: time.Duration(s) * time.Second, Fault: sensors.None}
			duty := -0.1 // what is lost
			if x.second(63, r) == unit.On {
				duty++
			}
			m.step(duty, 1)
			y = m.probe
			highest, last = max(highest, y), y
		}
		if math.Abs(last-23) > 0.1 {
			t.Errorf("weight %.0f: %.2f K after three hours, want 23 K", weight, last)
		}
		if highest > 23+1.5 {
			t.Errorf("weight %.0f: overshoot %.2f K: wound up", weight, highest-23)
		}
	}
}

func TestAGoalThatIsMissedNamesItsKettle(t *testing.T) {
	good := score{rests: [rests]figures{{ratio: 1}, {ratio: 1}, {ratio: 1}}}
	bad := good
	bad.rests[1].overshoot = 0.31
	r := results{worlds: worlds()[:1]}
	for _, s := range []score{good, good, bad} {
		r.entries = append(r.entries, entry{seed: uint64(70 + len(r.entries)), scores: [][players]score{{tuned: s, untuned: good}}})
	}
	var b bytes.Buffer
	if !goals(&b, r) {
		t.Error("a goal is missed, and it says that none is")
	}
	if s := strings.Join(strings.Fields(b.String()), " "); !strings.Contains(s, "MISSED as tuned, mashward tuned, overshoot") || !strings.Contains(s, "72 at 71 °C (0.310)") {
		t.Errorf("the kettle is not named:\n%s", s)
	}
	r.entries = r.entries[:2]
	if goals(&b, r) {
		t.Error("all goals are met, and it says that one is missed")
	}
}

func TestACallThatCannotBeMeantIsRefused(t *testing.T) {
	for _, args := range [][]string{{"--unseen", "59"}, {"--world", "99"}, {"quick"}, {"--fast"}, {"--kettles", "0"}} {
		if code, err := bench(args, &bytes.Buffer{}); code != exitUsage || err == nil {
			t.Errorf("%v: code %d, %v; want %d", args, code, err, exitUsage)
		}
	}
}
