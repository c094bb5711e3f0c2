package metricset

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// agreed is the set that dashboards, rules and people rely on. A name that
// stands here keeps its name and meaning; new ones are added.
var agreed = strings.Fields(`
	mashward_alarm_active
	mashward_batch_info
	mashward_batch_state
	mashward_build_info
	mashward_control_derivative_ratio
	mashward_control_feedforward_ratio
	mashward_control_integral_ratio
	mashward_control_loop_overruns_total
	mashward_control_on_mean
	mashward_control_output_ratio
	mashward_control_proportional_ratio
	mashward_control_ticks_total
	mashward_element_energy_joules_total
	mashward_element_on
	mashward_element_on_seconds_total
	mashward_element_switches_total
	mashward_forecast_error_seconds
	mashward_forecast_finish_early_timestamp_seconds
	mashward_forecast_finish_late_timestamp_seconds
	mashward_forecast_finish_timestamp_seconds
	mashward_heat_cut_active
	mashward_heat_trip_active
	mashward_hold_deviation_rms_celsius
	mashward_late_cause_seconds
	mashward_late_seconds
	mashward_notifications_total
	mashward_plan_temperature_celsius
	mashward_probe_read_failures_total
	mashward_probe_temperature_celsius
	mashward_probe_up
	mashward_prompt_waiting_seconds
	mashward_ramp_limit_celsius_per_second
	mashward_ramp_rate_celsius_per_second
	mashward_record_stored
	mashward_relay_up
	mashward_rest_earned_seconds
	mashward_rest_out_of_band_seconds_total
	mashward_rig_info
	mashward_setpoint_temperature_celsius
	mashward_simulated
	mashward_sse_clients
	mashward_step_heating_planned_seconds
	mashward_step_heating_seconds
	mashward_step_index
	mashward_step_info
	mashward_step_overshoot_celsius
	mashward_step_remaining_seconds`)

func TestTheTableHasTheNamesAgreedAndNoOthers(t *testing.T) {
	var names []string
	for _, m := range All() {
		names = append(names, m.Name())
	}
	slices.Sort(names)
	if !slices.Equal(names, agreed) {
		t.Errorf("the table has\n%s\nand agreed is\n%s", strings.Join(names, "\n"), strings.Join(agreed, "\n"))
	}
}

// baseUnits are those of the naming rules in the Prometheus documentation.
var baseUnits = []string{"celsius", "seconds", "joules", "ratio"}

// forbidden are words for other units, and for one unit in two ways. Both
// linters of Prometheus let most of them pass.
var forbidden = strings.Fields(`percent percentage fahrenheit kelvin kelvins degrees watts kilowatts watthours kilojoules calories
	minutes hours days milliseconds microseconds ms minute hour millis grams kilograms liters litres gallons age`)

// misnamed is what is wrong with a family's name.
func misnamed(f Family) (bad []string) {
	complain := func(ok bool, what string) {
		if !ok {
			bad = append(bad, f.Name+": "+what)
		}
	}
	complain(strings.HasPrefix(f.Name, Prefix), "without the prefix")
	complain(regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`).MatchString(f.Name), "no words joined by underscores")
	base, total := strings.CutSuffix(f.Name, "_total")
	complain(total == (f.Kind == Counter), "counters end in _total, and only they")
	words := strings.Split(base, "_")
	for _, w := range forbidden {
		complain(!slices.Contains(words, w), "has the word "+w)
	}
	complain(f.Unit == "" || strings.HasSuffix(base, "_"+f.Unit), "does not end in its unit "+f.Unit)
	for _, u := range baseUnits {
		complain(!strings.HasSuffix(base, "_"+u) || f.Unit != "", "ends in "+u+", and the table names no unit")
	}
	first, _, _ := strings.Cut(f.Unit, "_per_")
	complain(f.Unit == "" || slices.Contains(baseUnits, first), f.Unit+" is no base unit")
	complain(!strings.HasSuffix(base, "_info") || len(f.Labels) > 0, "an identity without labels")
	complain(len(f.Help) > 20 && strings.HasSuffix(f.Help, ".") && !strings.ContainsAny(f.Help, "\n\\\""), "help is no plain sentence: "+f.Help)
	return bad
}

func TestEveryNameFollowsTheNamingRules(t *testing.T) {
	for _, m := range All() {
		for _, b := range misnamed(m.Family()) {
			t.Error(b)
		}
	}
}

func TestNamesThatBreakTheRulesAreFound(t *testing.T) {
	good := Family{Name: "mashward_kettle_temperature_celsius", Unit: "celsius", Help: "Something that can be understood."}
	if bad := misnamed(good); len(bad) > 0 {
		t.Fatalf("a good name is refused: %q", bad)
	}
	for _, f := range []Family{
		{Name: "mashward_duty_percent"},
		{Name: "mashward_element_power_kilowatts"},
		{Name: "mashward_element_power_watts"},
		{Name: "mashward_rest_earned_minutes"},
		{Name: "mashward_probe_temperature_fahrenheit"},
		{Name: "mashward_probe_temperature_celsius"},                  // unit not named
		{Name: "mashward_probe_celsius_temperature", Unit: "celsius"}, // unit not at the end
		{Name: "mashward_element_on_seconds", Kind: Counter, Unit: "seconds"},
		{Name: "mashward_element_on_total"},
		{Name: "mashward_elementOn"},
		{Name: "kettle_temperature_celsius", Unit: "celsius"},
		{Name: "mashward_batch_info"},
		{Name: "mashward_probe_reading_age_seconds", Unit: "seconds"},
	} {
		f.Help = good.Help
		if len(misnamed(f)) == 0 {
			t.Errorf("%s passes", f.Name)
		}
	}
}
