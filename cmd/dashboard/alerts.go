package main

import (
	"fmt"
	"slices"

	"mashward/cmd/internal/metricset"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/profile"
)

// alerts are those that are looked at with every scrape.
var alerts = slices.Concat(reach, kettle, course)

// The kettle that the trials are about.
const base = `rig="Yard",instance="a:1",job="mashward"`

// labelled are labels of an alert about that kettle, pairs of name and value added.
func labelled(more ...string) map[string]string {
	all := map[string]string{"rig": "Yard", "instance": "a:1", "job": job}
	for i := 0; i+1 < len(more); i += 2 {
		all[more[i]] = more[i+1]
	}
	return all
}

// of is a series of that kettle.
func of(m metricset.Metric, labels, values string) series {
	if labels != "" {
		labels = "," + labels
	}
	return series{m.Name(), base + labels, values}
}

// known is that a step is of this kind.
func known(step string, kind profile.Kind) series {
	return of(metricset.StepIdentity, fmt.Sprintf(`step="%s",kind="%s"`, step, kind), "1x200")
}

// reach: whether anybody answers.
var reach = []alert{
	{
		name: "MashwardNotWatched", expr: fmt.Sprintf(`absent(up{job="%s"})`, job), lasting: "2m", severity: now,
		summary: "No kettle is watched: Prometheus has no target of the job mashward.",
		do:      "Look at scrape_configs of Prometheus. Until it is mended nobody is told when a daemon dies.",
		firing: trial{
			what: "nothing is scraped", series: []series{{"up", `job="node"`, "1x20"}}, at: "3m",
			labels: map[string]string{"job": job}, said: "No kettle is watched: Prometheus has no target of the job mashward.",
		},
		silent: trial{what: "a target that is down is one", series: []series{{"up", `job="mashward",instance="a:1"`, "0x20"}}, at: "3m"},
	},
	{
		name: "MashwardDown", expr: fmt.Sprintf(`up{job="%s"} == 0`, job), lasting: "1m", severity: now,
		summary: "{{ $labels.instance }} has not answered for a minute: daemon, computer or network is down.",
		do: "Go to the kettle and look whether the element is off. When the daemon dies its lines go off within 3 s, but do not rely on it." +
			" What is lost of the batch is a few seconds: the next start offers it.",
		hands: true,
		firing: trial{
			what: "it dies", series: []series{{"up", `job="mashward",instance="a:1"`, "1x4 0x20"}}, at: "3m",
			labels: map[string]string{"job": job, "instance": "a:1"},
			said:   "a:1 has not answered for a minute: daemon, computer or network is down.",
		},
		silent: trial{what: "three scrapes that fail are no death", series: []series{{"up", `job="mashward",instance="a:1"`, "1x4 0x2 1x20"}}, at: "1m45s"},
	},
	{
		name: "MashwardLoopStands", expr: ask("rate(%s[1m]) == 0", metricset.Ticks), lasting: "30s", severity: now,
		summary: "The loop of {{ $labels.rig }} stands still although its daemon answers: nothing is measured, nothing is controlled.",
		do:      "Its page says whether the rig file has faults. If a batch runs, go to the kettle and look whether the element is off.",
		hands:   true,
		firing: trial{
			what: "it hangs", series: []series{of(metricset.Ticks, "", "0+15x8 120x20")}, at: "5m", labels: labelled(),
			said: "The loop of Yard stands still although its daemon answers: nothing is measured, nothing is controlled.",
		},
		silent: trial{what: "a restart counts from nothing", series: []series{of(metricset.Ticks, "", "0+15x8 3+15x20")}, at: "3m"},
	},
	{
		name: "MashwardLoopLate", expr: tooLate + " > 5", lasting: "", severity: today,
		summary: "{{ $value | printf \"%.0f\" }} ticks of {{ $labels.rig }} began more than half a second late within five minutes.",
		do: "Something else keeps its computer busy: a full or worn card, an update, another program." +
			" A tick that is 3 s late takes the heat away until it is gone.",
		firing: trial{
			what: "a card that hangs", series: []series{
				{metricset.Lateness + "_count", base, "0+15x40"}, {metricset.Lateness + "_bucket", base + `,le="0.5"`, "0+13x40"},
			},
			at: "8m", labels: map[string]string{"rig": "Yard"}, said: "40 ticks of Yard began more than half a second late within five minutes.",
		},
		silent: trial{
			what: "three late ticks", series: []series{
				{metricset.Lateness + "_count", base, "0+15x40"}, {metricset.Lateness + "_bucket", base + `,le="0.5"`, "0+15x20 312+15x19"},
			}, at: "8m",
		},
	},
	{
		name: "MashwardRecordNotStored", expr: ask("%s == 0", metricset.RecordStored), lasting: "1m", severity: today,
		summary: "What {{ $labels.rig }} does is not being stored: a power cut now would lose the batch.",
		do:      "Look at the storage: full, read-only or broken. The batch goes on without it, and what could not be written is lost.",
		firing: trial{
			what: "the card is full", series: []series{of(metricset.RecordStored, "", "1x4 0x20")}, at: "3m", labels: labelled(),
			said: "What Yard does is not being stored: a power cut now would lose the batch.",
		},
		silent: trial{what: "a write that had to be tried again", series: []series{of(metricset.RecordStored, "", "1x4 0x1 1x20")}, at: "1m30s"},
	},
}

