package plan

import (
	"fmt"
	"strings"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/gravity"
	"mashward/profile/heat"
)

// Wort is what becomes of extract and volume on the day. Known is false where
// nothing is lifted out, the day cannot be run, or the malt is not known.
type Wort struct {
	Known bool
	gravity.Course
	Boil gravity.Boil
	Hot  unit.Litres // the original wort as it stands in the kettle at the end of the boil
	// Longer is by how much ten minutes more of boil raise the original gravity,
	// Thinner by how much a litre of water lowers it.
	Longer  unit.SpecificGravity
	Thinner unit.SpecificGravity
}

// Dipstick is the ruler of the kettle. All zero: its diameter is not known.
type Dipstick struct {
	PerCentimetre unit.Litres
	Fill          unit.Metres // the water as it comes from the tap
	Strike        unit.Metres // the same water at the strike; 0: no strike
}

// brew is the day as far as extract goes, with the boil as it was planned.
func (d *day) brew() gravity.Brew {
	g := d.profile.Grain
	b := gravity.Brew{
		Water: d.profile.Water, Grain: g.Mass, Retention: d.kettle.Retention, Trub: d.profile.Trub,
		Malt: gravity.Malt{Moisture: g.Moisture, Extract: g.Extract, Conversion: g.Conversion},
	}
	gone := unit.Litres(0) // of all boils, though a file can have only one
	for _, boil := range d.plan.Boils {
		gone += boil.Before - boil.After
	}
	for _, s := range d.plan.Steps {
		if s.Kind == profile.Boil {
			b.Boil.For += s.Hold
		}
	}
	if b.Boil.For > 0 {
		b.Boil.Rate = unit.LitresPerSecond(float64(gone) / b.Boil.For.Seconds())
	}
	return b
}

// followExtract works out gravity and volume of a day that can be run to its
// end. A malt without figures gives none, and that is no problem of the day.
func (d *day) followExtract() {
	lifted := false
	for _, s := range d.plan.Steps {
		lifted = lifted || s.Kind == profile.Lift
	}
	if !lifted || d.plan.Finish == 0 || d.profile.Grain.Extract == 0 {
		return
	}
	b := d.brew()
	course, err := b.Course()
	if err != nil {
		return
	}
	w := Wort{Known: true, Course: course, Boil: b.Boil, Hot: course.Original.Volume}
	if b.Boil.For > 0 {
		w.Hot = heat.HotVolume(course.Original.Volume, d.plan.Boiling)
	}
	if more, err := course.Original.With(-unit.Litres(float64(b.Boil.Rate) * tenMinutes.Seconds())); err == nil && b.Boil.For > 0 {
		w.Longer = more.Gravity - course.Original.Gravity
	}
	if less, err := course.Original.With(1); err == nil {
		w.Thinner = course.Original.Gravity - less.Gravity
	}
	d.plan.Wort = w
}

const tenMinutes = 10 * time.Minute

// layDipstick takes the depths of the water out of the volumes.
func (d *day) layDipstick() {
	area := d.kettle.surface()
	if area <= 0 || len(d.plan.Volumes) == 0 {
		return
	}
	d.plan.Dipstick = Dipstick{PerCentimetre: unit.Litres(area * 10), Fill: d.plan.Volumes[0].Depth}
	if len(d.plan.Volumes) > 1 && d.plan.HasStrike {
		d.plan.Dipstick.Strike = d.plan.Volumes[1].Depth
	}
}

// sentence says how the water is measured with a stick.
func (s Dipstick) sentence() string {
	text := fmt.Sprintf("A centimetre of depth holds %.2f L. The fill stands %.1f cm deep as it comes from the tap", s.PerCentimetre, float64(s.Fill)*100)
	if s.Strike > 0 {
		text += fmt.Sprintf(", %.1f cm at strike temperature", float64(s.Strike)*100)
	}
	return text + "."
}

// writeWort shows every loss on the way to the fermenter.
func (p Plan) writeWort(b *strings.Builder) {
	w := p.Wort
	if !w.Known {
		return
	}
	section(b, "From the grain to the fermenter")
	for _, l := range w.losses(p) {
		b.WriteString(wrap(fmt.Sprintf("  %6s L  ", l.litres), l.what, 12, pageWidth))
	}
	paragraph(b, fmt.Sprintf("In a laboratory this grain would give %.2f kg of extract (%s of its dry matter). This mash dissolves %s of it, "+
		"and %s of what the laboratory finds comes into the fermenter.", float64(w.Possible), unit.FormatRatio(p.Grain.Extract), unit.FormatRatio(p.Grain.Conversion),
		percent(w.Efficiency())))
	if w.Boil.For > 0 {
		paragraph(b, fmt.Sprintf("At the end of the boil the %.1f L stand as %.1f L on the dipstick: they shrink as they cool. "+
			"Ten minutes more of boil raise the gravity by %.4f, a litre of water after it lowers it by %.4f.",
			w.Original.Volume, w.Hot, float64(w.Longer), float64(w.Thinner)))
	}
	paragraph(b, "Extract, conversion and what is left behind are the profile's figures, or usual ones where it names none: expect a few points "+
		"of difference, and measure.")
}

