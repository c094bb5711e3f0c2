package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/picture"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile/enzyme"
)

// after is an account in words.
type after struct {
	Steps       []length
	NoPlan      string
	Energy      string
	Windows     []window
	Enzymes     []made
	EnzymeWords []string
	Told        []trouble
	Taught      []string
	Hash        string
}

// length is how long a step took, and what went in.
type length struct{ Title, Planned, Went, Waited, PlannedEnergy, Energy string }

// window is the time in one window of temperatures.
type window struct{ Title, Minutes string }

// made is what one rest made of the malt.
type made struct{ Title, Beta, Alpha, Sugar, Dextrin string }

func afterOf(a *account.Account) *after {
	if a == nil {
		return nil
	}
	out := &after{Energy: tied(energy(a)), Hash: a.Hash}
	if !a.Day.HasPlan {
		out.NoPlan = "The plan is not known: profile and rig do not stand in the record, or this program would plan that day otherwise."
	}
	for i := range a.Steps {
		out.Steps = append(out.Steps, lengthOf(&a.Steps[i]))
	}
	for _, w := range a.Windows {
		out.Windows = append(out.Windows, window{tied(fmt.Sprintf("%.0f to %.0f °C", w.Low, w.High)), minutes(w.Seconds)})
	}
	out.enzymes(a)
	for _, s := range a.Told {
		out.Told = append(out.Told, trouble{At: hours(s.At), Text: tied(s.Text)})
	}
	for _, l := range a.Lines {
		if l.Kind == "note" && !ofTheBoard(l.Text) {
			out.Told = append(out.Told, trouble{At: hours(l.At), Text: "Noted: " + l.Text, seconds: l.At})
		}
	}
	out.Taught = taught(a)
	return out
}

// ofTheBoard tells notes that a program writes for itself: which start of the computer
// it was, and what its clock said.
func ofTheBoard(note string) bool {
	return strings.HasPrefix(note, "computer started as ") || strings.HasPrefix(note, "by its clock it was then ")
}

func lengthOf(s *account.Step) length {
	l := length{fmt.Sprintf("%d %s", s.Index, s.Title()), nothing, nothing, nothing, nothing, kilowattHours(s.Energy)}
	if s.Planned != nil {
		l.Planned = minutes(*s.Planned)
	}
	if s.End != nil {
		l.Went = minutes(*s.End - s.Start)
	}
	if s.Waited > 0 {
		l.Waited = minutes(s.Waited)
	}
	if s.PlannedEnergy != nil {
		l.PlannedEnergy = kilowattHours(*s.PlannedEnergy)
	}
	return l
}

func kilowattHours(joules float64) string {
	return fmt.Sprintf("%.2f", unit.Joules(joules).KilowattHours())
}

// energy is what went in and what it cost, in sentences.
func energy(a *account.Account) string {
	e := a.Energy
	text := fmt.Sprintf("The element put in %s kWh", kilowattHours(e.Joules))
	if e.Planned != nil {
		text += fmt.Sprintf(", %s kWh were planned", kilowattHours(*e.Planned))
	}
	text += fmt.Sprintf("; it was switched on %s.", say.Times(a.Switches))
	if e.Cost == nil {
		return text + " What it cost is not known: the rig names no tariff."
	}
	return text + fmt.Sprintf(" At %g %s a kWh that is %.2f %s.", e.Cost.Tariff, e.Cost.Currency, e.Cost.Amount, e.Cost.Currency)
}

// enzymes puts down what each rest made, and what it lost by being too hot.
func (out *after) enzymes(a *account.Account) {
	if a.Day.Mash == nil {
		return
	}
	title := func(step int) string {
		for i := len(a.Steps) - 1; i >= 0; i-- {
			if a.Steps[i].Index == step {
				return fmt.Sprintf("%d %s", step, a.Steps[i].Title())
			}
		}
		return fmt.Sprintf("step %d", step)
	}
	for _, r := range a.Day.Mash.Rests() {
		out.Enzymes = append(out.Enzymes, made{title(r.Step), share(r.BetaLeft), share(r.AlphaLeft), share(r.Added.Sugar), share(r.Added.Dextrin)})
		if r.Cost != nil {
			out.EnzymeWords = append(out.EnzymeWords, tied(fmt.Sprintf("Step %s was up to %.1f °C too hot. That cost %s of the beta-amylase and %s of the sugar.",
				title(r.Step), r.Cost.Above, r.Cost.Beta, r.Cost.Sugar)))
		}
	}
	if len(out.Enzymes) == 0 {
		return
	}
	all := a.Day.Mash.Sentences(title)
	for _, s := range all[len(out.Enzymes):] {
		out.EnzymeWords = append(out.EnzymeWords, tied(s))
	}
}

// share is a band without its unit, which the caption names.
func share(b enzyme.Band) string {
	return strings.ReplaceAll(b.String(), " %", "")
}

