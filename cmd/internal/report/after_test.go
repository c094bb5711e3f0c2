package report

import (
	"fmt"
	"strings"
	"testing"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/config"
	"mashward/controller/record"
)

// plainly is a page's text with its figures tied to their units by plain blanks.
func plainly(page string) string { return strings.ReplaceAll(page, "\u00a0", " ") }

// The tables of what is known afterwards against the account they are made from.
func TestThePageTellsWhatTheBatchCameTo(t *testing.T) {
	d := rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", faulty, 0)
	page, a := plainly(written(t, d.Report)), d.Account
	if d.Result.Energy <= 0 || a.Energy.Joules != d.Result.Energy {
		t.Errorf("%g J, the kettle took %g", a.Energy.Joules, d.Result.Energy)
	}
	wants := []string{
		fmt.Sprintf("put in %.2f kWh", d.Result.Energy/3.6e6), fmt.Sprintf("At 0.32 EUR a kWh that is %.2f EUR", 0.32*d.Result.Energy/3.6e6),
		"SHA-256 of its text", a.Hash, "Program: test", "Not tuned by a water test", "Kettle as counted with: 3000 W",
	}
	for _, w := range a.Windows {
		wants = append(wants, fmt.Sprintf(`<th scope="row">%.0f to %.0f °C</th><td>%s</td>`, w.Low, w.High, minutes(w.Seconds)))
	}
	for _, s := range a.Steps {
		wants = append(wants, fmt.Sprintf("<td>%.2f</td></tr>", s.Energy/3.6e6))
	}
	for _, w := range wants {
		if !strings.Contains(page, w) {
			t.Errorf("the page lacks %q", w)
		}
	}
}

func TestARecordWithoutItsFilesMakesAPageAllTheSame(t *testing.T) {
	d := rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", "", 0)
	r, err := record.Read(d.storage)
	if err != nil {
		t.Fatal(err)
	}
	bare := &record.Memory{}
	if err := record.Copy(bare, r, func(h *record.Head) { h.ProfileText, h.RigText = "", "" }); err != nil {
		t.Fatal(err)
	}
	for name, storage := range map[string]*record.Memory{"bare": bare, "half": {Bytes: bare.Bytes[:len(bare.Bytes)/2]}} {
		of, err := FromRecord(storage, config.Tariff{PerKilowattHour: 0.5, Currency: "CHF"})
		if err != nil {
			t.Fatal(err)
		}
		page := plainly(written(t, of))
		tags(t, page)
		for _, want := range []string{"<h1>Rye, four rests</h1>", "The plan is not known", "At 0.5 CHF a kWh", "Where the mash was"} {
			if !strings.Contains(page, want) {
				t.Errorf("%s: the page lacks %q", name, want)
			}
		}
		for _, not := range []string{"as planned", "SHA-256", "later than planned", "Volumes, as planned"} {
			if strings.Contains(page, not) {
				t.Errorf("%s: the page says %q", name, not)
			}
		}
		if name == "half" && !strings.Contains(page, "no end of the batch stands in the record") {
			t.Errorf("%s: a day without an end", name)
		}
	}
}

// Where the wort came to, what the readings suggest and how the forecasts did are told of
// a rehearsal and of its record alike.
func TestARehearsalAndItsRecordTellTheSameOfWortAndForecasts(t *testing.T) {
	for _, name := range []string{"sample", "sample's record"} {
		d := days(t)[name]
		page, a := plainly(written(t, d.Report)), d.Account
		if a.Forecasts == nil || len(a.Forecasts.Lines()) < 3 || len(a.Wort.Lines()) < 3 {
			t.Fatalf("%s: %+v, %+v", name, a.Forecasts, a.Wort)
		}
		for _, line := range append(a.Forecasts.Lines(), a.Wort.Lines()...) {
			if !strings.Contains(page, line) {
				t.Errorf("%s: the page lacks %q", name, line)
			}
		}
	}
}

func TestWhatAnOvershootCostIsSaid(t *testing.T) {
	d := rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", "faults:\n  - {at: {step: 2, after: 25 min}, fault: relay-welded, for: 50 s}\n", 0)
	page := plainly(written(t, d.Report))
	if !strings.Contains(page, "°C too hot. That cost ") || !strings.Contains(page, "of the beta-amylase and ") {
		t.Error("the cost of a welded relay is not said")
	}
	good := plainly(written(t, rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", "", 0).Report))
	if strings.Contains(good, "too hot. That cost") {
		t.Error("a good day cost something")
	}
}

// Without an account a page is as it was: nobody has to give one.
func TestAPageWithoutAnAccountLeavesItsPartsOut(t *testing.T) {
	d := rehearsed(t, "water-only.yaml", "yard-kettle.yaml", "", 0)
	d.Account = nil
	page := written(t, d.Report)
	if strings.Contains(page, `id="energy"`) || strings.Contains(page, `id="planned"`) {
		t.Error("figures out of nothing")
	}
	if afterOf((*account.Account)(nil)) != nil {
		t.Error("figures out of nothing")
	}
}
