package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"

	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
	"mashward/profile/plan"
)

// because says why a rule takes heat away, by the rule's id.
var because = map[string]string{
	interlock.Stale.String():           "the probe gave no good reading for 5 s",
	interlock.Implausible.String():     "the probe's reading was one that physics does not allow",
	interlock.OverTemperature.String(): "the kettle was at or above the limit of this batch",
	interlock.NotArmed.String():        "heat was wanted with no person's arming behind it",
	interlock.Empty.String():           "the level came too near the element",
	interlock.OnTooLong.String():       "the element was on without a pause for longer than the plan can need",
	interlock.TickLate.String():        "the controller was away for longer than its lease",
	interlock.NotHeating.String():      "the element was on and the kettle did not get warmer",
	interlock.HeatingWhileOff.String(): "the kettle got warmer with the element off, as with a welded relay",
	interlock.TooFast.String():         "the kettle got warmer faster than its load allows, as with a low level",
	interlock.ProbeOut.String():        "the probe had left the liquid",
	interlock.ProbeStuck.String():      "the probe's reading no longer moved",
	interlock.PumpStopped.String():     "nothing flowed where flow is needed",
	interlock.EnergyBudget.String():    "more energy had gone in than the whole batch can need",
}

// Because says why a rule takes heat away, as a part of a sentence. id is the
// rule's.
func Because(id string) string {
	if why, ok := because[id]; ok {
		return why
	}
	return id
}

// alarm is an alarm's sentence by its id.
func alarm(id string) string {
	for a := range controller.Alarm(controller.AlarmCount) {
		if a.String() == id {
			return strings.TrimSuffix(say.Alarm(a), ".")
		}
	}
	return id
}

// summary is how it went, in one or two sentences.
func summary(r rehearse.Result, p plan.Plan) string {
	took := time.Duration(r.Duration * float64(time.Second))
	text := ""
	switch r.Outcome {
	case controller.Complete.String():
		text = fmt.Sprintf("Finished after %s%s", say.Length(took), asPlanned(took, p.Finish))
	case controller.Stopped.String():
		text = fmt.Sprintf("Ended by a person after %s (%s)", say.Length(took), r.Reason)
	case controller.Aborted.String():
		text = fmt.Sprintf("Ended by a fault after %s (%s)", say.Length(took), r.Reason)
	case "unfinished":
		text = fmt.Sprintf("Not ended after %s: no end of the batch stands in the record, so that it was cut off or still runs", say.Length(took))
	default:
		text = fmt.Sprintf("Not finished: %s with the heat off after %s (%s)", r.Outcome, say.Length(took), r.Reason)
	}
	return tied(text + fmt.Sprintf(", with %.1f kWh. %s", unit.Joules(r.Energy).KilowattHours(), troubleSentence(r)))
}

func lateness(by time.Duration) string {
	switch {
	case by >= time.Minute:
		return say.Length(by) + " later than planned"
	case by <= -time.Minute:
		return say.Length(-by) + " earlier than planned"
	}
	return "as planned"
}

func troubleSentence(r rehearse.Result) string {
	cuts, alarms := len(r.Trips)+len(r.Cuts), len(r.Alarms)
	if cuts+alarms == 0 {
		return "No heat was cut and no alarm was raised."
	}
	heat := "No heat was cut"
	if cuts > 0 {
		heat = "Heat was cut " + say.Times(cuts)
	}
	return fmt.Sprintf("%s and %s raised.", heat, counted(alarms, "alarm was", "alarms were"))
}

