package strict_test

import (
	"math"
	"sort"
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
		"open bracket":  {"a: {b: 1\n", `:2: not YAML: did not find expected ',' or '}'; check brackets, quotes and indentation here and on the line before`},
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

// TestADecimalCommaBetweenBracesIsUnderstoodAsOne: YAML sees a key "5 kg" in
// {mass: 6,5 kg}, and the brewer would look for it in vain.
func TestADecimalCommaBetweenBracesIsUnderstoodAsOne(t *testing.T) {
	for text, want := range map[string]string{
		"a: {b: 6,5 kg, c: 1 L}\n": `:1: b: "6,5 kg" has a decimal comma; write 6.5 kg`,
		"a: {b: 6, 5: 1}\n":        `:1: unknown key "5" in a; known here: b, c` + "\n" + `:1: a.b: 6 what? write 6 kg`,
		"a: {b: 1 kg, wrong}\n":    `:1: unknown key "wrong" in a; known here: b, c`,
	} {
		doc := strict.Parse("f", []byte(text))
		m := doc.Map(strict.Keys{"a"}).Map("a", strict.Keys{"b", "c"})
		m.Kilograms("b")
		m.Litres("c")
		got := strings.Split(report(doc.Faults()), "\n")
		wanted := strings.Split(want, "\n")
		sort.Strings(got)
		sort.Strings(wanted)
		if strings.Join(got, "\n") != strings.Join(wanted, "\n") {
			t.Errorf("%q: got\n%s\nwant\n%s", text, strings.Join(got, "\n"), want)
		}
	}
}

// TestTextIsOneLineOfVisibleCharacters guards what later stands on a page, in
// a log and in a metric.
func TestTextIsOneLineOfVisibleCharacters(t *testing.T) {
	for text, want := range map[string]string{
		"a: Café №7, \"quoted\"\n":             "",
		"a: \"two\\nlines\"\n":                 `:1: a: "two\nlines" has a line break or an invisible character; write it in one line, with plain characters`,
		"a: \"bell\\a\"\n":                     `:1: a: "bell\a" has a line break or an invisible character; write it in one line, with plain characters`,
		"a: \"turned\\u202Earound\"\n":         `:1: a: "turned\u202earound" has a line break or an invisible character; write it in one line, with plain characters`,
		"a: \"  \"\n":                          `:1: a: only blanks are written; write a word`,
		"a: \"\"\n":                            `:1: a: nothing is written; write a: a name`,
		"a: " + strings.Repeat("ä", 64) + "\n": "",
		"a: " + strings.Repeat("ä", 65) + "\n": `:1: a: "` + strings.Repeat("ä", 40) + `..." is 65 characters long; keep it to 64`,
	} {
		doc := strict.Parse("f", []byte(text))
		got := doc.Map(strict.Keys{"a"}).Text("a")
		if r := report(doc.Faults()); r != want || (r == "") != (got != "") {
			t.Errorf("%q: %q, got\n%s\nwant\n%s", text, got, r, want)
		}
	}
}

// TestAMissingMappingIsSaidOnceAndReadsAsDefaults: its own keys are not missed
// on top of it.
func TestAMissingMappingIsSaidOnceAndReadsAsDefaults(t *testing.T) {
	doc := strict.Parse("f", []byte("b: 1 L\n"))
	m := doc.Map(strict.Keys{"a", "b"})
	sub := m.Map("a", strict.Keys{"c"}, strict.Required)
	if got := sub.Celsius("c", strict.Required, strict.Default(unit.Celsius(18))); got != 18 || !sub.Missing() {
		t.Errorf("got %v", got)
	}
	if got := report(doc.Faults()); got != ":1: a is missing; write a: {c: ...}" {
		t.Error(got)
	}
	if m.Sound("a") || !m.Sound("b") || m.LineOf("b") != 1 {
		t.Error("sound or line is wrong")
	}
}

// TestNearestFindsTypingErrorsAndNothingElse: one slip in three letters.
func TestNearestFindsTypingErrorsAndNothingElse(t *testing.T) {
	keys := []string{"temperature", "mass", "moisture", "element_covered_at", "for"}
	for word, want := range map[string]string{
		"temprature": "temperature", "tempreature": "temperature", "Mass": "mass", "msas": "mass", "moistrue": "moisture",
		"element-covered-at": "element_covered_at", "fro": "for", "salt": "", "colour": "", "": "",
		strings.Repeat("mass", 100): "",
	} {
		if got := strict.Nearest(word, keys); got != want {
			t.Errorf("%q is taken for %q, want %q", word, got, want)
		}
	}
}

// TestBoundsBelongToTheRangeInEveryUnit: rounding in a conversion refuses
// nobody, and the next digit a person can write is refused.
func TestBoundsBelongToTheRangeInEveryUnit(t *testing.T) {
	doc := strict.Parse("f", []byte("a: 176 °F\nb: 7 K/min\nc: 32 °F\nd: 80.001 °C\n"))
	m := doc.Map(strict.Keys{"a", "b", "c", "d"})
	m.Celsius("a", strict.Between(0, 80))
	m.KelvinPerSecond("b", strict.Between(0, 7.0/60))
	m.Celsius("c", strict.Between(0, 80))
	m.Celsius("d", strict.Between(0, 80))
	if got := report(doc.Faults()); got != ":4: d: 80.001 °C is outside 0 °C to 80 °C; write a value within" {
		t.Error(got)
	}
}

// TestABoundOfSecondsIsHeldUnderOneOfYears: what a bound forgives is a share of
// that bound, so that a far one lets nothing pass a near one.
func TestABoundOfSecondsIsHeldUnderOneOfYears(t *testing.T) {
	doc := strict.Parse("f", []byte("a: 0 s\nb: 0.9 s\nc: 1 s\nd: -0.001 K\n"))
	m := doc.Map(strict.Keys{"a", "b", "c", "d"})
	for _, key := range []string{"a", "b", "c"} {
		m.Duration(key, strict.Between(time.Second, 100*365*24*time.Hour))
	}
	m.Kelvin("d", strict.Between[unit.Kelvin](0, 1e9))
	for _, key := range []string{"a", "b", "d"} {
		if m.Sound(key) {
			t.Errorf("%s is below its bound and was taken", key)
		}
	}
	if !m.Sound("c") {
		t.Error("1 s is refused by a bound of 1 s")
	}
}

// TestWarningsDoNotRefuseAFile tells the two kinds of faults apart.
func TestWarningsDoNotRefuseAFile(t *testing.T) {
	doc := strict.Parse("f", []byte("a: 1 L\n"))
	m := doc.Map(strict.Keys{"a"})
	m.Warn("a", "is little", "take more")
	if doc.Refused() || strict.Refused(doc.Faults()) || !m.Sound("a") {
		t.Error("a warning refused the file")
	}
	if got := report(doc.Faults()); got != ":1: warning: a: is little; take more" {
		t.Error(got)
	}
	m.Refuse("a", "is nothing", "take some")
	if !doc.Refused() || m.Sound("a") {
		t.Error("a fault did not refuse the file")
	}
}

// FuzzParse throws bytes at the parser and all readers: no panic, no fault
// without words, no value that is no number, and no file of many mistakes that
// makes a report without end.
func FuzzParse(f *testing.F) {
	for _, seed := range []string{
		"a: 63 °C\nb: [lift, {c: 1}]\n", "a: &x {b: *x}\n", "<<: *a", "? [a]\n: b", "a: {b: 6,5 kg}", "a: !!binary x",
		"---\n...\n---\n", "\xef\xbb\xbfa: 1", "a: |\n  text\n", "{a: b, a: c}", "- - - -", "%YAML 1.1\n---\na: 1", "a: 1 # c\n#d\n",
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		doc := strict.Parse("f", text)
		m := doc.Map(strict.Keys{"a", "b"})
		for _, read := range []func(*strict.Map){
			func(m *strict.Map) { m.Text("a") }, func(m *strict.Map) { m.Yes("a") }, func(m *strict.Map) { m.Count("a") },
			func(m *strict.Map) { m.Word("a", []string{"x"}) }, func(m *strict.Map) { m.Duration("a", strict.Required) },
			func(m *strict.Map) {
				if v := float64(m.Celsius("a")); math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%q reads as %v", text, v)
				}
			},
		} {
			read(m)
			read(m.Map("b", strict.Keys{"c"}))
			for _, item := range m.List("b") {
				item.Word()
				read(item.Map(strict.Keys{"c"}))
			}
		}
		faults := doc.Faults()
		if len(faults) > 200 {
			t.Fatalf("%d faults", len(faults))
		}
		for _, fault := range faults {
			if fault.What == "" || fault.Remedy == "" || fault.Line < 0 || strings.ContainsAny(fault.String(), "\n\r") {
				t.Fatalf("%q: %#v", text, fault)
			}
		}
	})
}
