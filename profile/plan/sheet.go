package plan

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/gravity"
	"mashward/profile/heat"
)

// The paper that a sheet is printed on: 66 lines of 80 characters, which is
// what a page of plain text has been since line printers, and fits A4 and
// Letter at ten characters to the inch.
const (
	paperLines = 66
	paperWidth = 80
)

// Heading is what a sheet is for.
type Heading struct {
	Rig      string
	Start    time.Duration // of the arming, since midnight
	HasStart bool          // else times count from arming
}

// Sheet writes the brew sheet: the day on a page of plain text, to print before
// the brew and to lie beside the kettle, also when everything electronic is
// dead. It is plain text because a printer, a telephone and a terminal can all
// show it without another program, and because its length can be held to a
// page. A day with more than a page can take goes on behind a form feed. The
// error is the writer's.
func Sheet(w io.Writer, p Plan, h Heading) error {
	s := sheet{p, h}
	_, err := io.WriteString(w, s.paged([][]string{s.measure(), s.day(), s.needed(), s.readings(), s.byHand(), s.cautions()}))
	return err
}

type sheet struct {
	Plan
	Heading
}

// paged lays sections out on as few pages as they need, broken between
// sections, or between lines where one is longer than a page.
func (s sheet) paged(sections [][]string) string {
	var pages [][]string
	page := s.head(1)
	for _, section := range sections {
		if len(section) == 0 {
			continue
		}
		if len(page)+1+len(section) > paperLines && len(page) > headLines {
			pages, page = append(pages, page), s.head(len(pages)+2)
		}
		for _, line := range append([]string{""}, section...) {
			if len(page) == paperLines {
				pages, page = append(pages, page), s.head(len(pages)+2)
			}
			page = append(page, line)
		}
	}
	var b strings.Builder
	for i, page := range append(pages, page) {
		if i > 0 {
			b.WriteByte('\f')
		}
		b.WriteString(strings.Join(page, "\n") + "\n")
	}
	return b.String()
}

// headLines is how many lines the head of a page has.
const headLines = 2

func (s sheet) head(page int) []string {
	name, right := cut(s.Profile, 44), cut("Brew sheet, "+s.Rig, 34)
	second := "Date ____________    Armed at ____:____    Kettle and hoses seen ______"
	if page > 1 {
		second = fmt.Sprintf("Page %d", page)
	}
	return []string{fmt.Sprintf("%s%*s", name, paperWidth-utf8.RuneCountInString(name), right), second}
}

// cut shortens a text to so many characters.
func cut(text string, most int) string {
	if runes := []rune(text); len(runes) > most {
		return string(runes[:most-3]) + "..."
	}
	return text
}

// when writes an instant as the time of day, or from arming.
func (s sheet) when(at time.Duration) string {
	if !s.HasStart {
		return clock(at)
	}
	minutes := int((s.Start+at).Round(time.Minute)/time.Minute) % (24 * 60)
	return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60)
}

// lines breaks a text to the width of the paper, behind a mark.
func lines(mark, text string) []string {
	return strings.Split(strings.TrimSuffix(wrap("  "+mark, text, 2+utf8.RuneCountInString(mark), paperWidth), "\n"), "\n")
}

const box = "[ ] "

// measure is what is weighed and filled.
func (s sheet) measure() []string {
	out := []string{"MEASURE OUT"}
	fill := fmt.Sprintf("%.1f L of cold water.", s.Water)
	if s.Dipstick.PerCentimetre > 0 {
		fill = fmt.Sprintf("%.1f L of cold water: %.1f cm deep. A centimetre holds %.2f L.", s.Water, float64(s.Dipstick.Fill)*100, s.Dipstick.PerCentimetre)
	}
	out = append(out, lines(box, fill)...)
	if s.HasStrike && s.Grain.Mass == 0 {
		out = append(out, lines("", fmt.Sprintf("No grain: a water brew. The water is heated to %.1f °C.", s.Strike.Temperature))...)
	} else if s.HasStrike {
		out = append(out, lines(box, fmt.Sprintf("%s of grain. The plan takes it at %.0f °C; it has ______ °C.", unit.FormatKilograms(s.Grain.Mass), s.Grain.Temperature))...)
		strike := fmt.Sprintf("Strike water: %.1f °C", s.Strike.Temperature)
		if s.Dipstick.Strike > 0 {
			strike += fmt.Sprintf(", %.1f cm deep", float64(s.Dipstick.Strike)*100)
		}
		out = append(out, lines("", fmt.Sprintf("%s; for grain 5 °C colder, %.1f °C more.", strike, s.colderGrain(5)))...)
	}
	row := ""
	for _, step := range s.Steps {
		for _, a := range step.Additions {
			item := box + a.Add
			if row != "" && utf8.RuneCountInString(row)+4+utf8.RuneCountInString(item) <= paperWidth-2 {
				row += "    " + item
				continue
			}
			if row != "" {
				out = append(out, "  "+row)
			}
			row = item
		}
	}
	if row != "" {
		out = append(out, "  "+row)
	}
	return out
}

