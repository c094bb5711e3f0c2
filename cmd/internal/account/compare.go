package account

import (
	"math"
	"time"

	"mashward/cmd/internal/say"
	"mashward/controller/unit"
)

// Comparison is two batches side by side. A difference is B less A, and null where
// one of them does not tell.
type Comparison struct {
	A       Side         `json:"a"`
	B       Side         `json:"b"`
	Changed []Change     `json:"changed"`
	Figures []Figure     `json:"figures"` // of the whole day, and across kettles
	Windows []WindowPair `json:"windows"`
	Steps   []StepPair   `json:"steps"`
}

// Side is which batch stands on one side.
type Side struct {
	Began     string  `json:"began"`
	Profile   string  `json:"profile"`
	Simulated bool    `json:"simulated"`
	Outcome   string  `json:"outcome"`
	Duration  float64 `json:"duration_seconds"`
}

// Change is one thing in which the two differ before the first second: "" where one
// has no such thing.
type Change struct {
	Subject string `json:"subject"` // profile, kettle, tuning, program, surroundings, person, heat
	What    string `json:"what"`
	A       string `json:"a"`
	B       string `json:"b"`
}

// Figure is one figure of both.
type Figure struct {
	Name       string   `json:"name"` // as in the account, with its unit
	A          *float64 `json:"a"`
	B          *float64 `json:"b"`
	Difference *float64 `json:"difference"`

	words  string // for people
	factor float64
	places int
	clock  bool
	warm   warmth
}

// warmth is what a figure in °C is.
type warmth uint8

const (
	noWarmth warmth = iota
	aGap            // a difference, or a rate
	aLevel          // a temperature
)

// WindowPair is one window of temperatures of both mashes.
type WindowPair struct {
	Low        float64  `json:"low_celsius"`
	High       float64  `json:"high_celsius"`
	A          *float64 `json:"a_seconds"`
	B          *float64 `json:"b_seconds"`
	Difference *float64 `json:"difference_seconds"`
}

// StepPair is one step of both; null where one has no such step.
type StepPair struct {
	Title   string   `json:"title"`
	A       *Step    `json:"a"`
	B       *Step    `json:"b"`
	Figures []Figure `json:"figures"`
}

// Compare puts two batches side by side.
func Compare(a, b *Account) Comparison {
	c := Comparison{A: sideOf(a), B: sideOf(b), Changed: changes(a, b), Figures: whole(a, b), Windows: []WindowPair{}, Steps: []StepPair{}}
	c.Windows = windowPairs(a.Windows, b.Windows)
	for _, p := range align(a.Steps, b.Steps) {
		c.Steps = append(c.Steps, pairOf(p[0], p[1]))
	}
	return c
}

func sideOf(a *Account) Side {
	return Side{a.Began, a.Profile, a.Simulated, a.Outcome, a.Duration}
}

func windowPairs(a, b []Window) []WindowPair {
	out := []WindowPair{}
	for i, w := range bounds {
		p := WindowPair{Low: w[0], High: w[1]}
		if i < len(a) {
			p.A = &a[i].Seconds
		}
		if i < len(b) {
			p.B = &b[i].Seconds
		}
		if p.A == nil && p.B == nil {
			continue
		}
		p.Difference = less(p.B, p.A)
		out = append(out, p)
	}
	return out
}

// less is b - a, where both are known.
func less(b, a *float64) *float64 {
	if a == nil || b == nil {
		return nil
	}
	return figure(*b - *a)
}

// align pairs the steps of two batches in their order: steps of one kind, and those
// whose targets are near rather than far. What has no partner stands alone. It is the
// alignment with the most pairs, and among those with the nearest targets.
func align(a, b []Step) [][2]*Step {
	best := make([][]float64, len(a)+1) // of a[i:] and b[j:]
	for i := range best {
		best[i] = make([]float64, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			best[i][j] = max(best[i+1][j], best[i][j+1], best[i+1][j+1]+likeness(&a[i], &b[j]))
		}
	}
	var out [][2]*Step
	i, j := 0, 0
	for i < len(a) || j < len(b) {
		switch {
		case i < len(a) && j < len(b) && likeness(&a[i], &b[j]) > 0 && best[i][j] == best[i+1][j+1]+likeness(&a[i], &b[j]):
			out = append(out, [2]*Step{&a[i], &b[j]})
			i, j = i+1, j+1
		case i < len(a) && (j == len(b) || best[i][j] == best[i+1][j]):
			out = append(out, [2]*Step{&a[i], nil})
			i++
		default:
			out = append(out, [2]*Step{nil, &b[j]})
			j++
		}
	}
	return out
}

// likeness is 0 for steps of different kinds, else above 1: a pair more always
// counts for more than targets that are nearer, of which the sum of some thirty
// steps makes less than 1.
func likeness(a, b *Step) float64 {
	if a.Kind != b.Kind {
		return 0
	}
	near := 0.0
	if a.Target != nil && b.Target != nil {
		near = 1 / (1 + math.Abs(*a.Target-*b.Target))
	}
	return 1 + near/(2*mostRuns)
}

