package metricset

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/pid"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sensors"
)

func TestBeforeTheFirstTickNothingIsKnown(t *testing.T) {
	track := NewTracker(3000)
	s, ok := track.Latest()
	if ok {
		t.Error("there is a sample before the first tick")
	}
	f := read(t, s)
	f.wants(t, "probe_up", 0)
	f.wants(t, "element_on_seconds_total", 0)
	f.wants(t, `probe_read_failures_total{reason="bus"}`, 0)
	f.lacks(t, "probe_temperature_celsius", "setpoint_temperature_celsius", "element_on", `batch_state{state="idle"}`, `alarm_active{alarm="too-hot"}`)
}

func TestAProbeThatFailsTakesItsTemperatureAway(t *testing.T) {
	s := newScene(t)
	f := s.tick()
	f.wants(t, "probe_temperature_celsius", 63)
	f.wants(t, "probe_up", 1)

	s.frame.Tick.Reading = sensors.Reading{Value: 85, Taken: s.frame.Tick.Now, Fault: sensors.PowerOn}
	f = s.tick()
	f.lacks(t, "probe_temperature_celsius")
	f.wants(t, "probe_up", 0)
	f.wants(t, `probe_read_failures_total{reason="power-on"}`, 1)
	s.tick().wants(t, `probe_read_failures_total{reason="power-on"}`, 1) // the same reading again
	s.frame.Tick.Reading.Taken += time.Second
	s.tick().wants(t, `probe_read_failures_total{reason="power-on"}`, 2)

	s.reading(62)
	f = s.tick()
	f.wants(t, "probe_temperature_celsius", 62)
	f.wants(t, `probe_read_failures_total{reason="power-on"}`, 2)
}

func TestAReadingThatIsTooOldIsNotShown(t *testing.T) {
	s := newScene(t)
	s.tick()
	old := s.frame.Tick.Reading
	for age := 1; age <= 8; age++ {
		s.frame.Tick.Reading = old
		s.frame.Tick.Now += time.Second
		s.track.Watch(&s.frame)
		f := s.now()
		if age <= 5 {
			f.wants(t, "probe_temperature_celsius", 63)
			f.wants(t, `probe_read_failures_total{reason="stale"}`, 0)
			continue
		}
		f.lacks(t, "probe_temperature_celsius")
		f.wants(t, "probe_up", 0)
		f.wants(t, `probe_read_failures_total{reason="stale"}`, 1)
	}
	s.reading(63)
	s.frame.Tick.Reading.Taken += time.Hour // from the future
	s.track.Watch(&s.frame)
	s.now().lacks(t, "probe_temperature_celsius")
}

func TestEveryFaultOfAReadingHasAReason(t *testing.T) {
	seen := map[reason]bool{}
	for f := sensors.NoReading; f.String() != "unknown fault"; f++ {
		why := failureOf(f)
		if (why == noFailure) != (f == sensors.None || f == sensors.NoReading) {
			t.Errorf("%v is the reason %q", f, reasonNames[why])
		}
		if why != noFailure && seen[why] {
			t.Errorf("%v shares its reason %q", f, reasonNames[why])
		}
		seen[why] = true
	}
	if len(seen) != int(reasonCount)-1 { // all but stale, which no reading says of itself
		t.Errorf("%d of %d reasons are in use", len(seen), reasonCount-1)
	}
}

func TestAllLabelsAreThereFromTheFirstTick(t *testing.T) {
	f := newScene(t).tick()
	count := func(prefix string) (n int) {
		for key := range f {
			if strings.HasPrefix(key, prefix) {
				n++
			}
		}
		return n
	}
	for prefix, want := range map[string]int{
		"alarm_active{": controller.AlarmCount, "heat_cut_active{": len(interlock.Rules()), "heat_trip_active{": len(interlock.Rules()),
		"batch_state{": 8, "probe_read_failures_total{": 7, "rest_out_of_band_seconds_total{": 2,
	} {
		if got := count(prefix); got != want {
			t.Errorf("%d series of %s, want %d", got, prefix, want)
		}
	}
	if (controller.Offered + 1).String() != "unknown" {
		t.Error("there is a state of a batch after offered: the metrics must tell it")
	}
	if rules != len(interlock.Rules())+1 {
		t.Error("the interlock has rules that the metrics do not know")
	}
	for _, r := range interlock.Rules() {
		f.wants(t, fmt.Sprintf(`heat_cut_active{rule="%v"}`, r), 0)
		f.wants(t, fmt.Sprintf(`heat_trip_active{rule="%v"}`, r), 0)
	}
	f.wants(t, `batch_state{state="running"}`, 1)
	f.wants(t, `batch_state{state="idle"}`, 0)
}

