package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"mashward/cmd/internal/metricset"
)

// job is what the target is called in the configuration of Prometheus.
const job = "mashward"

// How often a kettle is scraped and the rules are looked at.
const (
	scrape = "15s"
	hourly = "1h" // what is summed up over a year

	quarter = "15m" // between two samples of a trial over months
)

// The groups of the rules, in the order in which one needs the other.
const (
	groupFigures = "mashward figures"
	groupAlerts  = "mashward alerts"
	groupYear    = "mashward over the year"
)

// Severities. Now is for what may hurt somebody or lose the batch.
const (
	now   = "now"
	today = "today"
)

// caution stands where somebody is sent to the kettle.
const caution = " Hot wort scalds and mains kills: take the supply away at the breaker before you reach in or touch a wire," +
	" and leave wiring to a licensed electrician."

// alert is one rule that tells somebody.
type alert struct {
	name     string
	expr     string
	lasting  string // for so long, before anybody is told; "": at once
	severity string
	summary  string // what is so, as a template of Prometheus
	do       string // what to do, a plain sentence
	hands    bool   // it sends somebody to the kettle: the caution is added

	firing, silent trial
}

// trial is a test of an alert: these series, looked at so long after their beginning.
type trial struct {
	what   string
	series []series
	at     string
	labels map[string]string // of the alert that fires, severity and name apart; nil: none does
	said   string            // its summary
}

// series is one of the input of a trial, in the notation of promtool.
type series struct {
	name, labels, values string
}

// recording is a rule that keeps a figure.
type recording struct {
	name, expr, says string
}

// ask fills the names of metrics into a query.
func ask(format string, metrics ...metricset.Metric) string {
	names := make([]any, len(metrics))
	for i, m := range metrics {
		names[i] = m.Name()
	}
	return fmt.Sprintf(format, names...)
}

// Names of the recording rules: level, metric, operation.
const (
	powerNow    = "rig:mashward_element_power_watts:rate2m"
	offTarget   = "rig:mashward_probe_off_setpoint_celsius"
	closings    = "rig:mashward_element_switches:increase1h"
	energyHour  = "rig:mashward_element_energy_joules:increase1h"
	outOfBand   = "rig:mashward_rest_out_of_band_seconds:increase10m"
	tooLate     = "rig:mashward_control_ticks_late:increase5m"
	failedReads = "rig:mashward_probe_read_failures:increase10m"
)

// every 15 s, and what is summed up over a year.
var (
	recordings = []recording{
		{powerNow, ask("sum by (rig) (rate(%s[2m]))", metricset.ElementEnergy), "mean power of the element over two minutes, from its declared power"},
		{offTarget, ask("max by (rig) (%s) - max by (rig) (%s)", metricset.ProbeTemperature, metricset.SetpointTemperature), "by how much the probe reads above the target"},
		{outOfBand, ask("sum by (rig, side) (increase(%s[10m]))", metricset.RestOutOfBand), "seconds of the last ten minutes in which a rest was too cold or too hot"},
		{failedReads, ask("sum by (rig) (increase(%s[10m]))", metricset.ProbeReadFailures), "readings of the last ten minutes without a value"},
		{tooLate, fmt.Sprintf(`sum by (rig) (increase(%[1]s_count[5m])) - sum by (rig) (increase(%[1]s_bucket{le="0.5"}[5m]))`, metricset.Lateness), "ticks of the last five minutes that began more than half a second late"},
	}
	hourlies = []recording{
		{
			closings, ask(`sum by (rig) (increase(%s[1h]) and on (rig, instance) %s{relay="mechanical"})`, metricset.ElementSwitches, metricset.RigIdentity),
			"closings of mechanical contacts in the last hour",
		},
		{energyHour, ask("sum by (rig) (increase(%s[1h]))", metricset.ElementEnergy), "energy of the element in the last hour, estimated"},
	}
)

// head stands at the beginning of what is written.
const head = "# Written by `go run ./cmd/dashboard`: change that and write it anew.\n"

// quote is a string as YAML has it between double quotes, which is JSON's way.
func quote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}

// rules is the file with all rules.
func rules() string {
	var b strings.Builder
	b.WriteString(head + "# Prometheus loads it by `rule_files`. Summary says what is so, description what to do.\ngroups:\n")
	group := func(name, every string, kept []recording, told []alert) {
		fmt.Fprintf(&b, "  - name: %s\n    interval: %s\n    rules:\n", name, every)
		for _, r := range kept {
			fmt.Fprintf(&b, "      # %s\n      - record: %s\n        expr: %s\n", r.says, r.name, quote(r.expr))
		}
		for i := range told {
			told[i].write(&b)
		}
	}
	group(groupFigures, scrape, recordings, nil)
	group(groupAlerts, scrape, nil, alerts)
	group(groupYear, hourly, hourlies, overTheYear)
	return b.String()
}

func (a *alert) write(b *strings.Builder) {
	fmt.Fprintf(b, "      - alert: %s\n        expr: %s\n", a.name, quote(a.expr))
	if a.lasting != "" {
		fmt.Fprintf(b, "        for: %s\n", a.lasting)
	}
	fmt.Fprintf(b, "        labels: {severity: %s}\n        annotations:\n          summary: %s\n          description: %s\n",
		a.severity, quote(a.summary), quote(a.description()))
}

func (a *alert) description() string {
	if a.hands {
		return a.do + caution
	}
	return a.do
}

// tests is the file with the trials whose rules are looked at so often.
func tests(every string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s# promtool test rules FILE\nrule_files: [rules.yml]\nevaluation_interval: %s\n"+
		"group_eval_order: [%s]\ntests:\n", head, every, strings.Join([]string{groupFigures, groupAlerts, groupYear}, ", "))
	table, between := alerts, scrape
	if every == hourly {
		table, between = overTheYear, quarter
	}
	for i := range table {
		a := &table[i]
		a.firing.write(&b, a, between)
		a.silent.write(&b, a, between)
	}
	return b.String()
}

// write is one test. What must stay silent is a test without an alert.
func (t *trial) write(b *strings.Builder, a *alert, between string) {
	fmt.Fprintf(b, "  - name: %s\n    interval: %s\n    input_series:\n", quote(a.name+": "+t.what), between)
	for _, s := range t.series {
		fmt.Fprintf(b, "      - {series: '%s{%s}', values: '%s'}\n", s.name, s.labels, s.values)
	}
	fmt.Fprintf(b, "    alert_rule_test:\n      - eval_time: %s\n        alertname: %s\n        exp_alerts:", t.at, a.name)
	if t.labels == nil {
		b.WriteString(" []\n")
		return
	}
	fmt.Fprintf(b, "\n          - exp_labels:\n              severity: %s\n", a.severity)
	for _, k := range slices.Sorted(maps.Keys(t.labels)) {
		fmt.Fprintf(b, "              %s: %s\n", k, quote(t.labels[k]))
	}
	fmt.Fprintf(b, "            exp_annotations:\n              summary: %s\n              description: %s\n", quote(t.said), quote(a.description()))
}
