package strict_test

import (
	"strings"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

// report is all faults of a text, one a line, without the file name.
func report(faults []strict.Fault) string {
	var lines []string
	for _, f := range faults {
		lines = append(lines, strings.TrimPrefix(f.String(), "f"))
	}
	return strings.Join(lines, "\n")
}

// TestEveryFaultOfAFileIsReportedAtOnceWithItsLine reads a file with a mistake
// on every line.
func TestEveryFaultOfAFileIsReportedAtOnceWithItsLine(t *testing.T) {
	text := `profile: Rye
water: 26
grain: {mass: 6,5 kg, tempreature: 18 °C}
watre: 3
steps:
  - {rest: 63 F m, for: 35 min}
  - lift
  - [1, 2]
`
	doc := strict.Parse("f", []byte(text))
	m := doc.Map(strict.Keys{"profile", "water", "grain", "steps", "site"})
	if got := m.Text("profile"); got != "Rye" {
		t.Errorf("profile = %q", got)
	}
	m.Litres("water", strict.Required)
	grain := m.Map("grain", strict.Keys{"mass", "temperature"})
	grain.Kilograms("mass")
	grain.Celsius("temperature", strict.Required)
	m.Map("site", strict.Keys{"altitude"}, strict.Required)
	items := m.List("steps", strict.Required)
	items[0].Map(strict.Keys{"rest", "for"}).Celsius("rest")
	if word, ok := items[1].Word(); !ok || word != "lift" || items[1].Line() != 7 {
		t.Errorf("entry 2 = %q, %v, line %d", word, ok, items[1].Line())
	}
	items[2].Map(strict.Keys{"rest", "for"})
	want := `:1: site is missing; write site: {altitude: ...}
:2: water: 26 what? write 26 L
:3: grain: temperature is missing; write temperature: 63 °C
:3: mass: "6,5 kg" has a decimal comma; write 6.5 kg
:3: unknown key "tempreature" in grain; write temperature
:4: unknown key "watre"; write water
:6: rest: "F m" is not a unit of temperature; write °C or °F, as in 63 °C
:8: a list where an entry of steps belongs; write - {rest: ...}`
	if got := report(doc.Faults()); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// TestReadersGiveTheValueTheFallbackOrTheFault walks the ways a key can be.
func TestReadersGiveTheValueTheFallbackOrTheFault(t *testing.T) {
	doc := strict.Parse("f", []byte("a: 10 L\nb: 2 h\nc: yes\nd: copper\ne: 7\n"))
	m := doc.Map(strict.Keys{"a", "b", "c", "d", "e", "x"})
	if got := m.Litres("a", strict.Between(5, 20)); got != 10 {
		t.Errorf("a = %v", got)
	}
	if got := m.Litres("x", strict.Default(unit.Litres(3))); got != 3 {
		t.Errorf("fallback = %v", got)
	}
	if got := m.Duration("b", strict.Between(time.Minute, time.Hour)); got != 0 || m.Sound("b") {
		t.Errorf("b = %v, sound %v; want refused", got, m.Sound("b"))
	}
	if !m.Yes("c") || m.Yes("x") || !m.Yes("x", strict.DefaultYes) {
		t.Error("yes and no are mixed up")
	}
	if got := m.Word("d", []string{"steel", "copper"}); got != "copper" {
		t.Errorf("d = %q", got)
	}
	if got := m.Count("e"); got != 7 {
		t.Errorf("e = %d", got)
	}
	want := `:2: b: 2 h is outside 1 min to 1 h; write a value within`
	if got := report(doc.Faults()); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// TestWhatMakesAFileSaySomethingElseIsRefused has one text for each construct
// that YAML allows and these files do not.
func TestWhatMakesAFileSaySomethingElseIsRefused(t *testing.T) {
	deep := strings.Repeat("[", 20) + strings.Repeat("]", 20)
	for name, c := range map[string]struct{ text, want string }{
		"empty":         {"", `: the file is empty; start from the sample`},
		"comment only":  {"# nothing\n", `: the file is empty; start from the sample`},
		"duplicate":     {"a: 1 L\nb: 2\na: 3\n", `:3: "a" stands twice, first in line 1; keep one of them`},
		"anchor":        {"a: &x 1 L\n", `:1: an anchor (&x) is used; take it out: aliases are not read here`},
		"alias":         {"a: &x 1 L\nb: *x\n", ":1: an anchor (&x) is used; take it out: aliases are not read here\n:2: an alias (*x) is used; write the value out"},
		"unknown alias": {"a: 1 L\nb: *x\n", `:2: an alias (*x) is used; write the value out`},
		"merge":         {"a: 1 L\nb:\n  c: &x {d: 1}\n  <<: *x\n", ":3: an anchor (&x) is used; take it out: aliases are not read here\n:4: a merge (<<) is used; write the keys out"},
		"tag":           {"a: !!str 1\n", `:1: a tag (!!str) is used; take it out: the key already says what the value is`},
		"second":        {"a: 1 L\n---\na: 2\n", `:2: a second document begins here; keep one document in a file: take the --- line and what follows it out`},
		"tab":           {"a:\n\tb: 1\n", `:2: a tab stands in the indentation; write spaces instead`},
		"not UTF-8":     {"a: 1\nb: \xff\n", `:2: this line is not UTF-8 text; save the file as UTF-8`},
		"deep":          {"a: 1 L\nb: " + deep, `:2: this is nested more than 16 deep; nothing here needs that: compare with the sample`},
		"large":         {strings.Repeat("#", strict.MaxBytes+1), `: the file has 257 KiB; keep it below 256 KiB`},
		"list":          {"- a\n", `:1: a list where keys with values belong; write a: ...`},
		"key":           {"[a]: 1\n", `:1: a key must be a word; compare with the sample`},
		"open bracket":  {"a: {b: 1\n", `:1: not YAML: did not find expected ',' or '}'; check brackets, quotes and indentation here and on the line before`},
		"empty value":   {"a:\n", `:1: a: nothing is written; write a: 26 L`},
		"list value":    {"a: [1 L]\n", `:1: a: a list where one value belongs; write a: 26 L`},
		"NaN":           {"a: .nan\n", `:1: a: ".nan" is not a number; write 26 L`},
		"infinite":      {"a: -.inf L\n", `:1: a: "-.inf L" is not a number; write 26 L`},
	} {
		doc := strict.Parse("f", []byte(c.text))
		doc.Map(strict.Keys{"a", "b"}).Litres("a")
		if got := report(doc.Faults()); got != c.want {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, c.want)
		}
	}
}
