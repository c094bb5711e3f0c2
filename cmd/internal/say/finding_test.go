package say

import (
	"strings"
	"testing"

	"mashward/controller"
	"mashward/controller/verify"
)

// Each finding says what came and what was to be expected, what it may be, and
// what to do first; a relay that may be welded wants the breaker before all.
func TestFindingsSayWhatCameAndWhatToDoFirst(t *testing.T) {
	for kind, want := range map[verify.Kind]string{
		verify.NotHeating: "isolate at the breaker first", verify.HeatingWhileOff: "isolate at the breaker now", verify.TooFast: "isolate at the breaker first",
		verify.ProbeOut: "isolate before reaching in", verify.ProbeStuck: "second thermometer", verify.PumpStopped: "look at the level first",
		verify.EnergyBudget: "second thermometer",
	} {
		text := Finding(verify.Finding{Kind: kind, Of: verify.OfPower, Expected: 300, Measured: 2800})
		if !strings.Contains(strings.ToLower(text), want) || !strings.Contains(text, "0.3 kW") || !strings.Contains(text, "2.8 kW") {
			t.Errorf("%v: %s", kind, text)
		}
		if bare := Finding(verify.Finding{Kind: kind}); strings.Contains(bare, "kW") || bare == "" {
			t.Errorf("%v without figures: %s", kind, bare)
		}
	}
	if text := Finding(verify.Finding{Kind: verify.PumpStopped}); !strings.Contains(text, "rest the bed") {
		t.Errorf("how a stuck bed goes on is not said: %s", text)
	}
	if Finding(verify.Finding{}) != "" {
		t.Error("nothing found, and something said")
	}
	for _, of := range []verify.Figure{verify.OfRise, verify.OfFall, verify.OfStanding, verify.OfEnergy, verify.OfWarmth} {
		if text := figures(verify.Finding{Of: of, Expected: 2, Measured: 9e6}); text == "" {
			t.Errorf("figure %d has no words", of)
		}
	}
	for why := controller.NotHeating; why <= controller.EnergyBudget; why++ {
		if text := (Day{}).Reason(why); strings.HasPrefix(text, "Heat was cut:") {
			t.Errorf("%v is not explained: %s", why, text)
		}
	}
}
