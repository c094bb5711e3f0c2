package plan

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"mashward/profile"
)

const (
	pageWidth = 78
	margin    = 2
	clockRoom = 8 // where a timeline's sentences begin
)

// Text writes the plan for people: sentences and a timeline, at most 80
// columns wide. Differences of temperature are in °C, energy in kWh. The error
// is the writer's.
func Text(w io.Writer, p Plan) error {
	var b strings.Builder
	name := p.Profile
	if name == "" {
		name = "A brew day without a name"
	}
	b.WriteString(wrap("", name, 0, pageWidth))
	b.WriteByte('\n')
	b.WriteString(wrap("", p.summary(), 0, pageWidth))
	p.writeProblems(&b)
	p.writeStrike(&b)
	p.writeTimeline(&b)
	p.writeEnzymes(&b)
	p.writeVolumes(&b)
	p.writeWort(&b)
	p.writePower(&b)
	section(&b, "Mind")
	for _, c := range p.Cautions {
		paragraph(&b, c)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func section(b *strings.Builder, title string) { b.WriteString("\n" + title + "\n") }

func paragraph(b *strings.Builder, text string) {
	b.WriteString(wrap(strings.Repeat(" ", margin), text, margin, pageWidth))
}

// summary is the day in a breath.
func (p Plan) summary() string {
	if Refused(p.Problems) {
		return "This day cannot be run as it stands: read on."
	}
	text := fmt.Sprintf("Done %s after arming, with %.1f kWh.", spell(p.Finish), p.Energy.KilowattHours())
	if p.Use == profile.WaterBrew {
		text += fmt.Sprintf(" A water brew: %.1f L of water and no grain, to try kettle, hands and prompts.", p.Water)
	} else if p.HasStrike {
		text += fmt.Sprintf(" %.1f L of water, %s of grain (%.1f L/kg); strike water at %.1f °C, hot at %s.",
			p.Water, kilograms(p.Grain.Mass), float64(p.Water)/float64(p.Grain.Mass), p.Strike.Temperature, clock(p.Steps[0].End))
	} else {
		text += fmt.Sprintf(" %.1f L of water, no grain.", p.Water)
	}
	return text + " Your own hands take no time in this plan: each minute a prompt waits for you is a minute later."
}

func (p Plan) writeProblems(b *strings.Builder) {
	for _, refused := range []bool{true, false} {
		title := "Worth knowing before you begin"
		if refused {
			title = "Refused"
		}
		for i, problem := range onlyRefused(p.Problems, refused) {
			if i == 0 {
				section(b, title)
			}
			what := sentence(problem.What)
			if problem.Line > 0 {
				what = fmt.Sprintf("Line %d: %s", problem.Line, problem.What)
			}
			paragraph(b, what+". "+sentence(problem.Remedy)+".")
		}
	}
}

func onlyRefused(problems []Problem, refused bool) []Problem {
	var some []Problem
	for _, p := range problems {
		if p.Refused == refused {
			some = append(some, p)
		}
	}
	return some
}

// sentence begins with a capital.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// writeStrike shows what the strike temperature is made of.
func (p Plan) writeStrike(b *strings.Builder) {
	if !p.HasStrike {
		return
	}
	s := p.Strike
	section(b, fmt.Sprintf("Strike water: %.1f °C", s.Temperature))
	term(b, float64(s.Target), "the mash you want", false)
	if p.Grain.Mass > 0 {
		term(b, float64(s.Grain), fmt.Sprintf("to warm %s of grain from %.1f °C", kilograms(p.Grain.Mass), p.Grain.Temperature), true)
	}
	if math.Abs(float64(s.Vessel)) >= 0.05 {
		term(b, float64(s.Vessel), "given by the kettle, which is as warm as its water", true)
	}
	if s.Slaking != 0 {
		term(b, float64(s.Slaking), "set free as the malt takes up water", true)
	}
	if s.Stirring != 0 {
		term(b, float64(s.Stirring), "for what is lost while stirring", true)
	}
	paragraph(b, "Trust it to about a degree; too hot, a jug of cold water helps, too cold, the element does.")
}

func term(b *strings.Builder, value float64, what string, signed bool) {
	format := "  %6.1f °C  %s\n"
	if signed {
		format = "  %+6.1f °C  %s\n"
	}
	fmt.Fprintf(b, format, value, what)
}

// moment is one line of the timeline.
type moment struct {
	at   time.Duration
	text string
}

func (p Plan) writeTimeline(b *strings.Builder) {
	// At equal instants a person comes first, since the kettle waits for him;
	// additions come after what they are added to.
	var day, additions []moment
	for _, who := range p.Persons {
		m := moment{who.At, "You: " + who.What}
		if who.addition {
			additions = append(additions, m)
			continue
		}
		day = append(day, m)
	}
	for _, s := range p.Steps {
		day = append(day, p.moments(s)...)
	}
	day = append(day, additions...)
	if len(day) == 0 {
		return
	}
	slices.SortStableFunc(day, func(a, b moment) int { return cmp.Compare(a.at, b.at) })
	section(b, "The day, hours and minutes from arming")
	last := ""
	for _, m := range day {
		when := clock(m.at)
		first := fmt.Sprintf("%6s  ", when)
		if when == last {
			first = strings.Repeat(" ", clockRoom)
		}
		last = when
		b.WriteString(wrap(first, m.text, clockRoom, pageWidth))
	}
}

// moments says what the kettle does in a step.
func (p Plan) moments(s Step) []moment {
	switch s.Kind {
	case profile.Strike:
		return []moment{{s.Start, fmt.Sprintf("Heats the water from %.1f to %.1f °C in %s.", s.From, s.Target, spell(s.Heat()))}}
	case profile.MashIn:
		text := fmt.Sprintf("%s at %.1f °C for %s.", sentence(s.title()), s.Target, spell(s.Hold))
		if p.Kettle.Pump {
			text += " The bed settles for 5 min of it, then the pump starts."
		}
		return []moment{{s.Start, text}}
	case profile.Lift:
		return []moment{{s.Start, "The grain comes out; heat and pump are off while it moves. Hanging and draining take the time they take."}}
	case profile.Boil:
		return p.boilMoments(s)
	case profile.Chill:
		return []moment{{s.Start, fmt.Sprintf("Chills from %.1f to %.1f °C, with a common small chiller in about %s.", s.From, s.Ends, spell(s.Heat()))}}
	default:
		return restMoments(s)
	}
}

func restMoments(s Step) []moment {
	var out []moment
	switch {
	case s.Heat() > 0 && s.Target > s.From:
		out = append(out, moment{s.Start, fmt.Sprintf("Heats to %.1f °C in %s, %.1f °C a minute.", s.Target, spell(s.Heat()), perMinute(s.Rate))})
	case s.Heat() > 0:
		out = append(out, moment{s.Start, fmt.Sprintf("Heat off: falls to %.1f °C in about %s.", s.Target, spell(s.Heat()))})
	}
	return append(out, moment{s.Reached, fmt.Sprintf("%s at %.1f °C for %s.", sentence(s.title()), s.Target, spell(s.Hold))})
}

func (p Plan) boilMoments(s Step) []moment {
	var out []moment
	if climb := s.Heat() - s.Gentle; climb > 0 {
		out = append(out, moment{s.Start, fmt.Sprintf("Full power to %.0f °C, %s.", p.Boiling.Plus(-breakBelow), spell(climb))})
	}
	b, _ := p.boilOf(s)
	if s.Gentle > 0 {
		text := "Gently through the hot break, %s."
		if b.FullPower {
			text = "Through the hot break at full power, %s."
		}
		out = append(out, moment{s.Reached - s.Gentle, fmt.Sprintf(text, spell(s.Gentle))})
	}
	return append(out, moment{s.Reached, fmt.Sprintf("%s at %.1f °C for %s, at %.0f %% of full power.", sentence(s.title()), s.Target, spell(s.Hold), float64(s.Duty)*100)})
}

// boilOf finds the figures that belong to a boil step.
func (p Plan) boilOf(s Step) (Boil, bool) {
	i := 0
	for _, other := range p.Steps {
		if other.Index == s.Index && i < len(p.Boils) {
			return p.Boils[i], true
		}
		if other.Kind == profile.Boil {
			i++
		}
	}
	return Boil{}, false
}

func (p Plan) writeVolumes(b *strings.Builder) {
	if len(p.Volumes) == 0 {
		return
	}
	section(b, "In the kettle")
	for _, v := range p.Volumes {
		text := fmt.Sprintf("%s: %.1f L", sentence(strings.TrimPrefix(v.Stage, "the ")), v.Cold)
		if math.Abs(float64(v.Hot-v.Cold)) >= 0.05 {
			text += fmt.Sprintf(", %.1f L on the dipstick at %.0f °C", v.Hot, v.At)
		}
		if v.Depth > 0 {
			text += fmt.Sprintf("; %.1f cm deep, %.1f cm below the rim", float64(v.Depth)*100, float64(v.BelowRim)*100)
		}
		b.WriteString(wrap("  ", text+".", margin+2, pageWidth))
	}
	if p.Dipstick.PerCentimetre > 0 {
		paragraph(b, p.Dipstick.sentence())
	}
	for _, boil := range p.Boils {
		why := "as the profile asks"
		if !boil.Chosen {
			why = "the default vigour, since the profile names none"
		}
		paragraph(b, fmt.Sprintf("The boil takes %.1f L an hour, %.0f %% of what was there before it, %s.", perHour(boil.Rate), float64(boil.Share)*100, why))
	}
	text := "Litres are cold, at 20 °C, where nothing else is said."
	if p.Grain.Mass > 0 {
		text += fmt.Sprintf(" The grain keeps %.2f L/kg, counted as water in minus wort out.", float64(p.Kettle.Retention))
	}
	paragraph(b, text)
}

func (p Plan) writePower(b *strings.Builder) {
	section(b, "Power")
	text := fmt.Sprintf("%.1f kW", kilowatts(p.Kettle.Power))
	switch s := p.Supply; {
	case s.Current == 0:
		text += "; the rig names no supply, so the fuse was not checked"
	case s.Fuse == 0:
		text += fmt.Sprintf(" draw %.1f A; the rig names no fuse, so that was not checked", s.Current)
	default:
		text += fmt.Sprintf(" draw %.1f A of the %.0f A the fuse allows", s.Current, s.Fuse)
	}
	paragraph(b, text+fmt.Sprintf(". Water boils at %.1f °C here (%.0f m).", p.Boiling, float64(p.Kettle.Altitude)))
}
