package say

import (
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/profile"
)

func TestTheBoilAndWhatComesAfterItAreSaid(t *testing.T) {
	d := Day{Config: controller.Config{Tap: 17}, Profile: profile.Profile{Steps: []profile.Step{
		{Kind: profile.MashIn, Additions: []profile.Addition{{Add: "acid", When: profile.ByClock}, {Add: "gypsum", When: profile.AtStrike}}},
		{Kind: profile.Boil, Additions: []profile.Addition{{Add: "hops", Left: time.Hour}}},
	}}}
	for want, e := range map[string]controller.Event{
		"Add now: gypsum.": {Kind: controller.AdditionDue, Value: 0}, // of the strike: the first of the day
		"In: hops.":        {Kind: controller.AdditionIn, Value: 2},
		"It came 4 min late. The boil is as long as planned, unless you make it longer by the delay.":         {Kind: controller.DelayOffered, Value: 240},
		"The boil is 4 min longer, by the delay.":                                                             {Kind: controller.BoilExtended, Value: 240},
		"Tap water of 17 °C cools no further than to about 19 °C.":                                            {Kind: controller.ChillForeseen, Value: 19},
		"This is as cold as it gets: 19.4 °C. Cool on in the fridge.":                                         {Kind: controller.ChillPlateau, Value: 19.4},
		"It does not fall any more, at 45.0 °C, and the tap should have 17 °C: does the chiller's water run?": {Kind: controller.ChillPlateau, Value: 45},
	} {
		if got := d.Event(e); got != want {
			t.Errorf("%v: %q, want %q", e.Kind, got, want)
		}
	}
	// The question stands beside the boil, which does not wait for its answer.
	f := controller.Decision{Mode: controller.Running, Stage: controller.Boil, Phase: controller.Boiling, Prompt: controller.AskScald, Earned: time.Hour, Left: 9 * time.Minute}
	if now := d.Now(&f); !strings.HasPrefix(now, "Boiling: 9 min of") {
		t.Errorf("%q", now)
	}
	if Answer(controller.AskScald) != controller.ChillerIn || Answer(controller.AskColdest) != controller.ChillDone {
		t.Error("the buttons answer something else")
	}
}
