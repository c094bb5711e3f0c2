package main

import (
	"fmt"

	m "mashward/cmd/internal/metricset"
	"mashward/controller"
)

// How the kinds of pictures are drawn.
var (
	legend  = object{"displayMode": "list", "placement": "bottom", "showLegend": true, "calcs": list{}}
	tooltip = object{"mode": "multi", "sort": "none"}
	lines   = object{"legend": legend, "tooltip": tooltip}
	strip   = object{"legend": legend, "tooltip": tooltip, "showValue": "auto", "rowHeight": 0.9, "mergeValues": true, "alignValue": "left"}
	thin    = object{"lineWidth": 2, "fillOpacity": 0, "spanNulls": false}
	stepped = object{"lineWidth": 2, "fillOpacity": 10, "lineInterpolation": "stepAfter", "spanNulls": false}
	figure  = object{
		"graphMode": "none", "colorMode": "none", "justifyMode": "auto", "textMode": "auto", "wideLayout": true,
		"showPercentChange": false, "percentChangeColorMode": "standard", "orientation": "auto",
		"reduceOptions": object{"calcs": list{"lastNotNull"}},
	}
	sheet = object{"showHeader": true, "frameIndex": 0, "cellHeight": "lg"}
)

// inWords are words for 0 and 1, so that no colour has to be read.
func inWords(no, yes string) object {
	return object{"mappings": list{object{"type": "value", "options": object{
		"0": object{"text": no, "index": 0}, "1": object{"text": yes, "index": 1},
	}}}}
}

// stood asks for what is 1 or 0 by a label, from where it was first 1: of some forty
// conditions a day has few.
func stood(label string, metric m.Metric) string {
	return ask("max by ("+label+") (%[1]s{RIG}) and on ("+label+") max by ("+label+") (max_over_time(%[1]s{RIG}[$__range])) > 0", metric)
}

// places is how many digits are shown behind the point.
func places(n int) object { return object{"decimals": n} }

var sections = []section{atOnceSeen, dayDrawn, stepsDrawn, elementDrawn, lawDrawn, daemonDrawn, allKettles}

var atOnceSeen = section{"What is so now", []panel{
	{
		kind: "stat", title: "The probe reads", says: "Nothing stands here while there is no reading that is at most 5 s old.",
		unit: "celsius", wide: 8, high: 7, options: figure, defaults: places(1),
		queries: []query{{expr: ask("max(%s{RIG})", m.ProbeTemperature), legend: "°C", once: true}},
	},
	{
		kind: "stat", title: "The kettle is to be at", unit: "celsius", wide: 5, high: 7, options: figure, defaults: places(1),
		queries: []query{{expr: ask("max(%s{RIG})", m.SetpointTemperature), legend: "°C", once: true}},
	},
	{
		kind: "stat", title: "The batch will be done at", says: "Of ten batches nine end between the first and the last, if prompts are answered at once.",
		unit: "dateTimeAsIsoNoDateIfToday", wide: 6, high: 7, options: figure, queries: []query{
			{expr: ask("max(%s{RIG}) * 1000", m.ForecastFinish), legend: "most likely", once: true},
			{expr: ask("max(%s{RIG}) * 1000", m.ForecastEarly), legend: "not before", once: true},
			{expr: ask("max(%s{RIG}) * 1000", m.ForecastLate), legend: "not after", once: true},
		},
	},
	{
		kind: "stat", title: "Somebody has been waited for since", says: "0: nobody is needed.",
		unit: "s", wide: 5, high: 7, options: figure, queries: []query{{expr: ask("max(%s{RIG})", m.PromptWaiting), legend: "waiting", once: true}},
	},
	{
		kind: "table", title: "The batch and its profile", wide: 12, high: 4, options: sheet, hidden: list{"Time", "Value"},
		queries: []query{{expr: ask("max by (batch, profile) (%s{RIG})", m.BatchIdentity), once: true}},
	},
	{
		kind: "table", title: "The steps", wide: 12, high: 4, options: sheet, hidden: list{"Time", "Value"},
		queries: []query{{expr: ask("sort_desc(max by (step, kind) (%s{RIG}))", m.StepIdentity), once: true}},
	},
}}

