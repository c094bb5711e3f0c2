package plan

import (
	"strings"
	"testing"
	"time"

	"mashward/profile"
)

func TestThePlanCallsForEachAdditionAtItsMoment(t *testing.T) {
	p := rye()
	add := func(step int, a profile.Addition) { p.Steps[step].Additions = append(p.Steps[step].Additions, a) }
	add(0, profile.Addition{When: profile.AtStrike, Add: "4 g gypsum"})
	add(0, profile.Addition{When: profile.ByClock, Add: "acid"})
	add(1, profile.Addition{When: profile.ByClock, At: 10 * time.Minute, Add: "dark malt"})
	add(4, profile.Addition{When: profile.AtOnce, Add: "first hops"})
	add(5, profile.Addition{Add: "last hops"})
	add(6, profile.Addition{When: profile.AtOnce, Add: "yeast"})
	d, problems := Make(p, yard())
	if Refused(problems) {
		t.Fatal(problems)
	}
	at := map[string]time.Duration{}
	for _, who := range d.Persons {
		at[who.What] = who.At
	}
	s := d.Steps
	for what, want := range map[string]time.Duration{
		"Add 4 g gypsum: into the strike water.":                    s[0].Start,
		"Add acid: when the grain is in.":                           s[1].Start,
		"Add dark malt: 10 min into the rest.":                      s[2].Reached + 10*time.Minute,
		"Add first hops: when the grain hangs clear.":               s[5].Start,
		"Add 28 g bittering hops: 1 h left of the boil.":            s[6].End - time.Hour,
		"Add last hops: at flame-out, the heat goes off by itself.": s[6].End,
		"Add yeast: when the wort is cold.":                         s[7].End,
	} {
		if got, there := at[what]; !there || got != want {
			t.Errorf("%q at %v (%v), want %v", what, got, there, want)
		}
	}
	var sheet strings.Builder
	if err := Sheet(&sheet, d, Heading{Rig: "Yard kettle"}); err != nil {
		t.Fatal(err)
	}
	for _, thing := range []string{"[ ] 4 g gypsum", "[ ] acid", "[ ] first hops", "[ ] yeast"} {
		if !strings.Contains(sheet.String(), thing) {
			t.Errorf("not to be weighed out: %s", thing)
		}
	}
}

func TestAChillThatTheTapCannotDoTellsThePersonWhereItEnds(t *testing.T) {
	p := rye()
	p.Steps[6].Target = 10
	d, problems := Make(p, yard())
	last := d.Persons[len(d.Persons)-2].What
	if Refused(problems) || !strings.HasPrefix(last, "It gets no colder than about 14 °C with this tap") {
		t.Errorf("%v; %q", problems, last)
	}
}
