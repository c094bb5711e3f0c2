package main

import (
	"fmt"

	"mashward/cmd/internal/metricset"
	"mashward/profile"
)

// course: how the batch goes.
var course = []alert{
	{
		name: "MashwardPromptWaiting", expr: ask("%s > 600", metricset.PromptWaiting), severity: now,
		summary: "{{ $labels.rig }} has been waiting for somebody for {{ $value | humanizeDuration }}.",
		do:      "Its page says what is to be done. The strike water is kept for 2 h, the mash-out for 3 h; then the heat goes off.",
		hands:   true,
		firing: trial{
			what: "nobody pours", series: []series{of(metricset.PromptWaiting, "", "0x4 0+15x60")}, at: "12m", labels: labelled(),
			said: "Yard has been waiting for somebody for 10m 45s.",
		},
		silent: trial{what: "eight minutes", series: []series{of(metricset.PromptWaiting, "", "0+15x32 0x60")}, at: "12m"},
	},
	{
		name: "MashwardBehindPlan", expr: ask("%s > 1200", metricset.Late), lasting: "5m", severity: today,
		summary: "{{ $labels.rig }} is {{ $value | humanizeDuration }} behind its plan.",
		do:      "Its page says what made it so, and when it will be done now. Whoever has to be there for lift and boil may come later.",
		firing: trial{
			what: "a pour that waited", series: []series{of(metricset.Late, "", "0x4 0+60x100")}, at: "13m", labels: labelled(),
			said: "Yard is 47m 0s behind its plan.",
		},
		silent: trial{what: "a quarter of an hour, and an hour ahead", series: []series{of(metricset.Late, "", "0x4 900x30 -3600x100")}, at: "10m"},
	},
	{
		name: "MashwardHeatUpSlow",
		// The figure of a step that is over stands still.
		expr:    ask("%[1]s > 1.3 * %[2]s + 120 and changes(%[1]s[2m]) > 0", metricset.StepHeating, metricset.StepHeatingPlanned),
		lasting: "1m", severity: today,
		summary: "Step {{ $labels.step }} of {{ $labels.rig }} has been heating for {{ $value | humanizeDuration }}, by far longer than planned.",
		do:      "Look at the litres, the lid, the pump and the breaker. Where nothing explains it, half of the element may be dead.",
		hands:   true,
		firing: trial{
			what: "half of an element", series: []series{
				of(metricset.StepHeating, `step="3"`, "0+15x100"), of(metricset.StepHeatingPlanned, `step="3"`, "600x100"),
			}, at: "18m", labels: labelled("step", "3"), said: "Step 3 of Yard has been heating for 18m 0s, by far longer than planned.",
		},
		silent: trial{
			what: "it took long, and is over", series: []series{
				of(metricset.StepHeating, `step="3"`, "0+15x62 930x40"), of(metricset.StepHeatingPlanned, `step="3"`, "600x110"),
			}, at: "20m",
		},
	},
	{
		name: "MashwardRestOutOfBand", expr: outOfBand + " > 120", severity: today,
		summary: "{{ $labels.rig }} was too {{ $labels.side }} for {{ $value | humanizeDuration }} of the last ten minutes of a rest.",
		do:      "Too cold: the clock of the rest stands still, look at pump, lid and breaker. Too hot: look at the pump; the rest does not wait for it to cool.",
		hands:   true,
		firing: trial{
			what: "the pump stands", series: []series{of(metricset.RestOutOfBand, `side="cold"`, "0x20 0+15x40")}, at: "10m",
			labels: map[string]string{"rig": "Yard", "side": "cold"}, said: "Yard was too cold for 4m 45s of the last ten minutes of a rest.",
		},
		silent: trial{what: "a minute after stirring", series: []series{of(metricset.RestOutOfBand, `side="cold"`, "0x20 0+15x4 60x40")}, at: "10m"},
	},
	{
		name: "MashwardOvershoot",
		expr: fmt.Sprintf(`%s > 0.5 and on (rig, instance, step) %s{kind=~"%s|%s"} and on (rig, instance, step) changes(%[1]s[10m]) > 0`,
			metricset.StepOvershoot.Name(), metricset.StepIdentity.Name(), profile.Rest, profile.MashOut),
		severity: today,
		summary:  "Step {{ $labels.step }} of {{ $labels.rig }} went {{ $value | printf \"%.1f\" }} °C above its target.",
		do:       "Nothing has to be done at once. A kettle that does so every time wants a water test: mashward tune.",
		firing: trial{
			what: "a kettle that was never tested", series: []series{known("2", profile.Rest), of(metricset.StepOvershoot, `step="2"`, "0x8 0.3 0.8x60")}, at: "4m",
			labels: labelled("step", "2"), said: "Step 2 of Yard went 0.8 °C above its target.",
		},
		silent: trial{
			what: "a third of a degree, and a strike that was hot", series: []series{
				known("2", profile.Rest), of(metricset.StepOvershoot, `step="2"`, "0x8 0.3x60"),
				known("0", profile.Strike), of(metricset.StepOvershoot, `step="0"`, "0x8 0.9x60"),
			}, at: "4m",
		},
	},
}

// worn is the number of operations at which a mechanical relay is near its end.
// 100,000 at full load is what data sheets of power relays promise: common practice,
// no source.
const worn = 80_000

// overTheYear are looked at once an hour.
var overTheYear = []alert{{
	name: "MashwardRelayWorn", expr: fmt.Sprintf("sum_over_time(%s[1y]) > %d", closings, worn), severity: today,
	summary: "The relay of {{ $labels.rig }} has closed {{ $value | humanize }} times within a year.",
	do: "Contacts are good for some 100,000 operations at full load, and those that are worn weld. Have it replaced before the next batch." +
		" Prometheus only counts what it has kept: set --storage.tsdb.retention.time to a year.",
	hands: true,
	firing: trial{
		what: "five days of 800 an hour, for a year takes a test too long", series: []series{
			of(metricset.ElementSwitches, "", "0+200x500"), of(metricset.RigIdentity, `relay="mechanical"`, "1x500"),
		}, at: "120h", labels: map[string]string{"rig": "Yard"}, said: "The relay of Yard has closed 96k times within a year.",
	},
	silent: trial{
		what: "solid-state does not wear", series: []series{
			of(metricset.ElementSwitches, "", "0+200x500"), of(metricset.RigIdentity, `relay="solid-state"`, "1x500"),
		}, at: "120h",
	},
}}
