// Package metricset says what mashward tells of itself in figures: the names,
// and how the frames of the loop become samples. The live metrics, the export
// of a rehearsal and whatever is drawn from them read this one table.
//
// Names and units follow the naming rules of the Prometheus documentation:
// base units, temperatures in degrees Celsius, power only as a counter of
// joules. A gauge tells the present. Where the present is not known, the gauge
// is left out: a stale figure is never shown.
package metricset

// Prefix is what every name begins with.
const Prefix = "mashward_"

// Kind is what a metric does over time.
type Kind uint8

// The kinds. A gauge goes up and down, a counter only up.
const (
	Gauge Kind = iota
	Counter
)

// Family is all that is fixed about a metric.
type Family struct {
	Name   string // with prefix, unit, and _total where it counts
	Kind   Kind
	Unit   string   // in which the name ends, _total apart; "" where there is none
	Labels []string // in the order of their values
	Help   string
}

// Metric is one of the families.
type Metric uint8

// The metrics.
const (
	ProbeTemperature Metric = iota
	SetpointTemperature
	PlanTemperature
	ProbeUp
	ProbeReadFailures

	ElementOn
	ElementOnTime
	ElementSwitches
	ElementEnergy

	Output
	Forward
	Proportional
	Integral
	Derivative
	OnMean

	RampRate
	RampLimit

	BatchState
	StepIndex
	StepRemaining
	PromptWaiting
	AlarmActive
	HeatCut
	HeatTrip

	StepHeating
	StepHeatingPlanned
	RestEarned
	RestOutOfBand
	StepOvershoot
	HoldDeviation

	Late
	LateBy

	BatchIdentity
	StepIdentity
	BuildIdentity
	Simulated
	Ticks
	Overruns
	Clients

	ForecastFinish
	ForecastEarly
	ForecastLate
	ForecastError

	Notifications
	RigIdentity
	RecordStored
	RelayUp

	metricCount
)

// LabelRig is the label that every series has, those of the process too: the
// name of the kettle, by which many of them are told apart. It is not among the
// labels of a Family.
const LabelRig = "rig"

// Lateness is the histogram of how late the ticks of the loop began. It is the
// process', and stands in no Sample.
const Lateness = Prefix + "control_loop_lateness_seconds"

// The labels of the steps and of identities.
const (
	labelStep  = "step"
	labelKind  = "kind"
	labelRelay = "relay"
)