func TestTheElementIsCountedByWhatItsLineDid(t *testing.T) {
	s := newScene(t)
	s.tick()
	for _, on := range []unit.Relay{unit.On, unit.On, unit.Off, unit.On, unit.Off, unit.Off} {
		s.frame.Tick.Applied = on
		s.tick().wants(t, "element_on", float64(on))
	}
	f := s.now()
	f.wants(t, "element_on_seconds_total", 3)
	f.wants(t, "element_switches_total", 2)
	f.wants(t, "element_energy_joules_total", 9000)
	f.wants(t, "control_ticks_total", 7)

	s.frame.Tick.Applied = unit.On
	s.after(20*time.Second).wants(t, "element_on_seconds_total", 6) // no lease is longer than 3 s
	s.frame.Tick.Now -= time.Hour                                   // a run clock that began anew
	s.frame.Tick.Reading.Taken = s.frame.Tick.Now
	s.track.Watch(&s.frame)
	s.now().wants(t, "element_on_seconds_total", 6)
}

func TestTheHoldIsJudgedInTheSecondHalfOfTheRest(t *testing.T) {
	s := newScene(t)
	d := &s.frame.Decision
	s.event(controller.StepStarted, 2, 0)
	const amplitude, whole = 0.2, 1200
	for i := range whole {
		d.Earned = time.Duration(i) * time.Second
		d.Left = (whole - time.Duration(i)) * time.Second
		d.Estimate = 63 - 5 // the first half does not count
		if i >= whole/2 {
			d.Estimate = 63 + unit.Celsius(amplitude*math.Sin(2*math.Pi*float64(i)/60))
		}
		f := s.tick()
		if i < whole/2 {
			f.lacks(t, `hold_deviation_rms_celsius{step="2"}`)
		}
	}
	got := s.now()[`hold_deviation_rms_celsius{step="2"}`]
	if want := amplitude / math.Sqrt2; math.Abs(got-want) > 1e-9 { // ten whole periods
		t.Errorf("a sine of %g K has an RMS of %g, want %g", amplitude, got, want)
	}
}

func TestOvershootIsTheHighestAboveTheTarget(t *testing.T) {
	s := newScene(t)
	d := &s.frame.Decision
	s.event(controller.StepStarted, 2, 0)
	for _, e := range []unit.Celsius{60, 62.9, 63.25, 63.1, 62.8} {
		d.Estimate = e
		s.tick()
	}
	s.now().wants(t, `step_overshoot_celsius{step="2"}`, 0.25)

	// A step that begins above its target is judged from when it has come down.
	s.event(controller.StepStarted, 2, 0)
	d.Estimate, d.Reached = 66, false
	s.tick().wants(t, `step_overshoot_celsius{step="2"}`, 0)
	d.Estimate, d.Reached = 63.125, true
	s.tick().wants(t, `step_overshoot_celsius{step="2"}`, 0.125)
}

func TestTimeOutsideTheBandIsCountedBySide(t *testing.T) {
	s := newScene(t)
	d := &s.frame.Decision
	s.tick()
	for _, e := range []unit.Celsius{61.9, 62.1, 63.4, 63.6, 63.7, 61, 61.5} {
		d.Estimate = e
		s.tick()
	}
	f := s.now()
	f.wants(t, `rest_out_of_band_seconds_total{side="cold"}`, 3)
	f.wants(t, `rest_out_of_band_seconds_total{side="hot"}`, 2)
	for _, c := range []func(){
		func() { d.HasEstimate = false },
		func() { d.HasEstimate, d.Phase = true, controller.Heating },
		func() { d.Phase, d.Mode = controller.Resting, controller.Paused },
		func() { d.Mode, d.Kind = controller.Running, profile.Stand },
	} {
		c()
		s.tick()
	}
	s.now().wants(t, `rest_out_of_band_seconds_total{side="cold"}`, 3)
}