// loss is one line of the balance of litres.
type loss struct{ litres, what string }

func (w Wort) losses(p Plan) []loss {
	litres := func(v unit.Litres) string { return fmt.Sprintf("%.1f", v) }
	less := func(v unit.Litres) string { return fmt.Sprintf("-%.1f", v) }
	all := []loss{
		{litres(p.Water), "of cold water"},
		{less(w.Retained), fmt.Sprintf("kept by %s of grain, and %.2f kg of extract with it", unit.FormatKilograms(p.Grain.Mass), float64(w.Kept))},
		{litres(w.PreBoil.Volume), "of wort after the lift, " + strength(w.PreBoil.Gravity)},
	}
	if w.Boil.For > 0 {
		all = append(all, loss{less(w.Evaporated), fmt.Sprintf("boiled off in %s", spell(w.Boil.For))},
			loss{litres(w.Original.Volume), "after the boil, " + strength(w.Original.Gravity) + ": the original gravity"})
	}
	return append(all, loss{less(w.Left), fmt.Sprintf("left behind with hops and break, %s", percent(p.Trub))},
		loss{litres(w.Fermenter.Volume), "into the fermenter"})
}

// Losses is the way of the litres to the fermenter, a line each; none where it
// is not known.
func (p Plan) Losses() []string {
	var all []string
	if p.Wort.Known {
		for _, l := range p.Wort.losses(p) {
			all = append(all, fmt.Sprintf("%6s L  %s", l.litres, l.what))
		}
	}
	return all
}

// strength writes a gravity in both scales.
func strength(g unit.SpecificGravity) string {
	return fmt.Sprintf("%s (%s)", unit.FormatSpecificGravity(g), unit.FormatPlato(gravity.PlatoOf(g)))
}

func percent(r unit.Ratio) string { return fmt.Sprintf("%.0f %%", float64(r)*100) }

// wortJSON and dipstickJSON are null where nothing is known.
type wortJSON struct {
	Possible       float64  `json:"laboratory_extract_kilograms"`
	Dissolved      float64  `json:"dissolved_extract_kilograms"`
	Kept           float64  `json:"kept_extract_kilograms"`
	Retained       float64  `json:"retained_litres"`
	PreBoil        float64  `json:"pre_boil_litres"`
	PreBoilGravity float64  `json:"pre_boil_gravity"`
	Evaporated     float64  `json:"evaporated_litres"`
	Original       float64  `json:"original_litres"`
	Gravity        float64  `json:"original_gravity"`
	Plato          float64  `json:"original_plato"`
	Left           float64  `json:"left_behind_litres"`
	Fermenter      float64  `json:"fermenter_litres"`
	Efficiency     float64  `json:"efficiency_ratio"`
	Longer         *float64 `json:"gravity_rise_per_10_minutes"` // null: there is no boil
	Thinner        float64  `json:"gravity_fall_per_litre"`
}

type dipstickJSON struct {
	PerCentimetre float64  `json:"litres_per_centimetre"`
	Fill          float64  `json:"fill_metres"`
	Strike        *float64 `json:"strike_metres"` // null: no strike
}

func writtenWort(w Wort) *wortJSON {
	if !w.Known {
		return nil
	}
	out := &wortJSON{
		Possible: rounded(w.Possible, 3), Dissolved: rounded(w.Dissolved, 3), Kept: rounded(w.Kept, 3), Retained: rounded(w.Retained, 3),
		PreBoil: rounded(w.PreBoil.Volume, 3), PreBoilGravity: rounded(w.PreBoil.Gravity, 5), Evaporated: rounded(w.Evaporated, 3),
		Original: rounded(w.Original.Volume, 3), Gravity: rounded(w.Original.Gravity, 5), Plato: rounded(gravity.PlatoOf(w.Original.Gravity), 2),
		Left: rounded(w.Left, 3), Fermenter: rounded(w.Fermenter.Volume, 3), Efficiency: rounded(w.Efficiency(), 4), Thinner: rounded(w.Thinner, 5),
	}
	if w.Boil.For > 0 {
		longer := rounded(w.Longer, 5)
		out.Longer = &longer
	}
	return out
}

func writtenDipstick(s Dipstick) *dipstickJSON {
	if s.PerCentimetre == 0 {
		return nil
	}
	out := &dipstickJSON{PerCentimetre: rounded(s.PerCentimetre, 4), Fill: rounded(s.Fill, 4)}
	if s.Strike > 0 {
		strike := rounded(s.Strike, 4)
		out.Strike = &strike
	}
	return out
}