var dayDrawn = section{"The day as it went", []panel{
	{
		kind: "timeseries", title: "Temperatures: as planned, as wanted, as read", unit: "celsius", wide: 24, high: 11, options: lines, custom: thin, defaults: places(1),
		says: "The plan was made before the batch and knows no waiting. A gap is a probe without a reading.",
		queries: []query{
			{expr: ask("max(%s{RIG})", m.PlanTemperature), legend: "as planned"},
			{expr: ask("max(%s{RIG})", m.SetpointTemperature), legend: "as wanted"},
			{expr: ask("max(%s{RIG})", m.ProbeTemperature), legend: "as read"},
		},
	},
	{
		kind: "timeseries", title: "By how much the batch is behind its plan, and what made it so", unit: "s", wide: 24, high: 9, options: lines, custom: thin,
		says: "Below 0 it is ahead. The causes add up to the whole.",
		queries: []query{
			{expr: ask("max(%s{RIG})", m.Late), legend: "in all"},
			{expr: ask("max by (cause) (%s{RIG}) != 0", m.LateBy), legend: "{{cause}}"},
		},
	},
	{
		kind: "state-timeline", title: "The state of the batch, by the words of IEC 61512", wide: 24, high: 6, options: strip,
		custom: object{"lineWidth": 0, "fillOpacity": 70}, defaults: inWords("no", "yes"),
		queries: []query{{expr: stood("state", m.BatchState), legend: "{{state}}"}},
	},
	{
		kind: "state-timeline", title: "What stood in the way: alarms, heat cuts, trips", wide: 24, high: 7, options: strip,
		says:   "A row begins where something first stood; there are none for what never did.",
		custom: object{"lineWidth": 0, "fillOpacity": 70}, defaults: inWords("no", "yes"),
		queries: []query{
			{expr: stood("alarm", m.AlarmActive), legend: "alarm {{alarm}}"},
			{expr: stood("rule", m.HeatCut), legend: "cut {{rule}}"},
			{expr: stood("rule", m.HeatTrip), legend: "trip {{rule}}"},
			{expr: ask("1 - max(%s{RIG})", m.ProbeUp), legend: "no reading"},
		},
	},
}}

var stepsDrawn = section{"Step by step", []panel{
	{
		kind: "timeseries", title: "The step that runs, 0 being the strike water", wide: 8, high: 8, options: lines, custom: stepped,
		queries: []query{{expr: ask("max(%s{RIG})", m.StepIndex), legend: "step"}},
	},
	{
		kind: "timeseries", title: "Time that each step has earned", unit: "s", wide: 8, high: 8, options: lines, custom: thin,
		queries: []query{{expr: ask("max by (step) (%s{RIG})", m.RestEarned), legend: "step {{step}}"}},
	},
	{
		kind: "timeseries", title: "Time that this step has yet to earn", unit: "s", wide: 8, high: 8, options: lines, custom: thin,
		queries: []query{{expr: ask("max(%s{RIG})", m.StepRemaining), legend: "to go"}},
	},
	{
		kind: "timeseries", title: "Heating to the target, in fact and as planned", unit: "s", wide: 12, high: 8, options: lines, custom: thin,
		queries: []query{
			{expr: ask("max by (step) (%s{RIG})", m.StepHeating), legend: "step {{step}}"},
			{expr: ask("max by (step) (%s{RIG})", m.StepHeatingPlanned), legend: "step {{step}} as planned"},
		},
	},
	{
		kind: "timeseries", title: "Heat-up rate, and the ceiling the profile sets on it", unit: "suffix: °C/s", wide: 12, high: 8, options: lines, custom: thin,
		queries: []query{
			{expr: ask("max(%s{RIG})", m.RampRate), legend: "rate"},
			{expr: ask("max(%s{RIG})", m.RampLimit), legend: "ceiling"},
		},
	},
	{
		kind: "timeseries", title: "Overshoot of each step", unit: "celsius", wide: 8, high: 8, options: lines, custom: thin, defaults: places(2),
		queries: []query{{expr: ask("max by (step) (%s{RIG})", m.StepOvershoot), legend: "step {{step}}"}},
	},
	{
		kind: "timeseries", title: "How far each rest was off, as root mean square", unit: "celsius", wide: 8, high: 8, options: lines, custom: thin, defaults: places(3),
		queries: []query{{expr: ask("max by (step) (%s{RIG})", m.HoldDeviation), legend: "step {{step}}"}},
	},
	{
		kind: "timeseries", title: "Seconds out of the band of a rest, of the last ten minutes", unit: "s", wide: 8, high: 8, options: lines, custom: thin,
		queries: []query{{expr: ask("sum by (side) (increase(%s{RIG}[10m]))", m.RestOutOfBand), legend: "too {{side}}"}},
	},
}}