func TestTheHeatUpIsTimedUntilTheTargetWithoutWaitingForAPerson(t *testing.T) {
	s := newScene(t)
	d := &s.frame.Decision
	d.Reached, d.Phase, d.Stage, d.Slope = false, controller.Heating, controller.Heat, 0.0125
	s.tick()
	for range 10 {
		f := s.tick()
		f.wants(t, "ramp_rate_celsius_per_second", 0.0125)
		f.wants(t, "ramp_limit_celsius_per_second", 1./60)
	}
	d.Mode = controller.Paused
	s.after(time.Minute)
	d.Mode, d.Phase = controller.Running, controller.Waiting
	s.after(time.Minute).lacks(t, "ramp_rate_celsius_per_second")
	d.Phase = controller.Heating
	s.tick().wants(t, `step_heating_seconds{step="2"}`, 11)
	d.Reached = true // strike water is there, but not yet still
	s.tick().wants(t, `step_heating_seconds{step="2"}`, 11)
	d.Phase = controller.Resting
	s.tick().wants(t, `step_heating_seconds{step="2"}`, 11)
}

func TestAQuestionWaitsFromWhenItWasPut(t *testing.T) {
	s := newScene(t)
	d := &s.frame.Decision
	s.tick().wants(t, "prompt_waiting_seconds", 0)
	d.Prompt = controller.AskPour
	s.tick().wants(t, "prompt_waiting_seconds", 0)
	s.after(5*time.Second).wants(t, "prompt_waiting_seconds", 5)
	d.Prompt = controller.AskGrainIn
	s.tick().wants(t, "prompt_waiting_seconds", 0)
	d.Prompt = controller.NoPrompt
	s.after(time.Minute).wants(t, "prompt_waiting_seconds", 0)
	s.after(time.Minute).wants(t, "prompt_waiting_seconds", 0)
}

func TestThePartsOfTheLawAreShownWhileItRuns(t *testing.T) {
	s := newScene(t)
	d := &s.frame.Decision
	d.Duty = 1
	f := s.tick()
	f.wants(t, "control_output_ratio", 1)
	f.lacks(t, "control_proportional_ratio", "control_integral_ratio", "control_derivative_ratio", "control_feedforward_ratio", "control_on_mean")
	d.Terms = pid.Terms{Forward: 0.125, Proportional: -0.5, Integral: 0.25, Derivative: -0.0625}
	f = s.tick()
	f.wants(t, "control_feedforward_ratio", 0.125)
	f.wants(t, "control_proportional_ratio", -0.5)
	f.wants(t, "control_integral_ratio", 0.25)
	f.wants(t, "control_derivative_ratio", -0.0625)
	f.wants(t, "control_on_mean", 0)
	d.OnMean = true
	s.tick().wants(t, "control_on_mean", 1)
}

func TestWithTheGuardAllRulesThatHoldHeatBackAreTold(t *testing.T) {
	s := newScene(t)
	s.frame.Verdict = interlock.Verdict{Cut: interlock.Stale, Trip: interlock.OverTemperature}
	f := s.tick()
	f.wants(t, `heat_cut_active{rule="stale"}`, 1)
	f.wants(t, `heat_trip_active{rule="over-temperature"}`, 1)
	f.wants(t, `heat_cut_active{rule="over-temperature"}`, 0)
	f.wants(t, `heat_cut_active{rule="tick-late"}`, 0)

	s.track.Guard = &interlock.Guard{}
	s.track.Guard.Marks[interlock.TickLate].State = interlock.Cutting
	s.track.Guard.Marks[interlock.Empty].State = interlock.Tripped
	f = s.tick()
	f.wants(t, `heat_cut_active{rule="tick-late"}`, 1)
	f.wants(t, `heat_trip_active{rule="empty"}`, 1)
	f.wants(t, `heat_cut_active{rule="stale"}`, 1)

	s.frame.Verdict = interlock.Verdict{}
	*s.track.Guard = interlock.Guard{}
	f = s.tick()
	f.wants(t, `heat_cut_active{rule="stale"}`, 0)
	f.wants(t, `heat_trip_active{rule="empty"}`, 0)
}

