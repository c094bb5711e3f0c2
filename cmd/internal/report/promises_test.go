package report

import (
	"strings"
	"testing"
)

func TestWhatWasPromisedStandsInTheReport(t *testing.T) {
	d := rehearsed(t, "wheat-promised.yaml", "yard-kettle.yaml", "", 0)
	d.Result.Expectations[4].Kept = false
	page := strings.ReplaceAll(written(t, d.Report), "\u00a0", " ")
	for _, words := range []string{"<li>Kept: never above 64 °C in step 2 (rest at 63 °C): highest 6", "<li>BROKEN: done within 5 h: took 3:"} {
		if !strings.Contains(page, words) {
			t.Errorf("%q is not in the page", words)
		}
	}
	if plain := written(t, rehearsed(t, "water-only.yaml", "yard-kettle.yaml", "", 0).Report); strings.Contains(plain, "the profile expects") {
		t.Error("a day without promises speaks of them")
	}
}