// kettle: what protects people and the batch.
var kettle = []alert{
	{
		name: "MashwardProbeDown", expr: ask("%s == 0", metricset.ProbeUp), lasting: "10s", severity: now,
		summary: "The probe of {{ $labels.rig }} gives no reading that is at most 5 s old.",
		do:      "There is no heat without a reading, and the mash cools. Look at the probe's plug and cable; it comes back by itself when it is read again.",
		hands:   true,
		firing: trial{
			what: "a cable comes off", series: []series{of(metricset.ProbeUp, "", "1x8 0x20")}, at: "3m", labels: labelled(),
			said: "The probe of Yard gives no reading that is at most 5 s old.",
		},
		silent: trial{what: "one scrape without a reading", series: []series{of(metricset.ProbeUp, "", "1x8 0 1x20")}, at: "2m15s"},
	},
	{
		name: "MashwardProbeFalters", expr: failedReads + " > 10", lasting: "", severity: today,
		summary: "{{ $value | printf \"%.0f\" }} readings of {{ $labels.rig }} have failed within ten minutes.",
		do:      "Before the next batch look at the probe's plug, cable and pull-up: a contact that falters becomes one that is gone.",
		firing: trial{
			what: "a loose contact", series: []series{of(metricset.ProbeReadFailures, `reason="checksum"`, "0+1x60")}, at: "12m",
			labels: map[string]string{"rig": "Yard"}, said: "40 readings of Yard have failed within ten minutes.",
		},
		silent: trial{what: "one now and then", series: []series{of(metricset.ProbeReadFailures, `reason="checksum"`, "0x30 2x30")}, at: "12m"},
	},
	{
		name: "MashwardHeatCut", expr: ask("%s == 1", metricset.HeatCut), lasting: "1m", severity: now,
		summary: "The interlock has kept the heat of {{ $labels.rig }} off for a minute: {{ $labels.rule }}.",
		do:      "The page says what the cause is. Heat comes back by itself 10 s after that is gone; until then the mash cools.",
		hands:   true,
		firing: trial{
			what: "an empty kettle", series: []series{of(metricset.HeatCut, `rule="empty"`, "0x4 1x20")}, at: "3m", labels: labelled("rule", interlock.Empty.String()),
			said: "The interlock has kept the heat of Yard off for a minute: empty.",
		},
		silent: trial{what: "half a minute", series: []series{of(metricset.HeatCut, `rule="stale"`, "0x4 1x2 0x20")}, at: "1m45s"},
	},
	{
		name: "MashwardHeatTrip", expr: ask("%s == 1", metricset.HeatTrip), severity: now,
		summary: "The interlock of {{ $labels.rig }} has tripped: {{ $labels.rule }}. Heat stays off until a person has looked and cleared it.",
		do:      "Go to the kettle and find the cause before you clear anything: a relay may be welded, the element bare.",
		hands:   true,
		firing: trial{
			what: "a welded relay", series: []series{of(metricset.HeatTrip, `rule="heating-while-off"`, "0x4 1x20")}, at: "1m15s",
			labels: labelled("rule", interlock.HeatingWhileOff.String()),
			said:   "The interlock of Yard has tripped: heating-while-off. Heat stays off until a person has looked and cleared it.",
		},
		silent: trial{what: "it has been cleared", series: []series{of(metricset.HeatTrip, `rule="heating-while-off"`, "0x4 1x4 0x20")}, at: "3m"},
	},
	{
		name: "MashwardRelaySilent", expr: ask("%s == 0", metricset.RelayUp), lasting: "15s", severity: now,
		summary: "A relay of {{ $labels.rig }} does not answer: nobody knows whether it is on.",
		do:      "Take the supply of the element away at the breaker. Then look at the relay and its line.",
		hands:   true,
		firing: trial{
			what: "its line is gone", series: []series{of(metricset.RelayUp, "", "1x4 0x20")}, at: "2m", labels: labelled(),
			said: "A relay of Yard does not answer: nobody knows whether it is on.",
		},
		silent: trial{what: "it answers", series: []series{of(metricset.RelayUp, "", "1x20")}, at: "2m"},
	},
	{
		name: "MashwardHeatUnasked",
		expr: ask(`%s == 1 and on (rig, instance) max by (rig, instance) (%s{state!~"running|paused"}) == 1`, metricset.ElementOn, metricset.BatchState),
		// A batch that ends and its last second of heat may stand in one scrape.
		lasting: "30s", severity: now,
		summary: "The element of {{ $labels.rig }} is on, and no batch runs that may heat.",
		do:      "This must never be. Take the supply of the element away at the breaker at once, then find out why.",
		hands:   true,
		firing: trial{
			what: "idle and on", series: []series{
				of(metricset.ElementOn, "", "1x20"), of(metricset.BatchState, `state="idle"`, "1x20"), of(metricset.BatchState, `state="running"`, "0x20"),
			}, at: "2m", labels: labelled(), said: "The element of Yard is on, and no batch runs that may heat.",
		},
		silent: trial{
			what: "a batch runs", series: []series{
				of(metricset.ElementOn, "", "1x20"), of(metricset.BatchState, `state="idle"`, "0x20"), of(metricset.BatchState, `state="running"`, "1x20"),
			}, at: "2m",
		},
	},
	{
		name: "MashwardWarmsWhileOff",
		expr: ask("deriv(%s[2m]) * 60 > 0.1 and on (rig, instance) increase(%s[4m]) == 0", metricset.ProbeTemperature, metricset.ElementOnTime),
		// What is poured in hot is a step, which the slope forgets after two minutes. The
		// weakest element of the domain, 30 W a litre, warms by 0.4 °C a minute.
		lasting: "3m", severity: now,
		summary: "{{ $labels.rig }} warms by {{ $value | printf \"%.1f\" }} °C a minute, and its element has been off for four minutes.",
		do:      "Its relay may be welded. Take the supply away at the breaker, and believe it only when the temperature stops rising.",
		hands:   true,
		firing: trial{
			what: "a welded relay in the night", series: []series{of(metricset.ProbeTemperature, "", "20+0.1x120"), of(metricset.ElementOnTime, "", "600x120")},
			at: "20m", labels: labelled(), said: "Yard warms by 0.4 °C a minute, and its element has been off for four minutes.",
		},
		silent: trial{
			what: "hot water was poured in", series: []series{of(metricset.ProbeTemperature, "", "20x40 60x80"), of(metricset.ElementOnTime, "", "600x120")}, at: "12m",
		},
	},
	{
		name: "MashwardAlarm", expr: fmt.Sprintf(`%s{alarm!~"%s|%s"} == 1`, metricset.AlarmActive.Name(), controller.AlarmWaiting, controller.AlarmUnreadable), lasting: "2m", severity: now,
		summary: "{{ $labels.rig }} has had this alarm for two minutes: {{ $labels.alarm }}.",
		do:      "The page says what it means and what can be done about it.",
		hands:   true,
		firing: trial{
			what: "the level is low", series: []series{of(metricset.AlarmActive, `alarm="level-low"`, "0x4 1x20")}, at: "4m",
			labels: labelled("alarm", controller.AlarmLevel.String()), said: "Yard has had this alarm for two minutes: level-low.",
		},
		silent: trial{what: "waiting for a person has a rule of its own", series: []series{of(metricset.AlarmActive, `alarm="person-needed"`, "0x4 1x20")}, at: "4m"},
	},
}
