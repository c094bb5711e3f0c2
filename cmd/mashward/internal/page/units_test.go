package page

import (
	"bytes"
	"strings"
	"testing"

	"mashward/profile/plan"
)

// sentences with their °F: absolute ones by 9/5 and 32, differences by 9/5
// alone (both by definition of the scale).
var sentences = map[string]string{
	"Heating to the rest at 63.0 °C.":                 "Heating to the rest at 145.4 °F.",
	"chill to 18 °C":                                  "chill to 64 °F",
	"It is -0.0 °C.":                                  "It is 32.0 °F.",
	"At -40.0 °C both agree.":                         "At -40.0 °F both agree.",
	"-17.8 °C":                                        "0.0 °F",
	"the mash is more than 0.5 °C too hot.":           "the mash is more than 0.9 °F too hot.",
	"Heats to 63.0 °C in 19 min, 1.0 °C a minute.":    "Heats to 145.4 °F in 19 min, 1.8 °F a minute.",
	"Heats the water from 12.0 to 45.8 °C in 22 min.": "Heats the water from 53.6 °F to 114.4 °F in 22 min.",
	"+1.8 °C": "+3.2 °F",
	"lies 6.0 °C below what comes before it":                     "lies 10.8 °F below what comes before it",
	"rest at 20.0 °C lies below the room's 22.0 °C":              "rest at 68.0 °F lies below the room's 71.6 °F",
	"may rise by 1.00 °C a minute, but the element manages 0.90": "may rise by 1.00 °C a minute, but the element manages 0.90",
	"No temperature here, 26.0 L.":                               "No temperature here, 26.0 L.",
}

func TestSentencesAreTurnedIntoFahrenheit(t *testing.T) {
	for in, want := range sentences {
		if got := fahrenheit.words(in); got != want {
			t.Errorf("%q became %q, not %q", in, got, want)
		}
		if got := celsius.words(in); got != in {
			t.Errorf("in °C %q became %q", in, got)
		}
	}
}

func TestAPlanTakenApartLosesNoWord(t *testing.T) {
	b := newBench(t)
	batch, _, err := b.daemon.Plan("rye-four-rests")
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if err := plan.Text(&text, batch.Plan); err != nil {
		t.Fatal(err)
	}
	lead, parts := sections(text.String(), celsius)
	all := append([]string{batch.Profile.Name}, lead...)
	for _, p := range parts {
		all = append(all, p.Title)
		for _, l := range p.Lines {
			all = append(all, l.When, l.Text)
			if term := strings.HasSuffix(l.When, "°C") || strings.HasSuffix(l.When, " L"); !term && !strings.HasSuffix(l.Text, ".") {
				t.Errorf("a broken line was not put together: %q", l.Text)
			}
		}
	}
	got := strings.Fields(strings.ReplaceAll(strings.Join(all, " "), "−", "-"))
	want := strings.Fields(text.String())
	for i := range want {
		if i >= len(got) || got[i] != want[i] {
			t.Fatalf("word %d is %q, not %q", i, got[min(i, len(got)-1)], want[i])
		}
	}
	if len(parts) != 8 {
		t.Errorf("%d sections", len(parts))
	}
}