// pairOf sets one step beside another.
func pairOf(a, b *Step) StepPair {
	p := StepPair{A: a, B: b, Figures: []Figure{}}
	switch {
	case a == nil:
		p.Title = b.Title()
	case b == nil:
		p.Title = a.Title()
	default:
		p.Title = a.Title()
		if other := b.Title(); other != p.Title {
			p.Title += " / " + other
		}
	}
	for _, f := range stepFigures {
		var x, y *float64
		if a != nil {
			x = f.of(a)
		}
		if b != nil {
			y = f.of(b)
		}
		none := func(v *float64) bool { return v == nil || f.quiet && *v == 0 }
		if !none(x) || !none(y) {
			p.Figures = append(p.Figures, f.with(x, y))
		}
	}
	return p
}

// with is the figure with its values.
func (f Figure) with(a, b *float64) Figure {
	f.A, f.B, f.Difference = a, b, less(b, a)
	return f
}

// stepFigure is one figure of a step and how it is said.
type stepFigure struct {
	Figure
	of    func(*Step) *float64
	quiet bool // nothing on both sides is not worth a line
}

var stepFigures = []stepFigure{
	{Figure{Name: "planned_heat_seconds", words: "way there, planned", clock: true}, func(s *Step) *float64 { return s.PlannedHeat }, false},
	{Figure{Name: "reached_seconds", words: "way there, went", clock: true}, func(s *Step) *float64 { return s.Reached }, false},
	{Figure{Name: "rate_kelvin_per_minute", words: "rate, °C/min", factor: 1, places: 2, warm: aGap}, func(s *Step) *float64 { return s.Rate }, false},
	{Figure{Name: "earned_seconds", words: "counted", clock: true}, func(s *Step) *float64 { return &s.Earned }, true},
	{Figure{Name: "overshoot_kelvin", words: "too hot by, °C", factor: 1, places: 2, warm: aGap}, func(s *Step) *float64 { return s.Overshoot }, false},
	{Figure{Name: "hold_rms_kelvin", words: "strays, root mean square, °C", factor: 1, places: 3, warm: aGap}, func(s *Step) *float64 { return s.HoldRMS }, false},
	{Figure{Name: "waited_seconds", words: "waited for a person", clock: true}, func(s *Step) *float64 { return &s.Waited }, true},
	{Figure{Name: "energy_joules", words: "energy, kWh", factor: unit.Joules(1).KilowattHours(), places: 2}, func(s *Step) *float64 { return &s.Energy }, true},
}

// whole are the figures of the day, and those across kettles, that one of the two
// has.
func whole(a, b *Account) []Figure {
	cost := func(x *Account) *float64 {
		if x.Energy.Cost == nil || a.Energy.Cost == nil || b.Energy.Cost == nil || a.Energy.Cost.Currency != b.Energy.Cost.Currency {
			return nil
		}
		return &x.Energy.Cost.Amount
	}
	waited := func(x *Account) *float64 {
		sum := 0.0
		for _, w := range x.Waits {
			sum += w.Seconds
		}
		return &sum
	}
	out := []Figure{}
	for _, f := range []Figure{
		Figure{Name: "planned_seconds", words: "day, planned", clock: true}.with(a.Planned, b.Planned),
		Figure{Name: "duration_seconds", words: "day, went", clock: true}.with(&a.Duration, &b.Duration),
		Figure{Name: "waited_seconds", words: "waited for persons", clock: true}.with(waited(a), waited(b)),
		Figure{Name: "energy_joules", words: "energy, kWh", factor: unit.Joules(1).KilowattHours(), places: 2}.with(&a.Energy.Joules, &b.Energy.Joules),
		Figure{Name: "cost", words: "cost, by the tariff of each", factor: 1, places: 2}.with(cost(a), cost(b)),
		Figure{Name: "highest_celsius", words: "hottest reading, °C", factor: 1, places: 1, warm: aLevel}.with(a.Highest, b.Highest),
		Figure{Name: "water_to_grain_litres_per_kilogram", words: "water to grain, L/kg", factor: 1, places: 2}.with(a.Across.WaterToGrain, b.Across.WaterToGrain),
		Figure{Name: "watts_per_litre", words: "power to water, W/L", factor: 1, places: 0}.with(a.Across.PowerToLoad, b.Across.PowerToLoad),
		Figure{Name: "strike_kelvin_per_minute", words: "strike water heats, °C/min", factor: 1, places: 2, warm: aGap}.with(a.Across.Strike, b.Across.Strike),
		Figure{Name: "heat_up_kelvin_per_minute", words: "mash heats, °C/min", factor: 1, places: 2, warm: aGap}.with(a.Across.HeatUp, b.Across.HeatUp),
		Figure{Name: "planned_evaporation_ratio_per_hour", words: "boils off, planned, %/h", factor: 100, places: 1}.with(a.Across.PlannedOff, b.Across.PlannedOff),
		Figure{Name: "evaporation_ratio_per_hour", words: "boils off, by heat, %/h", factor: 100, places: 1}.with(a.Across.BoilOff, b.Across.BoilOff),
	} {
		if f.A != nil || f.B != nil {
			out = append(out, f)
		}
	}
	return out
}

// length is a time as a person reads it.
func length(seconds float64) string { return say.Length(time.Duration(seconds * float64(time.Second))) }
