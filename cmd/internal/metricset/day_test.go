package metricset

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/controller/loop"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim/fault"
)

// each takes what the metrics say in a rehearsal, in the ticks that are wanted.
type each struct {
	t     *testing.T
	track *Tracker
	when  func(*loop.Frame) bool
	take  func(f *loop.Frame, all figures)
}

// every is one tick of so many.
func every(ticks uint64) func(*loop.Frame) bool {
	return func(f *loop.Frame) bool { return f.Number%ticks == 0 }
}

func (e *each) Watch(f *loop.Frame) {
	e.track.Watch(f)
	if e.when(f) {
		s, _ := e.track.Latest()
		e.take(f, read(e.t, s))
	}
}

// watched runs a day with a tracker that knows its batch.
func watched(t *testing.T, run *rehearse.Run, when func(*loop.Frame) bool, take func(*loop.Frame, figures)) (rehearse.Result, figures) {
	t.Helper()
	track := NewTracker(run.Plan.Kettle.Power)
	track.Guard = &run.Loop().Guard
	track.Follow(BatchOf("day", run.Plan))
	run.Watchers = append(run.Watchers, &each{t, track, when, take})
	result, err := run.Go()
	if err != nil {
		t.Fatal(err)
	}
	s, _ := track.Latest()
	return result, read(t, s)
}

// TestAWholeDayAddsUpToWhatTheRehearsalTells holds the metrics, made of frames
// alone, to the account that the judge of the rehearsal makes of the true
// kettle. The plant has the declared power, so that even the energies agree.
func TestAWholeDayAddsUpToWhatTheRehearsalTells(t *testing.T) {
	const step = 15
	seconds := map[int]float64{} // in which step_index was so
	result, last := watched(t, day(t, "rye-four-rests.yaml", nil), every(step), func(f *loop.Frame, all figures) {
		if index, ok := all["step_index"]; ok {
			seconds[int(index)] += step
		}
	})
	if result.Outcome != "complete" {
		t.Fatalf("the day ends %s: %s", result.Outcome, result.Reason)
	}
	last.wants(t, "element_energy_joules_total", result.Energy)
	last.wants(t, "element_switches_total", float64(result.Switches))
	last.wants(t, `batch_state{state="complete"}`, 1)
	last.lacks(t, "step_index", "step_remaining_seconds", "setpoint_temperature_celsius")
	close := func(what string, got, want, within float64) {
		if math.IsNaN(got) || math.Abs(got-want) > within {
			t.Errorf("%s: %g, want %g within %g", what, got, want, within)
		}
	}
	for _, s := range result.Steps {
		key := func(name string) string { return fmt.Sprintf(`%s{step="%d"}`, name, s.Index) }
		close(key("seconds"), seconds[s.Index], s.End-s.Start, step+1)
		last.wants(t, fmt.Sprintf(`step_info{step="%d",kind="%s"}`, s.Index, s.Kind), 1)
		if timed(kindOf(t, s.Kind)) {
			last.wants(t, key("rest_earned_seconds"), s.Earned)
		}
		if heated(kindOf(t, s.Kind)) {
			// The judge looks at the true mash, the metrics at the estimate.
			close(key("step_heating_seconds"), last[key("step_heating_seconds")], *s.Reached, 90)
			close(key("step_heating_planned_seconds"), last[key("step_heating_planned_seconds")], s.PlannedHeat, 0.5)
		}
		if kind := kindOf(t, s.Kind); kind == profile.Rest || kind == profile.MashOut {
			close(key("step_overshoot_celsius"), last[key("step_overshoot_celsius")], *s.Overshoot, 0.25)
			close(key("hold_deviation_rms_celsius"), last[key("hold_deviation_rms_celsius")], *s.HoldRMS, 0.1)
		}
	}
}

func kindOf(t *testing.T, word string) profile.Kind {
	t.Helper()
	for k := profile.Strike; k <= profile.Chill; k++ {
		if k.String() == word {
			return k
		}
	}
	t.Fatalf("there is no step %q", word)
	return 0
}

func TestCountersNeverFall(t *testing.T) {
	before := figures{}
	counts := map[string]bool{}
	for _, m := range All() {
		counts[m.Name()[len(Prefix):]] = m.Family().Kind == Counter
	}
	checked := 0
	script := fault.Script{{Kind: fault.ProbeCRC, At: fault.Moment{After: 20 * time.Minute}, For: 20 * time.Second}}
	watched(t, day(t, "one-rest.yaml", script), every(15), func(f *loop.Frame, all figures) {
		for key, was := range before {
			if name, _, _ := strings.Cut(key, "{"); !counts[name] {
				continue
			}
			now, ok := all[key]
			if !ok || now < was {
				t.Fatalf("%s at %v: %g after %g (there: %v)", key, f.Tick.Now, now, was, ok)
			}
			checked++
		}
		before = all
	})
	if checked < 1000 {
		t.Errorf("only %d counters were compared", checked)
	}
	before.wants(t, `probe_read_failures_total{reason="checksum"}`, 20)
}

