package profile

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

// What a file may ask for at most. The figures are the limits of what this
// controller is made for, not of what a mash could bear.
const (
	leastWater  unit.Litres = 1
	mostWater   unit.Litres = 200
	longestStep             = 24 * time.Hour
	// Above it no mash enzyme is left and husks give off tannin (common
	// practice, no source).
	hottestMash unit.Celsius = 80
	hottest     unit.Celsius = 100
	// DefaultMoisture is the water in malt as bought (common practice, no
	// source: 3 to 5 %).
	DefaultMoisture unit.Ratio = 0.04
	// DefaultExtract is what a laboratory gets out of the dry matter of finely
	// ground malt (common practice, no source: pale malts 78 to 83 %).
	DefaultExtract unit.Ratio = 0.80
	// DefaultConversion is the share of it that a mash dissolves (common practice,
	// no source: 85 to 97 %, by crush and time).
	DefaultConversion unit.Ratio = 0.92
	// DefaultTrub is the share of the cold wort that stays in the kettle with hops
	// and break (common practice, no source: a litre or so of twenty).
	DefaultTrub unit.Ratio = 0.05
	// DefaultFloor is how far below its target a rest still counts.
	DefaultFloor unit.Kelvin = 1
)

// Parse reads a profile and checks it as far as it can be checked without
// knowing the kettle. All faults are reported at once, in the order of the
// file. With a fault that is more than a warning the profile returned is the
// zero value, which asks for nothing.
func Parse(name string, text []byte) (Profile, []strict.Fault) {
	doc := strict.Parse(name, text)
	m := doc.Map(strict.Keys{"profile", "water", "grain", "trub", "use", "steps", "expect"})
	p := Profile{
		Name:  m.Text("profile", strict.Required, strict.Example("Rye, four rests")),
		Water: m.Litres("water", strict.Required, strict.Between(leastWater, mostWater)),
		Grain: readGrain(m),
		Trub:  m.Ratio("trub", strict.Between(unit.Ratio(0), 0.3), strict.Default(DefaultTrub)),
		Use:   useOf(m.Word("use", useNames[:], strict.DefaultText(useNames[Brew]))),
		File:  name,
		Line:  m.LineOf("water"),
	}
	r := reader{doc: doc, grain: m.Has("grain")}
	items := m.List("steps", strict.Required)
	for i, item := range items {
		if i == MaxSteps {
			item.Refuse("this is step 33 of a profile that may have 32", "join steps, or make two profiles of it")
			break
		}
		p.Steps = append(p.Steps, r.step(item))
	}
	p.Expect = readExpect(m)
	validate(doc, m, p)
	if doc.Refused() {
		return Profile{}, doc.Faults()
	}
	return p, doc.Faults()
}

// readGrain reads what goes into the bag; without the key there is none.
func readGrain(m *strict.Map) Grain {
	if !m.Has("grain") {
		return Grain{}
	}
	g := m.Map("grain", strict.Keys{"mass", "temperature", "moisture", "slaking", "extract", "conversion"})
	return Grain{
		Mass:        g.Kilograms("mass", strict.Required, strict.Between(unit.Kilograms(0.05), 100)),
		Temperature: g.Celsius("temperature", strict.Required, strict.Between(unit.Celsius(-20), 60), strict.Example("18 °C")),
		Moisture:    g.Ratio("moisture", strict.Between(unit.Ratio(0), 0.2), strict.Default(DefaultMoisture)),
		// The heat set free on wetting is 10 to 25 kJ/kg for dry malt (from the
		// corrections in Murphy & Son's table).
		Slaking:    g.JoulesPerKilogram("slaking", strict.Between(unit.JoulesPerKilogram(0), 50e3)),
		Extract:    g.Ratio("extract", strict.Between(unit.Ratio(0.3), 1), strict.Default(DefaultExtract)),
		Conversion: g.Ratio("conversion", strict.Between(unit.Ratio(0.3), 1), strict.Default(DefaultConversion)),
	}
}

// form is how one kind of step is written.
type form struct {
	kind   Kind
	keys   []string // keys it may have beside its own
	sample string
}

// forms are the steps a file may have, in the order they may come in.
var forms = []form{
	{MashIn, []string{"for", "name", "floor", "additions"}, "{mash-in: 44 °C, for: 15 min}"},
	{Rest, []string{"for", "ramp", "name", "floor", "additions"}, "{rest: 63 °C, for: 35 min}"},
	{MashOut, []string{"for", "ramp", "name", "floor", "additions"}, "{mash-out: 77 °C, for: 10 min}"},
	{Lift, []string{"additions"}, "lift"},
	{Boil, []string{"name", "boil_off", "additions"}, "boil: 75 min"},
	{Stand, []string{"for", "name", "floor", "additions"}, "{stand: 80 °C, for: 20 min}"},
	{Chill, []string{"name", "additions"}, "{chill: 18 °C}"},
}