func counted(n int, one, many string) string {
	switch n {
	case 0:
		return "no " + one
	case 1:
		return "one " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// trouble is one thing that went wrong.
type trouble struct {
	At, Text string
	seconds  float64
}

// troubles are trips, cuts and alarms as sentences, in the order they came.
func troubles(r rehearse.Result) []trouble {
	var out []trouble
	for _, t := range r.Trips {
		out = append(out, trouble{hours(t.At), "Heat was cut for good: " + Because(t.ID) +
			". It stays off until a person has looked for the cause and cleared it.", t.At})
	}
	for _, c := range r.Cuts {
		out = append(out, trouble{hours(c.From), "Heat was cut " + lasting(c.From, c.Until) + ": " + Because(c.ID) + ".", c.From})
	}
	for _, a := range r.Alarms {
		out = append(out, trouble{hours(a.Raised), "Alarm " + lasting(a.Raised, a.Cleared) + ": " + alarm(a.ID) + ".", a.Raised})
	}
	slices.SortStableFunc(out, func(a, b trouble) int { return cmp.Compare(a.seconds, b.seconds) })
	return out
}

func lasting(from float64, until *float64) string {
	if until == nil {
		return "to the end"
	}
	return "for " + say.Length(time.Duration((*until-from)*float64(time.Second)))
}

// hours is h:mm:ss.
func hours(seconds float64) string {
	s := int(math.Round(seconds))
	return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
}

// minutes is m:ss.
func minutes(seconds float64) string {
	s := int(math.Round(seconds))
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// row is one step in the table.
type row struct {
	Index                                         int
	Title, Name, Target                           string
	Planned, Went, Counted, TooHot, Strays, Began string
}

const nothing = "–"

func rowOf(s rehearse.Step) row {
	r := row{
		Index: s.Index, Title: s.Kind, Planned: nothing, Went: nothing, Counted: nothing,
		TooHot: difference(s.Overshoot), Strays: difference(s.HoldWorst), Began: hours(s.Start),
	}
	if s.Kind == "stand" {
		r.Title = "hop stand"
	}
	if s.Name != "" {
		r.Name = ", " + s.Name
	}
	if s.PlannedHeat > 0 {
		r.Planned = minutes(s.PlannedHeat)
	}
	if s.Earned > 0 {
		r.Counted = minutes(s.Earned)
	}
	if s.Target == nil {
		return r
	}
	r.Target = fmt.Sprintf("%.1f °C", *s.Target)
	r.Went = "never"
	if s.Reached != nil {
		r.Went = minutes(*s.Reached)
	}
	return r
}

// difference is a temperature difference without its unit, which the column
// names.
func difference(k *float64) string {
	if k == nil || math.IsNaN(*k) {
		return nothing
	}
	return fmt.Sprintf("%.2f", *k)
}

// volume is one line of the table of volumes.
type volume struct{ Stage, Cold, Hot, At, Depth, Below string }

func volumes(p plan.Plan) []volume {
	var out []volume
	for _, v := range p.Volumes {
		w := volume{
			Stage: strings.TrimPrefix(v.Stage, "the "), Cold: fmt.Sprintf("%.1f", v.Cold), Hot: fmt.Sprintf("%.1f", v.Hot),
			At: fmt.Sprintf("%.0f", v.At), Depth: nothing, Below: nothing,
		}
		if v.Depth > 0 {
			w.Depth, w.Below = fmt.Sprintf("%.1f", float64(v.Depth)*100), fmt.Sprintf("%.1f", float64(v.BelowRim)*100)
		}
		out = append(out, w)
	}
	return out
}

// tied keeps a figure and its unit on one line.
func tied(s string) string {
	r := []rune(s)
	for i := 1; i+1 < len(r); i++ {
		if r[i] == ' ' && unicode.IsDigit(r[i-1]) && (unicode.IsLetter(r[i+1]) || r[i+1] == '°' || r[i+1] == '%') {
			r[i] = '\u00a0'
		}
	}
	return string(r)
}

// sentence begins with a capital.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// promises are what the profile expects and what became of it, a line each.
func promises(r rehearse.Result) []string {
	var all []string
	for _, e := range r.Expectations {
		word := "Kept: "
		if !e.Kept {
			word = "BROKEN: "
		}
		all = append(all, word+tied(e.String())+".")
	}
	return all
}