func TestBetweenBatchesThereAreNoSteps(t *testing.T) {
	s := newScene(t)
	s.track.Follow(BatchOf("b", plan.Plan{Profile: "Rye"}))
	f := s.tick()
	f.wants(t, `batch_info{batch="b",profile="Rye"}`, 1)
	f.wants(t, `step_info{step="2",kind="rest"}`, 1)
	f.wants(t, "step_index", 2)
	f.wants(t, "step_remaining_seconds", 1200)

	s.state = controller.Initial()
	s.frame.Decision = controller.Decision{}
	s.track.Follow(nil)
	f = s.tick()
	for key := range f {
		if strings.HasPrefix(key, "step_") || strings.HasPrefix(key, "batch_info") || strings.HasPrefix(key, "rest_earned") {
			t.Errorf("%s between batches", key)
		}
	}
	f.wants(t, "probe_temperature_celsius", 63)
	f.wants(t, `batch_state{state="idle"}`, 1)
	f.lacks(t, "setpoint_temperature_celsius", "ramp_limit_celsius_per_second", "plan_temperature_celsius")
}

func TestABatchThatHasEndedKeepsItsFiguresButHasNoPresent(t *testing.T) {
	s := newScene(t)
	s.track.Follow(BatchOf("b", plan.Plan{Steps: []plan.Step{{Ends: 63, Reached: time.Minute, End: time.Hour}}}))
	d := &s.frame.Decision
	d.Earned, d.Clock = 20*time.Minute, 30*time.Minute
	s.tick().wants(t, "plan_temperature_celsius", 63)
	d.Mode, d.HasTarget, d.Phase = controller.Complete, false, controller.NoPhase
	f := s.tick()
	f.wants(t, `rest_earned_seconds{step="2"}`, 1200)
	f.wants(t, `step_info{step="2",kind="rest"}`, 1)
	f.lacks(t, "step_index", "step_remaining_seconds", "ramp_limit_celsius_per_second", "setpoint_temperature_celsius", "plan_temperature_celsius")
}

func TestANewBatchForgetsTheStepsOfTheLast(t *testing.T) {
	s := newScene(t)
	d := &s.frame.Decision
	d.Earned = 20 * time.Minute
	s.tick().wants(t, `rest_earned_seconds{step="2"}`, 1200)
	s.event(controller.BatchStarted, 0, 0)
	s.event(controller.StepStarted, 0, 0)
	d.Index, d.Kind, d.Earned, d.Phase, d.Reached = 0, profile.Strike, 0, controller.Heating, false
	f := s.tick()
	f.lacks(t, `rest_earned_seconds{step="2"}`, `step_overshoot_celsius{step="2"}`)
	f.wants(t, `step_info{step="2",kind="rest"}`, 1)
}

func TestAStepWithoutTimeHasNoneLeft(t *testing.T) {
	s := newScene(t)
	s.state.Steps[2].Kind, s.frame.Decision.Kind = profile.Lift, profile.Lift
	f := s.tick()
	f.wants(t, "step_index", 2)
	f.lacks(t, "step_remaining_seconds", `rest_earned_seconds{step="2"}`, `step_heating_seconds{step="2"}`, `step_overshoot_celsius{step="2"}`)
}

func TestADayWithoutStrikeWaterHasNoStepNought(t *testing.T) {
	s := newScene(t)
	s.state.Steps[0] = controller.Step{}
	s.tick().lacks(t, `step_info{step="0",kind="strike"}`)
}

func TestWatchingAllocatesNothing(t *testing.T) {
	s := newScene(t)
	s.tick()
	if n := testing.AllocsPerRun(1000, func() {
		s.frame.Tick.Now += time.Second
		s.track.Watch(&s.frame)
	}); n != 0 {
		t.Errorf("%g allocations a tick", n)
	}
}

func BenchmarkWatch(b *testing.B) {
	s := newScene(&testing.T{})
	b.ReportAllocs()
	for b.Loop() {
		s.frame.Tick.Now += time.Second
		s.track.Watch(&s.frame)
	}
}
