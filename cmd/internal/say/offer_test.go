package say

import (
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/profile"
)

func TestAnOutageIsToldByWhatIsKnownOfIt(t *testing.T) {
	at := time.Date(2026, 1, 10, 14, 3, 0, 0, time.UTC)
	for want, o := range map[string]Outage{
		"That was at 14:03 UTC, 12 min ago.": {Stopped: at, Length: 12 * time.Minute},
		"No clock tells how long ago. By the fall of the temperature it was about 25 min: between 15 min and 40 min.": {
			Least: 15 * time.Minute, About: 25 * time.Minute, Most: 40 * time.Minute, Weighed: true,
		},
		"How long ago is not known: neither the clock nor the temperature tells.": {Weighed: true},
		"How long ago is not known yet: the temperature is being asked.":          {},
	} {
		if got := o.Long(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if (Outage{}).Why() != "What ended it is not known." || !strings.Contains(Outage{Cause: "x"}.Why(), "x.") {
		t.Error((Outage{}).Why(), Outage{Cause: "x"}.Why())
	}
}

func TestAnOfferedBatchSaysWhereItWasAndThatItIsLive(t *testing.T) {
	var d Day
	d.Config.Steps[1] = controller.Step{Kind: profile.Rest, Target: 63, For: 40 * time.Minute}
	f := controller.Decision{Mode: controller.Offered, Index: 1, Earned: 12 * time.Minute, Left: 28 * time.Minute}
	now := d.Now(&f)
	for _, part := range []string{"rest at 63.0 °C", "12 min of 40 min", "Not heating; still live"} {
		if !strings.Contains(now, part) {
			t.Errorf("%q lacks %q", now, part)
		}
	}
}
