package wort

import (
	"fmt"
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile/gravity"
)

// Note must stand with every figure.
const Note = "an estimate: points of gravity times litres stay the same, and what boils off is power above loss, or what two readings show"

// Expected is where the wort stands, and where it comes to.
type Expected struct {
	Note     string   `json:"note"`
	Place    string   `json:"place"`
	Water    float64  `json:"volume_litres"` // cold, now
	WaterBy  string   `json:"volume_from"`
	Gravity  float64  `json:"gravity"` // now; 1 before there is wort
	Plato    float64  `json:"plato"`
	ReadIn   string   `json:"gravity_read"` // where the gravity was read that all rests on; "": nowhere, it is the plan's
	Rate     float64  `json:"boil_off_litres_per_hour"`
	RateBy   string   `json:"boil_off_from"`
	Planned  float64  `json:"boil_off_planned_litres_per_hour"`
	Left     float64  `json:"boil_left_seconds"`
	Original Original `json:"original"`
	Target   float64  `json:"target_gravity"`
	Remedy   Remedy   `json:"remedy"`
	Readings []Read   `json:"readings"`
	Said     []string `json:"words"`
}

// Original is the wort at the end of the boil.
type Original struct {
	Litres  float64 `json:"litres"`
	Gravity float64 `json:"gravity"`
	Plato   float64 `json:"plato"`
}

// Remedy is what meets the target, to 0.0005. Of water and a shorter boil one is
// enough.
type Remedy struct {
	Boil   float64 `json:"boil_minutes"` // more of it; less than 0: less
	Water  float64 `json:"water_litres"` // cold, to add
	Litres float64 `json:"litres"`       // then
	Text   string  `json:"text"`
}

// Read is one gravity that was read.
type Read struct {
	At      float64 `json:"at_seconds"`
	Place   string  `json:"place"`
	Gravity float64 `json:"gravity"`
	Litres  float64 `json:"litres"`
}

// rate is what the boil takes, and how that is known.
func (f *Follower) rate() (unit.LitresPerSecond, Source) {
	rate, by := f.brew.Boil.Rate, ByPlan
	if f.boiled >= enoughBoil {
		rate, by = unit.LitresPerSecond(float64(f.inBoil)/f.boiled.Seconds()), ByBalance
	}
	if f.ratio > 0 {
		by = f.ratioBy
	}
	return rate * unit.LitresPerSecond(f.over()), by
}

// left is how much of the boil is still to come.
func (f *Follower) left() time.Duration {
	if !f.hasBoil || f.place == After {
		return 0
	}
	return max(0, f.length-f.earned)
}

// now is the wort in the kettle: in the mash, what would run off.
func (f *Follower) wort() (gravity.Wort, error) {
	switch {
	case f.lifted:
		if !(f.volume > 0) {
			break
		}
		return gravity.Wort{Volume: f.volume, Gravity: unit.SpecificGravity(1 + f.points/1000/float64(f.volume))}, nil
	case f.strength != Nowhere && f.volume > 0:
		kept := unit.Litres(float64(f.brew.Grain) * float64(f.brew.Retention))
		return gravity.Wort{Volume: f.volume - kept, Gravity: unit.SpecificGravity(1 + f.points/1000/float64(f.volume))}, nil
	}
	brew := f.brew
	brew.Water = f.volume
	course, err := brew.Course()
	return course.PreBoil, err
}

// Expect is where it comes to; nil where nothing is known of the wort.
func (f *Follower) Expect() *Expected {
	if f == nil || !f.known {
		return nil
	}
	now, err := f.wort()
	if err != nil || !(now.Volume > 0) {
		return nil
	}
	rate, by := f.rate()
	original, err := now.With(-unit.Litres(float64(rate) * f.left().Seconds()))
	if err != nil {
		return nil
	}
	e := &Expected{
		Note: Note, Place: f.place.String(), Water: rounded(f.volume, 3), WaterBy: f.volumeBy.String(), Gravity: 1,
		ReadIn: f.strength.String(), Rate: rounded(perHour(rate), 3), RateBy: by.String(), Planned: rounded(perHour(f.brew.Boil.Rate), 3),
		Left: f.left().Seconds(), Target: rounded(f.target, 5), Readings: []Read{},
		Original: Original{rounded(original.Volume, 3), rounded(original.Gravity, 5), rounded(gravity.PlatoOf(original.Gravity), 2)},
		Remedy:   f.remedy(original, rate),
	}
	if f.lifted || f.strength != Nowhere {
		e.Gravity, e.Plato = rounded(now.Gravity, 5), rounded(gravity.PlatoOf(now.Gravity), 2)
	}
	for _, r := range f.readings {
		e.Readings = append(e.Readings, Read{r.At.Seconds(), r.Place.String(), rounded(r.Gravity, 5), rounded(r.Volume, 3)})
	}
	e.Said = e.lines()
	return e
}