// taught is what the batch showed about the kettle beside what is suggested.
func taught(a *account.Account) []string {
	var out []string
	if r := a.Taught.Rise; r != nil {
		text := fmt.Sprintf("The strike water warmed %.2f times as fast as declared.", *r)
		if math.Abs(*r-1) < 0.005 {
			text = "The strike water warmed as declared."
		}
		out = append(out, text)
	}
	if a.Taught.Taken > 0 {
		out = append(out, "How this mash takes its heat was learned in its first heat-up, and the rests were held by that.")
	} else if a.Taught.Left > 0 {
		out = append(out, "How this mash takes its heat could not be learned: what its first heat-up showed did not fit.")
	}
	x := a.Across
	if x.Strike != nil {
		out = append(out, tied(fmt.Sprintf("The strike water warmed by %.2f °C a minute.", *x.Strike)))
	}
	if x.HeatUp != nil {
		out = append(out, tied(fmt.Sprintf("The mash warmed by %.2f °C a minute in its heat-ups.", *x.HeatUp)))
	}
	if x.BoilOff != nil {
		out = append(out, tied(fmt.Sprintf("By its heat the boil took %.1f %% of the wort an hour: an estimate, power above the loss.", *x.BoilOff*100)))
	}
	return out
}

// madeFrom are what the record says it was made with.
func madeFrom(a *account.Account) []string {
	var out []string
	if a.Began != "" {
		out = append(out, "Armed at "+a.Began)
	}
	out = append(out, "Program: "+a.Program)
	if a.Day.Rig != "" {
		out = append(out, "Name of the rig: "+a.Day.Rig)
	}
	k := a.Kettle
	out = append(out, tied(fmt.Sprintf("Kettle as counted with: %.0f W, %.1f W for each °C above a room of %.0f °C, %s relay, probe at the %s",
		k.Power, k.Loss, k.Room, k.Relay, k.Probe)))
	if t := k.Tuning; t != nil {
		out = append(out, tied(fmt.Sprintf("Tuned by a water test: %.0f W, %.2f W for each °C, lags of %.1f s and %.1f s, delay of %.0f s", t.Power, t.Loss, t.Element, t.Probe, t.Delay)))
	} else {
		out = append(out, "Not tuned by a water test")
	}
	if a.Lost > 0 {
		out = append(out, fmt.Sprintf("%d s could not be stored and are missing", a.Lost))
	}
	if a.Torn > 0 {
		out = append(out, fmt.Sprintf("The last %d bytes were not written whole and are left out", a.Torn))
	}
	if a.Damage != nil {
		out = append(out, sentence(*a.Damage))
	}
	return out
}

// FromRecord makes the report of a record. A tariff, if one is given, counts before
// the rig's. The error is the record's.
func FromRecord(storage record.Storage, tariff config.Tariff) (Report, error) {
	a, err := account.Read(storage)
	if err != nil {
		return Report{}, err
	}
	if tariff.Currency != "" {
		a.Price(tariff)
	}
	diary := Diary{Words: say.Day{Profile: a.Day.Profile, Config: a.Day.Head.Config}}
	r, err := record.Read(storage)
	if err == nil {
		err = account.Show(r, &diary)
	}
	if err != nil {
		return Report{}, err
	}
	out := Report{Plan: a.Day.Plan, Day: diary.Day(a.Day.Plan), Result: resultOf(&a), Account: &a, Recorded: true}
	out.Day.Name = a.Profile
	fromGrain(out.Result.Steps, out.Day.Went)
	return out, nil
}

// fromGrain has a mash-in begin when the grain is in, as a rehearsal does.
func fromGrain(steps []rehearse.Step, went []picture.Leg) {
	for i := range min(len(steps), len(went)) {
		s := &steps[i]
		later := went[i].Start.Seconds() - s.Start
		if went[i].Index != s.Index || later <= 0 {
			continue
		}
		s.Start += later
		if s.Reached != nil {
			reached := max(0, *s.Reached-later)
			s.Reached = &reached
		}
	}
}

// resultOf is an account in the form of a rehearsal's result.
func resultOf(a *account.Account) rehearse.Result {
	r := rehearse.Result{
		Outcome: a.Outcome, Reason: a.Reason, Simulated: a.Simulated, Duration: a.Duration, Energy: a.Energy.Joules, Switches: a.Switches,
		Trips: a.Trips, Cuts: a.Cuts, Alarms: a.Alarms,
	}
	for _, s := range a.Steps {
		step := rehearse.Step{
			Index: s.Index, Kind: s.Kind, Name: s.Name, Target: s.Target, Start: s.Start, End: a.Duration, Reached: s.Reached, Earned: s.Earned,
			Overshoot: s.Overshoot, HoldRMS: s.HoldRMS, HoldWorst: s.HoldWorst,
		}
		if s.End != nil {
			step.End = *s.End
		}
		if s.PlannedHeat != nil {
			step.PlannedHeat = *s.PlannedHeat
		}
		r.Steps = append(r.Steps, step)
	}
	return r
}

// asPlanned compares how long it took with the plan; "" where there is none.
func asPlanned(took, planned time.Duration) string {
	if planned <= 0 {
		return ""
	}
	return ", " + lateness(took-planned)
}