var elementDrawn = section{"Element and relay", []panel{
	{
		kind: "timeseries", title: "Mean power of the element, from what the rig declares", unit: "watt", wide: 8, high: 8, options: lines, custom: stepped,
		queries: []query{{expr: ask("sum(rate(%s{RIG}[2m]))", m.ElementEnergy), legend: "power"}},
	},
	{
		kind: "timeseries", title: "Share of the time that it is on, and share asked for", unit: "percentunit", wide: 8, high: 8, options: lines, custom: thin,
		queries: []query{
			{expr: ask("sum(rate(%s{RIG}[2m]))", m.ElementOnTime), legend: "on"},
			{expr: ask("avg(avg_over_time(%s{RIG}[2m]))", m.Output), legend: "asked for"},
		},
	},
	{
		kind: "timeseries", title: "The element's line is on", wide: 8, high: 8, options: lines, custom: stepped, defaults: inWords("off", "on"),
		queries: []query{{expr: ask("max(%s{RIG})", m.ElementOn), legend: "line"}},
	},
	{
		kind: "stat", title: "Energy of these hours, estimated", unit: "joule", wide: 8, high: 5, options: figure,
		queries: []query{{expr: ask("sum(increase(%s{RIG}[$__range]))", m.ElementEnergy), legend: "energy", once: true}},
	},
	{
		kind: "stat", title: "Closings of its relay in these hours", wide: 8, high: 5, options: figure, defaults: places(0),
		queries: []query{{expr: ask("sum by (relay) (increase(%s{RIG}[$__range]) * on (rig, instance) group_left (relay) %s{RIG})", m.ElementSwitches, m.RigIdentity), legend: "{{relay}}", once: true}},
	},
	{
		kind: "timeseries", title: "Closings of its relay an hour", wide: 8, high: 5, options: lines, custom: stepped,
		queries: []query{{expr: ask("sum(increase(%s{RIG}[1h]))", m.ElementSwitches), legend: "closings"}},
	},
}}

var lawDrawn = section{"What the law is made of", []panel{
	{
		kind: "timeseries", title: "The parts of the output, which add up to it before it is limited", unit: "percentunit", wide: 16, high: 9, options: lines, custom: thin,
		queries: []query{
			{expr: ask("max(%s{RIG})", m.Forward), legend: "loss made good"},
			{expr: ask("max(%s{RIG})", m.Proportional), legend: "proportional"},
			{expr: ask("max(%s{RIG})", m.Integral), legend: "integral"},
			{expr: ask("max(%s{RIG})", m.Derivative), legend: "derivative"},
			{expr: ask("max(%s{RIG})", m.Output), legend: "output"},
		},
	},
	{
		kind: "timeseries", title: "It acts on the mean of a fitted model of this mash, not on the reading", wide: 8, high: 9, options: lines, custom: stepped,
		defaults: inWords("the reading", "the mean"), queries: []query{{expr: ask("max(%s{RIG})", m.OnMean), legend: "acts on"}},
	},
}}