var families = [metricCount]Family{
	ProbeTemperature: {
		Name: Prefix + "probe_temperature_celsius", Unit: "celsius",
		Help: "Raw reading of the probe. Absent while there is none that is at most 5 s old.",
	},
	SetpointTemperature: {
		Name: Prefix + "setpoint_temperature_celsius", Unit: "celsius",
		Help: "Temperature that the kettle is being brought to or kept at. Absent where there is none.",
	},
	PlanTemperature: {
		Name: Prefix + "plan_temperature_celsius", Unit: "celsius",
		Help: "Temperature that the plan made before the batch foresaw for this moment since arming, heat-ups as straight lines.",
	},
	ProbeUp: {
		Name: Prefix + "probe_up",
		Help: "1 while the probe gives readings at most 5 s old, else 0.",
	},
	ProbeReadFailures: {
		Name: Prefix + "probe_read_failures_total", Kind: Counter, Labels: []string{"reason"},
		Help: "Readings without a value, by reason; stale counts once each time readings stay away for more than 5 s.",
	},

	ElementOn: {
		Name: Prefix + "element_on",
		Help: "1 if the element's line was on during the last tick, else 0.",
	},
	ElementOnTime: {
		Name: Prefix + "element_on_seconds_total", Kind: Counter, Unit: "seconds",
		Help: "Time for which the element's line was on.",
	},
	ElementSwitches: {
		Name: Prefix + "element_switches_total", Kind: Counter,
		Help: "Closings of the element's relay.",
	},
	ElementEnergy: {
		Name: Prefix + "element_energy_joules_total", Kind: Counter, Unit: "joules",
		Help: "Energy of the element, estimated: time on multiplied by the power declared in the rig file.",
	},

	Output: {
		Name: Prefix + "control_output_ratio", Unit: "ratio",
		Help: "Share of full power that is asked of the element, 0 to 1.",
	},
	Forward: {
		Name: Prefix + "control_feedforward_ratio", Unit: "ratio",
		Help: "Part of the control law's output that replaces the declared loss. The four parts add up to the output before it is limited; absent while no PID loop runs.",
	},
	Proportional: {
		Name: Prefix + "control_proportional_ratio", Unit: "ratio",
		Help: "Proportional part of the control law's output; absent while no PID loop runs.",
	},
	Integral: {
		Name: Prefix + "control_integral_ratio", Unit: "ratio",
		Help: "Integral part of the control law's output; absent while no PID loop runs.",
	},
	Derivative: {
		Name: Prefix + "control_derivative_ratio", Unit: "ratio",
		Help: "Derivative part of the control law's output; absent while no PID loop runs.",
	},
	OnMean: {
		Name: Prefix + "control_on_mean",
		Help: "1 while the PID loop acts on the mean of the kettle that a model of this mash shows, 0 while it acts on the filtered reading; absent while no PID loop runs.",
	},

	RampRate: {
		Name: Prefix + "ramp_rate_celsius_per_second", Unit: "celsius_per_second",
		Help: "Rate of the filtered reading while the kettle heats or cools to its target, else absent.",
	},
	RampLimit: {
		Name: Prefix + "ramp_limit_celsius_per_second", Unit: "celsius_per_second",
		Help: "Ceiling that the profile sets on the rate of this step's heat-up; absent where it sets none.",
	},

	BatchState: {
		Name: Prefix + "batch_state", Labels: []string{"state"},
		Help: "1 for the state of the batch, 0 for all others; states named after IEC 61512.",
	},
	StepIndex: {
		Name: Prefix + "step_index",
		Help: "Entry of the profile that runs, 0 for the strike water. Absent between batches.",
	},
	StepRemaining: {
		Name: Prefix + "step_remaining_seconds", Unit: "seconds",
		Help: "Time that this step has yet to earn, without the heat-up to it; absent where the step has no time of its own.",
	},
	PromptWaiting: {
		Name: Prefix + "prompt_waiting_seconds", Unit: "seconds",
		Help: "For how long the present question to a person has stood, 0 without one.",
	},
	AlarmActive: {
		Name: Prefix + "alarm_active", Labels: []string{"alarm"},
		Help: "1 while the condition stands that wants a person, else 0. Heat cuts and trips are apart.",
	},
	HeatCut: {
		Name: Prefix + "heat_cut_active", Labels: []string{"rule"},
		Help: "1 while this rule of the interlock takes the heat away until its cause has been gone for 10 s.",
	},
	HeatTrip: {
		Name: Prefix + "heat_trip_active", Labels: []string{"rule"},
		Help: "1 while this rule of the interlock has tripped: heat stays off until a person clears it.",
	},

	StepHeating: {
		Name: Prefix + "step_heating_seconds", Unit: "seconds", Labels: []string{labelStep},
		Help: "Time that the step took, or has taken so far, to heat to its target, waiting for a person left out.",
	},
	StepHeatingPlanned: {
		Name: Prefix + "step_heating_planned_seconds", Unit: "seconds", Labels: []string{labelStep},
		Help: "Time to heat to the step's target as planned before the batch.",
	},
	RestEarned: {
		Name: Prefix + "rest_earned_seconds", Unit: "seconds", Labels: []string{labelStep},
		Help: "Time of the step's own clock that has counted: mash-in, rest, mash-out, boil and stand.",
	},
	RestOutOfBand: {
		Name: Prefix + "rest_out_of_band_seconds_total", Kind: Counter, Unit: "seconds", Labels: []string{"side"},
		Help: "Time of rests, once reached, in which the estimated mash was too cold for the clock to count, or more than 0.5 K too hot.",
	},
	StepOvershoot: {
		Name: Prefix + "step_overshoot_celsius", Unit: "celsius", Labels: []string{labelStep},
		Help: "Highest that the estimated mash (not the true one, which nobody knows) went above the step's target.",
	},
	HoldDeviation: {
		Name: Prefix + "hold_deviation_rms_celsius", Unit: "celsius", Labels: []string{labelStep},
		Help: "Root mean square distance of the estimated mash (not the true one) from the target, over the second half of the rest's own time.",
	},

	Late: {
		Name: Prefix + "late_seconds", Unit: "seconds",
		Help: "By how much the batch is behind its plan, negative: ahead of it. Absent between batches and where the plan is not known, as after a restart in a batch.",
	},
	LateBy: {
		Name: Prefix + "late_cause_seconds", Unit: "seconds", Labels: []string{"cause"},
		Help: "The same, booked to what made it so; the causes add up to it.",
	},

	BatchIdentity: {
		Name: Prefix + "batch_info", Labels: []string{"batch", "profile"},
		Help: "1; the batch that runs, or the last one.",
	},
	StepIdentity: {
		Name: Prefix + "step_info", Labels: []string{labelStep, labelKind},
		Help: "1; the steps of the batch.",
	},
	BuildIdentity: {
		Name: Prefix + "build_info", Labels: []string{"version", "revision", "goversion"},
		Help: "1; the program that runs.",
	},
	Simulated: {
		Name: Prefix + "simulated",
		Help: "1 if kettle, probe and element are simulated, 0 if they are real.",
	},
	Ticks: {
		Name: Prefix + "control_ticks_total", Kind: Counter,
		Help: "Ticks of the control loop, one a second: a loop that stands still stops counting.",
	},
	Overruns: {
		Name: Prefix + "control_loop_overruns_total", Kind: Counter,
		Help: "Ticks that were skipped because the one before took too long.",
	},
	Clients: {
		Name: Prefix + "sse_clients",
		Help: "Open streams of events to pages.",
	},
	ForecastFinish: {
		Name: Prefix + "forecast_finish_timestamp_seconds", Unit: "seconds",
		Help: "When the batch that runs is thought to be done, prompts answered at once, as Unix time. Absent where nothing is forecast.",
	},
	ForecastEarly: {
		Name: Prefix + "forecast_finish_early_timestamp_seconds", Unit: "seconds",
		Help: "The early end of the band in which the finish lies in nine cases of ten, as Unix time.",
	},
	ForecastLate: {
		Name: Prefix + "forecast_finish_late_timestamp_seconds", Unit: "seconds",
		Help: "The late end of the band in which the finish lies in nine cases of ten, as Unix time.",
	},
	ForecastError: {
		Name: Prefix + "forecast_error_seconds", Unit: "seconds",
		Help: "Mean distance of the finish of the last batch that was completed from what was forecast during it. Absent before one.",
	},
	Notifications: {
		Name: Prefix + "notifications_total", Kind: Counter, Labels: []string{"target", "result"},
		Help: "Messages to each target of the notify file, by what became of them: sent, refused for good, failed in all attempts, dropped because too many waited, overtaken by what came later.",
	},

	RigIdentity: {
		Name: Prefix + "rig_info", Labels: []string{labelRelay},
		Help: "1; the kettle, and how the element's relay switches: mechanical contacts wear, solid-state does not.",
	},
	RecordStored: {
		Name: Prefix + "record_stored",
		Help: "1 while what happens is written to storage, or no records are kept; 0 while it is not: a power cut would then lose the batch.",
	},
	RelayUp: {
		Name: Prefix + "relay_up",
		Help: "1 while the lines of all relays answer, 0 while nobody knows what one of them does, or one has been given up.",
	},
}

// Family is what is fixed about the metric.
func (m Metric) Family() Family { return families[m] }

// Name is the metric's name, as it is written in a query.
func (m Metric) Name() string { return families[m].Name }

// All are the metrics in the order of the table.
func All() []Metric {
	all := make([]Metric, metricCount)
	for i := range all {
		all[i] = Metric(i)
	}
	return all
}