// colderGrain is by how much the strike rises for grain that is colder.
func (s sheet) colderGrain(by unit.Kelvin) unit.Kelvin {
	t := s.Strike
	return unit.Kelvin(float64(t.GrainCapacity) * float64(by) / (float64(t.WaterCapacity) + float64(t.VesselCapacity)))
}

// day is the table of steps.
func (s sheet) day() []string {
	from := "hours and minutes from arming"
	if s.HasStart {
		from = "by the clock"
	}
	out := []string{
		"THE DAY, " + from,
		"  step  begins   there    ends  what                      at         for  read",
	}
	for _, step := range s.Steps {
		at, long, read := "", "", "______"
		if step.HasTarget {
			at = fmt.Sprintf("%.1f °C", step.Ends)
		}
		if step.Hold > 0 {
			long = spell(step.Hold)
		}
		if step.Kind == profile.Lift {
			read = ""
		}
		what := sentence(step.title())
		if step.Kind == profile.Strike {
			what = "Strike water"
		}
		out = append(out, strings.TrimRight(fmt.Sprintf("  %4d  %6s  %6s  %6s  %s%9s%12s  %s", step.Index, s.when(step.Start), s.when(step.Reached),
			s.when(step.End), padded(cut(what, 18), 19), at, long, read), " "))
	}
	if s.HasStart && s.Start+s.Finish >= 24*time.Hour {
		out = append(out, "  The day ends after midnight.")
	}
	return out
}

func padded(text string, width int) string {
	return text + strings.Repeat(" ", max(0, width-utf8.RuneCountInString(text)))
}

// needed is when somebody must be there, the first sentence of what he does.
func (s sheet) needed() []string {
	out := []string{"YOU ARE NEEDED"}
	for _, who := range s.Persons {
		what := who.What
		if first, _, more := strings.Cut(what, ". "); more && !who.addition {
			what = first + "."
		}
		out = append(out, lines(fmt.Sprintf("%5s  %s", s.when(who.At), box), what)...)
	}
	return out
}

// readings are blanks beside what is expected.
func (s sheet) readings() []string {
	w := s.Wort
	if !w.Known {
		return []string{"READ AND WRITE DOWN", "  Temperature by a second thermometer  ______ °C at ____:____"}
	}
	row := func(what, expected, blank string) string {
		return padded(what, 21) + padded(expected, 24) + blank
	}
	both := "____ cm at ___ °C; ______ at ___ °C"
	if s.Dipstick.PerCentimetre == 0 {
		both = "____ L at ___ °C; ______ at ___ °C"
	}
	out := []string{row("READ AND WRITE DOWN", "expected", "read; gravity in a sample of 20 °C"), row("  Mash", "", "pH of a cool sample ______")}
	out = append(out, row("  After the lift", s.depth("the wort after the lift", w.PreBoil), both))
	if w.Boil.For > 0 {
		out = append(out, row("  After the boil", s.depth("the end of the boil", w.Original), both))
	}
	return append(out, row("  Into the fermenter", fmt.Sprintf("%.1f L", w.Fermenter.Volume), "____ L  at ____ °C"))
}

// depth is a wort as dipstick and hydrometer show it at a stage; without a
// dipstick its cold litres.
func (s sheet) depth(name string, w gravity.Wort) string {
	for _, v := range s.Volumes {
		if v.Stage == name && v.Depth > 0 {
			return fmt.Sprintf("%.1f cm at %.0f °C; %s", float64(v.Depth)*100, v.At, unit.FormatSpecificGravity(w.Gravity))
		}
	}
	return fmt.Sprintf("%.1f L, cold; %s", w.Volume, unit.FormatSpecificGravity(w.Gravity))
}

// fallsBy is how far the covered mash falls in an hour without heat, from its
// hottest rest.
func (s sheet) fallsBy() unit.Kelvin {
	hottest := unit.Celsius(0)
	for _, step := range s.Steps {
		if step.Kind <= profile.MashOut {
			hottest = max(hottest, step.Target)
		}
	}
	c := heat.Mash{Water: s.Water, Grain: s.Grain.Mass, Moisture: s.Grain.Moisture, Vessel: s.Kettle.Vessel}.Capacity()
	fallen := heat.After(c, s.Kettle.Loss, 0, s.Kettle.Room, hottest, time.Hour)
	return unit.Kelvin(math.Max(0, float64(hottest-fallen)))
}
