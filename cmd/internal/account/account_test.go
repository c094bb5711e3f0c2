package account

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/profile/strict"
	"mashward/sim"
	"mashward/sim/fault"
)

const samples = "../../../testdata/"

// brewed is a rehearsed day with its record and the truth about it.
type brewed struct {
	storage *record.Memory
	truth   rehearse.Result
	plan    plan.Plan
	Account
}

// setting is how a day is brewed.
type setting struct {
	profile, rig string // texts
	faults       string
	delay        time.Duration
}

func fileOf(t testing.TB, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(samples, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func rye(t testing.TB) setting {
	return setting{profile: fileOf(t, "profiles/rye-four-rests.yaml"), rig: fileOf(t, "rigs/yard-kettle.yaml")}
}

// healthy is the rye day as it should be; tests that change nothing share it.
var healthy = sync.OnceValue(func() brewed {
	t := &once{}
	return brew(t, rye(t))
})

// once fails by panic: who runs it first may not be who wants it.
type once struct{ testing.TB }

func (*once) Helper()           {}
func (*once) Fatal(args ...any) { panic(fmt.Sprint(args...)) }

func brew(t testing.TB, s setting) brewed {
	t.Helper()
	p, faults := profile.Parse("day.yaml", []byte(s.profile))
	rig, more := config.ParseRig("rig.yaml", []byte(s.rig))
	script, wrong := fault.Parse("faults.yaml", []byte("faults:\n"+s.faults))
	if s.faults == "" {
		script, wrong = nil, nil
	}
	if strict.Refused(faults) || strict.Refused(more) || strict.Refused(wrong) {
		t.Fatal(faults, more, wrong)
	}
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		t.Fatal(problems)
	}
	injector := fault.New(script, rehearse.FromStart(p)...)
	bench := sim.NewBench(sim.New(rig.Plant(), config.Load(p), 1), injector, 1)
	run := rehearse.On(rig, p, d, &rehearse.Simulated{Bench: bench, Faults: injector})
	run.Delay = s.delay
	b := brewed{storage: &record.Memory{}, plan: d}
	recorder, err := run.Record(b.storage, record.Head{
		Program: "test", Simulated: true, Profile: p.Name, ProfileText: s.profile, RigText: s.rig, Began: "2026-01-10T08:00:00Z",
	})
	if err != nil {
		t.Fatal(err)
	}
	if b.truth, err = run.Go(); err != nil {
		t.Fatal(err)
	}
	recorder.End()
	if err := recorder.Close(context.Background()); err != nil {
		t.Fatal(err)
	}
	if b.Account, err = Read(b.storage); err != nil {
		t.Fatal(err)
	}
	return b
}

func near(t *testing.T, what string, got *float64, want, within float64) {
	t.Helper()
	if got == nil {
		t.Errorf("%s: not known, want %g", what, want)
		return
	}
	if !(math.Abs(*got-want) <= within) {
		t.Errorf("%s: %g, want %g within %g", what, *got, want, within)
	}
}

// The judge of a rehearsal looks at the true mash, and the simulated element counts
// its joules. The estimate of a healthy day is within 0.1 K of the mash in a rest.
func TestAnAccountIsWhatTheKettleReallyDid(t *testing.T) {
	b := healthy()
	if len(b.Steps) != len(b.truth.Steps) {
		t.Fatalf("%d steps, %d in truth", len(b.Steps), len(b.truth.Steps))
	}
	sum := 0.0
	for i, s := range b.Steps {
		truth := b.truth.Steps[i]
		name := fmt.Sprintf("step %d, %s", s.Index, s.Kind)
		sum += s.Energy
		if s.Index != truth.Index || s.Kind != truth.Kind {
			t.Errorf("%s stands for %d, %s", name, truth.Index, truth.Kind)
		}
		if s.Earned != truth.Earned {
			t.Errorf("%s: counted %g, in truth %g", name, s.Earned, truth.Earned)
		}
		if s.Kind != "mash-in" { // which begins in truth when the grain is in
			near(t, name+": start", &s.Start, truth.Start, 1)
		}
		if s.Kind == "rest" || s.Kind == "mash-out" {
			near(t, name+": reached", s.Reached, *truth.Reached, 15)
			near(t, name+": overshoot", s.Overshoot, *truth.Overshoot, 0.1)
			near(t, name+": hold", s.HoldRMS, *truth.HoldRMS, 0.05)
			near(t, name+": planned", s.PlannedHeat, truth.PlannedHeat, 0)
		}
	}
	near(t, "energy", &b.Energy.Joules, b.truth.Energy, 0.001*b.truth.Energy)
	near(t, "energy of the steps", &sum, b.Energy.Joules, 3000)
	near(t, "duration", &b.Duration, b.truth.Duration, 1)
	near(t, "planned", b.Planned, b.plan.Finish.Seconds(), 0.5)
	if b.Outcome != "complete" || b.Switches != b.truth.Switches {
		t.Errorf("%s, switched %d times; in truth %d", b.Outcome, b.Switches, b.truth.Switches)
	}
}

// The Congress mash of EBC Analytica 4.5.1: half an hour at 45 °C, up to 70 °C by
// 1 K/min, an hour there. So every kelvin between takes a minute.
func TestMinutesInWindowsAreThoseOfTheCongressMash(t *testing.T) {
	s := rye(t)
	s.profile = fileOf(t, "profiles/congress-45-70.yaml")
	b := brew(t, s)
	want := map[float64]float64{55: 3.6, 60: 5, 65: 3.6, 70: 60.3, 75: 0} // with 0.3 K at the edges
	if len(b.Windows) != len(want) {
		t.Fatal(b.Windows)
	}
	for _, w := range b.Windows[:3] {
		minutes := w.Seconds / 60
		near(t, fmt.Sprintf("%g to %g °C", w.Low, w.High), &minutes, want[w.Low], 0.25)
	}
	if minutes := b.Windows[3].Seconds / 60; minutes < 60 || minutes > 61.5 {
		t.Errorf("70 to 74 °C: %g min", minutes)
	}
}

// 6.4 kWh at 0.32 EUR are 2.05 EUR: by hand.
func TestEnergyCostsWhatTheTariffSays(t *testing.T) {
	a := Account{Energy: Energy{Joules: 6.4 * 3.6e6}}
	a.Price(config.Tariff{PerKilowattHour: 0.32, Currency: "EUR"})
	near(t, "cost", &a.Energy.Cost.Amount, 2.048, 1e-9)
	a = Account{Energy: Energy{Joules: 1}}
	a.Price(config.Tariff{})
	if a.Energy.Cost != nil {
		t.Error("a cost without a tariff")
	}
}

// The profile asks for 2.4 L an hour, and the plan has the wort after the lift.
func TestEvaporationByHeatIsWhatTheBoilWasSetTo(t *testing.T) {
	b := healthy()
	before := float64(b.plan.Boils[0].Before)
	near(t, "evaporation", b.Across.BoilOff, 2.4/before, 0.06*2.4/before)
	near(t, "water to grain", b.Across.WaterToGrain, 26/4.6, 1e-9)
}

func TestAPersonWhoTakesHisTimeIsCounted(t *testing.T) {
	s := rye(t)
	s.delay = 4 * time.Minute
	b := brew(t, s)
	counted := 0
	for _, w := range b.Waits {
		if w.Seconds < 239 || w.Seconds > 243 {
			t.Errorf("%+v, answered after 4 min", w)
		}
		counted++
	}
	if counted < 5 {
		t.Errorf("%d waits in a day with grain, lift, boil and chiller: %+v", counted, b.Waits)
	}
	sum, steps := 0.0, 0.0
	for _, w := range b.Waits {
		sum += w.Seconds
	}
	for _, s := range b.Steps {
		steps += s.Waited
	}
	near(t, "waits of the steps", &steps, sum, 10)
}

func TestCutsAndAlarmsAreThoseOfTheJudge(t *testing.T) {
	s := rye(t)
	s.faults = "  - {at: 60 min, fault: probe-open, for: 20 s}\n  - {at: 100 min, fault: probe-open}\n"
	b := brew(t, s)
	if len(b.truth.Trips) == 0 || len(b.truth.Cuts) == 0 || len(b.truth.Alarms) == 0 {
		t.Fatalf("the faults make no trip, cut and alarm: %+v", b.truth)
	}
	got, want := fmt.Sprint(b.Trips, len(b.Cuts), len(b.Alarms)), fmt.Sprint(b.truth.Trips, len(b.truth.Cuts), len(b.truth.Alarms))
	if got != want {
		t.Errorf("%s, the judge saw %s", got, want)
	}
	for i := range b.Cuts {
		if b.Cuts[i].ID != b.truth.Cuts[i].ID || math.Abs(b.Cuts[i].From-b.truth.Cuts[i].From) > 1 {
			t.Errorf("%+v, the judge saw %+v", b.Cuts[i], b.truth.Cuts[i])
		}
	}
}

// A record of which half is missing, one byte of which is turned, or that has no
// files in it, is told as far as it goes.
func TestWhatARecordDoesNotHoldIsNotMadeUp(t *testing.T) {
	b := healthy()
	half, err := Read(&record.Memory{Bytes: b.storage.Bytes[:len(b.storage.Bytes)/2]})
	if err != nil || half.Outcome != "unfinished" || half.Torn == 0 || len(half.Steps) == 0 || len(half.Steps) >= len(b.Steps) {
		t.Errorf("half of it: %v, %s, %d steps", err, half.Outcome, len(half.Steps))
	}
	turned := append([]byte{}, b.storage.Bytes...)
	turned[len(turned)/2] ^= 1
	damaged, err := Read(&record.Memory{Bytes: turned})
	if err != nil || damaged.Damage == nil || !strings.Contains(*damaged.Damage, "damaged at byte") {
		t.Errorf("a turned byte: %v, %v", err, damaged.Damage)
	}
	bare := &record.Memory{}
	r, err := record.Read(b.storage)
	if err != nil {
		t.Fatal(err)
	}
	if err := record.Copy(bare, r, func(h *record.Head) { h.ProfileText, h.RigText = "", "" }); err != nil {
		t.Fatal(err)
	}
	a, err := Read(bare)
	if err != nil || a.Planned != nil || a.Hash != "" || a.Energy.Cost != nil || a.Across.WaterToGrain != nil {
		t.Errorf("without its files: %v, %+v", err, a.Across)
	}
	if a.Energy.Joules != b.Energy.Joules || len(a.Steps) != len(b.Steps) || len(a.Windows) == 0 {
		t.Error("what the ticks tell went with the files")
	}
}