var daemonDrawn = section{"Daemon, probe, storage", []panel{
	{
		kind: "stat", title: "Kettle, probe and element are", wide: 4, high: 5, options: figure, defaults: inWords("real", "simulated"),
		queries: []query{{expr: ask("max(%s{RIG})", m.Simulated), legend: "they are", once: true}},
	},
	{
		kind: "stat", title: "What happens is", wide: 4, high: 5, options: figure, defaults: inWords("not stored", "stored"),
		queries: []query{{expr: ask("min(%s{RIG})", m.RecordStored), legend: "it is", once: true}},
	},
	{
		kind: "stat", title: "The relays", wide: 4, high: 5, options: figure, defaults: inWords("do not answer", "answer"),
		queries: []query{{expr: ask("min(%s{RIG})", m.RelayUp), legend: "they", once: true}},
	},
	{
		kind: "stat", title: "The last forecasts were off by", unit: "s", wide: 4, high: 5, options: figure, says: "Mean over the last batch that was completed.",
		queries: []query{{expr: ask("max(%s{RIG})", m.ForecastError), legend: "off by", once: true}},
	},
	{
		kind: "table", title: "The program", wide: 8, high: 5, options: sheet, hidden: list{"Time", "Value"},
		queries: []query{{expr: ask("max by (version, revision, goversion) (%s{RIG})", m.BuildIdentity), once: true}},
	},
	{
		kind: "timeseries", title: "How late the latest of a hundred ticks began", unit: "s", wide: 8, high: 8, options: lines, custom: thin,
		queries: []query{{expr: fmt.Sprintf("histogram_quantile(0.99, sum by (le) (rate(%s_bucket{RIG}[$__rate_interval])))", m.Lateness), legend: "99 of 100 sooner"}},
	},
	{
		kind: "timeseries", title: "Ticks a minute, and those that were left out", wide: 8, high: 8, options: lines, custom: thin,
		queries: []query{
			{expr: ask("60 * sum(rate(%s{RIG}[$__rate_interval]))", m.Ticks), legend: "ticks"},
			{expr: ask("60 * sum(rate(%s{RIG}[$__rate_interval]))", m.Overruns), legend: "left out"},
		},
	},
	{
		kind: "timeseries", title: "Readings that failed, of the last ten minutes", wide: 8, high: 8, options: lines, custom: stepped,
		queries: []query{{expr: ask("sum by (reason) (increase(%s{RIG}[10m]))", m.ProbeReadFailures), legend: "{{reason}}"}},
	},
	{
		kind: "timeseries", title: "Memory of the process", unit: "bytes", wide: 8, high: 8, options: lines, custom: thin,
		queries: []query{{expr: "max(process_resident_memory_bytes{RIG})", legend: "resident"}, {expr: "max(go_memstats_heap_inuse_bytes{RIG})", legend: "heap in use"}},
	},
	{
		kind: "timeseries", title: "Its share of one core", unit: "percentunit", wide: 8, high: 8, options: lines, custom: thin,
		queries: []query{{expr: "sum(rate(process_cpu_seconds_total{RIG}[$__rate_interval]))", legend: "processor"}},
	},
	{
		kind: "timeseries", title: "Pages that listen, and goroutines", wide: 8, high: 8, options: lines, custom: thin,
		queries: []query{{expr: ask("max(%s{RIG})", m.Clients), legend: "pages"}, {expr: "max(go_goroutines{RIG})", legend: "goroutines"}},
	},
}}

// allKettles is the one section that looks beyond the chosen kettle.
var allKettles = section{"All kettles", []panel{
	{
		kind: "timeseries", title: "What each probe reads", unit: "celsius", wide: 12, high: 9, options: lines, custom: thin, defaults: places(1),
		queries: []query{{expr: ask("max by (rig) (%s)", m.ProbeTemperature), legend: "{{rig}}"}},
	},
	{
		kind: "table", title: "Kettles on which a batch runs or waits", wide: 12, high: 9, options: sheet, hidden: list{"Time", "Value"},
		queries: []query{{
			expr: fmt.Sprintf(`max by (rig, state) (last_over_time(%s{state=~"%s|%s|%s|%s"}[$__range])) and on (rig, state) max_over_time(%[1]s[$__range]) > 0`, m.BatchState.Name(),
				controller.Running, controller.Paused, controller.Held, controller.Offered), once: true,
		}},
	},
}}