// TestAProbeThatFailsInTheDayIsSeenAsSuch has the probe away for 30 s in a
// rest: the temperature is gone for just as long, and the interlock cuts.
func TestAProbeThatFailsInTheDayIsSeenAsSuch(t *testing.T) {
	script := fault.Script{{Kind: fault.ProbeOpen, At: fault.Moment{After: 60 * time.Minute}, For: 30 * time.Second}}
	gone, cut := 0, 0
	around := func(f *loop.Frame) bool { return f.Tick.Now > 55*time.Minute && f.Tick.Now < 65*time.Minute }
	_, last := watched(t, day(t, "one-rest.yaml", script), around, func(f *loop.Frame, all figures) {
		_, there := all["probe_temperature_celsius"]
		if there != (all["probe_up"] == 1) {
			t.Errorf("at %v the temperature is there: %v, and probe_up is %g", f.Tick.Now, there, all["probe_up"])
		}
		if !there {
			gone++
		}
		if all[`heat_cut_active{rule="stale"}`] == 1 {
			cut++
		}
	})
	if gone != 30 {
		t.Errorf("the temperature is gone for %d s, want 30", gone)
	}
	// From 5 s after the last reading until 10 s after the next, which must be
	// seen twice to be believed or was taken before its tick.
	if cut < 30 || cut > 40 {
		t.Errorf("the heat is cut for %d s", cut)
	}
	last.wants(t, `probe_read_failures_total{reason="open"}`, 30)
	last.wants(t, `heat_cut_active{rule="stale"}`, 0)
}

func TestTheRampOfTheProfileIsTheLimitShown(t *testing.T) {
	with, heating := 0, 0
	watched(t, day(t, "rye-four-rests.yaml", nil), every(15), func(f *loop.Frame, all figures) {
		d := &f.Decision
		limit, ok := all["ramp_limit_celsius_per_second"]
		want := f.State.Steps[d.Index].Ramp
		if !under(d.Mode) {
			want = 0
		}
		if ok != (want > 0) || limit != float64(want) {
			t.Errorf("step %d: the limit is shown: %v, as %g, want %g", d.Index, ok, limit, float64(want))
		}
		rate, moving := all["ramp_rate_celsius_per_second"]
		if moving && rate != float64(d.Slope) {
			t.Errorf("step %d: the rate is %g, want %g", d.Index, rate, float64(d.Slope))
		}
		if ok {
			with++
		}
		if ok && moving {
			heating++
		}
	})
	if with == 0 || heating == 0 {
		t.Errorf("a limit in %d samples, a rate beside it in %d", with, heating)
	}
}

func TestThePlanIsFollowedAsItWasMade(t *testing.T) {
	run := day(t, "rye-four-rests.yaml", nil)
	b := BatchOf("day", run.Plan)
	if _, ok := b.temperature(run.Plan.Finish + time.Second); ok {
		t.Error("the plan goes on after its end")
	}
	if _, ok := (*Batch)(nil).temperature(0); ok {
		t.Error("no batch has a plan")
	}
	for _, s := range run.Plan.Steps {
		at := func(clock time.Duration, want float64) {
			t.Helper()
			if got, ok := b.temperature(clock); !ok || math.Abs(float64(got)-want) > 0.01 {
				t.Errorf("%v %v after arming: %.3f °C (%v), want %.3f", s.Kind, clock, float64(got), ok, want)
			}
		}
		if s.Hold > 0 {
			at(s.End-time.Second, float64(s.Ends))
		}
		if s.Heat() > time.Minute {
			at(s.Start+s.Heat()/2, float64(s.From+s.Ends)/2)
			at(s.Reached, float64(s.Ends))
		}
	}
	in := run.Plan.Steps[1]
	if in.Kind != profile.MashIn {
		t.Fatal("the second step is no mash-in")
	}
	if got, _ := b.temperature(in.Start - plan.Pour/2); got != run.Plan.Steps[0].Ends {
		t.Errorf("while the grain goes in the plan says %v, want the strike's %v", got, run.Plan.Steps[0].Ends)
	}
}