// remedy is what brings the wort at the end of the boil to the target. What would
// leave the element bare is none.
func (f *Follower) remedy(original gravity.Wort, rate unit.LitresPerSecond) Remedy {
	goal := unit.FormatSpecificGravity(unit.SpecificGravity(rounded(f.target, 3)))
	if !f.hasBoil {
		rate = 0
	}
	m, err := gravity.Meet(original, f.target, rate)
	if err != nil {
		return Remedy{Text: err.Error() + "."}
	}
	if least := f.c.CoveredAt + controller.LevelMargin; m.Boil > 0 && m.After.Volume < least {
		return Remedy{Text: fmt.Sprintf("For %s %.1f L more would have to go, which leaves %.1f L; heat ends at %.1f L. Accept what gravity it has.", goal, m.Gone, m.After.Volume, least)}
	}
	out := Remedy{Boil: m.Boil.Minutes(), Water: rounded(m.Water, 3), Litres: rounded(m.After.Volume, 3)}
	switch {
	case m.Boil > 0:
		out.Text = fmt.Sprintf("For %s boil %.0f min longer: %.1f L more go off, and %.1f L are left.", goal, m.Boil.Minutes(), m.Gone, m.After.Volume)
	case m.Water > 0:
		out.Text = fmt.Sprintf("For %s put in %.1f L of boiled water: that makes %.1f L", goal, m.Water, m.After.Volume)
		if less, ok := m.Shorter(rate, f.left()); ok {
			out.Boil = -less.Minutes()
			out.Text += fmt.Sprintf("; or boil %.0f min less", less.Minutes())
		}
		out.Text += "."
	default:
		out.Text = fmt.Sprintf("That is %s to within what a hydrometer shows: leave it as it is.", goal)
	}
	return out
}

// lines are it for a person, a sentence each.
func (e *Expected) lines() []string {
	var all []string
	add := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	if e.Gravity > 1 {
		add("Now %.1f L, counted cold (%s), at %.4f (%.1f °P%s).", e.Water, volumeWords[e.WaterBy], e.Gravity, e.Plato, readWords[e.ReadIn])
	}
	if e.Planned > 0 {
		add("The boil takes %.2f L/h (%s); planned are %.2f L/h.", e.Rate, rateWords[e.RateBy], e.Planned)
	}
	end := "At the end of the boil"
	switch {
	case e.Planned == 0:
		end = "In the end"
	case e.Place == After.String():
		end = "After the boil"
	}
	add("%s: %.1f L at %.4f (%.1f °P); planned are %.4f.", end, e.Original.Litres, e.Original.Gravity, e.Original.Plato, e.Target)
	return append(all, e.Remedy.Text)
}

// Lines are they; none where nothing is known.
func (e *Expected) Lines() []string {
	if e == nil {
		return nil
	}
	return e.Said
}

var (
	volumeWords = map[string]string{"plan": "as planned", "balance": "read, less what has boiled off", "gravities": "by two gravities", "volumes": "as read"}
	rateWords   = map[string]string{"plan": "as planned", "balance": "power above the declared loss", "gravities": "by two gravities", "volumes": "by the volumes read"}
	readWords   = map[string]string{"": ", as planned", "mash": ", read in the mash", "before-boil": ", read before the boil", "boil": ", read in the boil", "after-boil": ", read after the boil"}
)

// Boiled is what the boil took beside what it was to take.
type Boiled struct {
	Asked, Took unit.LitresPerSecond
	By          Source
	For         time.Duration
}

// Boiled is known once two readings lie at least ten minutes of boil apart.
func (f *Follower) Boiled() (Boiled, bool) {
	if f == nil || f.ratio == 0 || f.boiled < enoughBoil {
		return Boiled{}, false
	}
	rate, by := f.rate()
	return Boiled{Asked: f.brew.Boil.Rate, Took: rate, By: by, For: f.boiled}, true
}

// Compared is what was seen of other thermometers.
func (f *Follower) Compared() Compared {
	if f == nil {
		return Compared{}
	}
	return f.compared
}

func perHour(r unit.LitresPerSecond) float64 { return float64(r) * 3600 }

func rounded[T ~float64](x T, digits int) float64 {
	by := math.Pow(10, float64(digits))
	return math.Round(float64(x)*by) / by
}