// stepKeys is every key an entry of steps may have.
var stepKeys = strict.Keys{
	"mash-in", "rest", "mash-out", "lift", "boil", "stand", "chill",
	"for", "ramp", "name", "floor", "boil_off", "additions",
}

func stepWords() []string { return stepKeys[:len(forms)] }

func formOf(word string) (form, bool) {
	for _, f := range forms {
		if f.kind.String() == word {
			return f, true
		}
	}
	return form{}, false
}

// reader carries what the reading of one entry needs of the file.
type reader struct {
	doc       *strict.Doc
	grain     bool // the profile has grain, so that its rests are a mash
	additions int  // so far, in the whole file
}

// step reads one entry. An entry that cannot be told for any kind of step is
// returned as Strike, which no file can ask for.
func (r *reader) step(item strict.Item) Step {
	if word, ok := item.Word(); ok {
		return bareStep(item, word)
	}
	m := item.Map(stepKeys)
	f, ok := oneForm(m)
	if !ok {
		return Step{Line: item.Line()}
	}
	refuseForeignKeys(m, f)
	s := Step{Kind: f.kind, Line: item.Line(), Name: m.Text("name")}
	switch f.kind {
	case Lift:
		if !m.Has("additions") || !m.Empty("lift") {
			m.Refuse("lift", "it takes no value", "write - lift")
		}
	case Boil:
		s.For = m.Duration("boil", strict.Between(time.Second, longestStep), strict.Example("75 min"))
		s.BoilOff = m.LitresPerSecond("boil_off", strict.Between(unit.LitresPerSecond(0), 30.0/3600), strict.Example("2.4 L/h"))
	case Chill:
		s.Target = m.Celsius("chill", strict.Between(0, hottest), strict.Example("18 °C"))
	default:
		r.timed(m, &s)
	}
	s.Additions = r.readAdditions(m, s)
	return s
}

// timed reads a step that keeps a temperature for a time.
func (r *reader) timed(m *strict.Map, s *Step) {
	top := hottest
	if s.Kind != Stand && r.grain {
		top = hottestMash
	}
	s.Target = m.Celsius(s.Kind.String(), strict.Between(0, top))
	s.For = m.Duration("for", strict.Required, strict.Between(time.Second, longestStep))
	s.Floor = m.Kelvin("floor", strict.Between(unit.Kelvin(0.1), 10), strict.Default(DefaultFloor))
	s.Ramp = m.KelvinPerSecond("ramp", strict.Between(unit.KelvinPerSecond(0.01/60), 10.0/60))
}

// bareStep reads an entry of one word, which only a lift can be.
func bareStep(item strict.Item, word string) Step {
	f, known := formOf(word)
	switch {
	case known && f.kind == Lift:
		return Step{Kind: Lift, Line: item.Line()}
	case known:
		item.Refuse(word+" needs a value", "write - "+f.sample)
		return Step{Line: item.Line()}
	}
	remedy := "write one of mash-in, rest, mash-out, lift, boil, stand, chill"
	if near := strict.Nearest(word, stepWords()); near != "" {
		f, _ = formOf(near)
		remedy = "write - " + f.sample
	}
	item.Refuse("\""+short(word)+"\" is no step", remedy)
	return Step{Line: item.Line()}
}

// oneForm finds the one kind of step an entry is.
func oneForm(m *strict.Map) (form, bool) {
	var found []form
	for _, word := range stepWords() {
		if m.Has(word) {
			f, _ := formOf(word)
			found = append(found, f)
		}
	}
	switch {
	case len(found) == 1:
		return found[0], true
	case len(found) > 1:
		second := found[1].kind.String()
		m.Refuse(second, found[0].kind.String()+" and "+second+" stand in one entry", "give each a line of its own, after a dash")
	case !m.Odd() && !m.Missing():
		m.Refuse("", "this entry does not say what step it is", "begin with one of mash-in, rest, mash-out, boil, stand, chill")
	}
	return form{}, false
}

// refuseForeignKeys refuses keys that are known, but not for this step.
func refuseForeignKeys(m *strict.Map, f form) {
	for _, key := range stepKeys[len(forms):] {
		if !m.Has(key) || contains(f.keys, key) {
			continue
		}
		remedy := "take it out"
		if f.kind == Boil && key == "for" {
			remedy = "write its length behind the word, as in boil: 75 min"
		}
		m.Refuse(key, "a "+f.kind.String()+" has no such key", remedy)
	}
}

func contains(words []string, word string) bool {
	for _, w := range words {
		if w == word {
			return true
		}
	}
	return false
}

// short cuts a word of the file to a length that fits a message.
func short(word string) string {
	const longest = 24
	if runes := []rune(word); len(runes) > longest {
		return string(runes[:longest]) + "..."
	}
	return word
}
