package metricset

import (
	"strconv"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
)

// Emit takes one figure; labels are the values of the family's labels.
type Emit func(m Metric, value float64, labels ...string)

// Each gives every figure that the sample knows. What belongs to the process
// around the loop (About, Overruns, Clients, RecordStored, RelayUp) and the forecast are
// not in it.
func (s *Sample) Each(emit Emit) {
	s.counters(emit)
	emit(ProbeUp, truth(s.Live && s.probe.up))
	if s.Batch != nil {
		emit(BatchIdentity, 1, s.Batch.ID, s.Batch.Profile)
	}
	s.course(emit)
	if !s.Live {
		return
	}
	s.temperatures(emit)
	s.control(emit)
	s.batch(emit)
	s.conditions(emit)
	s.lateness(emit)
}

// counters are good even when the present is not known.
func (s *Sample) counters(emit Emit) {
	emit(Ticks, float64(s.Ticks))
	for r := noFailure + 1; r < reasonCount; r++ {
		emit(ProbeReadFailures, float64(s.probe.failures[r]), reasonNames[r])
	}
	on := s.element.on.Seconds()
	emit(ElementOnTime, on)
	emit(ElementSwitches, float64(s.element.closings))
	emit(ElementEnergy, on*float64(s.element.power))
	emit(RestOutOfBand, s.rest.cold.Seconds(), "cold")
	emit(RestOutOfBand, s.rest.hot.Seconds(), "hot")
}

func (s *Sample) temperatures(emit Emit) {
	d := &s.kettle.decision
	if s.probe.up {
		emit(ProbeTemperature, float64(s.probe.value))
	}
	if d.HasTarget {
		emit(SetpointTemperature, float64(d.Target))
	}
	if planned, ok := s.Batch.temperature(d.Clock); ok && under(d.Mode) {
		emit(PlanTemperature, float64(planned))
	}
}

// control is what the law asks for and why.
func (s *Sample) control(emit Emit) {
	d := &s.kettle.decision
	emit(ElementOn, truth(s.element.applied == unit.On))
	emit(Output, float64(d.Duty))
	if d.Terms != (controller.Decision{}).Terms {
		emit(Forward, d.Terms.Forward)
		emit(Proportional, d.Terms.Proportional)
		emit(Integral, d.Terms.Integral)
		emit(Derivative, d.Terms.Derivative)
		emit(OnMean, truth(d.OnMean))
	}
	moving := d.Phase == controller.Heating || d.Phase == controller.Cooling
	if moving && d.HasEstimate && d.Slope != 0 {
		emit(RampRate, float64(d.Slope))
	}
	if s.kettle.ceiling > 0 {
		emit(RampLimit, float64(s.kettle.ceiling))
	}
}

// batch is where the batch stands.
func (s *Sample) batch(emit Emit) {
	d := &s.kettle.decision
	for m := controller.Idle; m <= controller.Offered; m++ {
		emit(BatchState, truth(d.Mode == m), m.String())
	}
	emit(PromptWaiting, s.kettle.waiting.Seconds())
	if !under(d.Mode) {
		return
	}
	emit(StepIndex, float64(d.Index))
	if timed(d.Kind) {
		emit(StepRemaining, d.Left.Seconds())
	}
}

// conditions are alarms, cuts and trips, each with all that there can be.
func (s *Sample) conditions(emit Emit) {
	for a, stands := range s.kettle.decision.Alarms {
		emit(AlarmActive, truth(stands), controller.Alarm(a).String())
	}
	for _, r := range interlock.Rules() {
		emit(HeatCut, truth(s.cuts[r]), r.String())
		emit(HeatTrip, truth(s.trips[r]), r.String())
	}
}

// course is how the steps of the batch went and go.
func (s *Sample) course(emit Emit) {
	for i := range s.steps[:s.count] {
		p := &s.steps[i]
		if p.none {
			continue
		}
		index := strconv.Itoa(i)
		emit(StepIdentity, 1, index, p.kind.String())
		if planned, ok := s.Batch.heating(i); ok {
			emit(StepHeatingPlanned, planned.Seconds(), index)
		}
		if p.seen {
			p.each(emit, index)
		}
	}
}

func (s *step) each(emit Emit, index string) {
	if heated(s.kind) {
		emit(StepHeating, s.heating.Seconds(), index)
	}
	if timed(s.kind) {
		emit(RestEarned, s.earned.Seconds(), index)
	}
	if overshoots(s.kind) && s.judged {
		emit(StepOvershoot, float64(s.overshoot), index)
	}
	if rms, ok := s.rms(); ok {
		emit(HoldDeviation, float64(rms), index)
	}
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
