package say

import (
	"strings"
	"testing"

	"mashward/controller"
	"mashward/profile/gravity"
)

// TestWhatWasReadIsSaidWithWhatItMeans: the pH of a mash is some 0.3 lower at 65 °C than
// at 20 °C, and usually between 5.2 and 5.6 there (common practice, no source); a
// difference of 2 °C is more than two thermometers are wrong together.
func TestWhatWasReadIsSaidWithWhatItMeans(t *testing.T) {
	for name, c := range map[string]struct {
		got   string
		says  []string
		lacks string
	}{
		"cool":        {Told(controller.Command{Wish: controller.PHIs, Value: 5.4, At: 20, Spot: controller.SpotStirred}), []string{"pH 5.40 in a sample of 20.0 °C, of the mash as it was stirred.", "In a mash of 65 °C it is some 0.3 lower"}, "usually"},
		"warm":        {Told(controller.Command{Wish: controller.PHIs, Value: 5.1, At: 65, Spot: controller.SpotTop}), []string{"from the wort above the bed", "would show about 5.4"}, "usually"},
		"low":         {Told(controller.Command{Wish: controller.PHIs, Value: 4.9, At: 21, Spot: controller.SpotMiddle}), []string{"from the middle of the bed", "usually between 5.2 and 5.6, cool: this is lower"}, "higher"},
		"high":        {Told(controller.Command{Wish: controller.PHIs, Value: 5.5, At: 65, Spot: controller.SpotOutlet}), []string{"from the tap or the hose", "about 5.8", "this is higher"}, "In a mash of"},
		"no mash":     {Told(controller.Command{Wish: controller.PHIs, Value: 4.3, At: 20}), []string{"pH 4.30 in a sample of 20.0 °C."}, "usually"},
		"hydrometer":  {Told(controller.Command{Wish: controller.GravityIs, Value: 1.046, At: 24}), []string{"Read: 1.046 by hydrometer in a sample of 24.0 °C."}, "°P"},
		"plato":       {Told(controller.Command{Wish: controller.GravityIs, Value: 11.4, At: 20, Instrument: gravity.Saccharometer}), []string{"11.4 °P by saccharometer"}, "°Bx"},
		"brix":        {Told(controller.Command{Wish: controller.GravityIs, Value: 11.9, At: 20, Instrument: gravity.Refractometer}), []string{"11.9 °Bx by refractometer"}, "°P"},
		"agrees":      {Day{}.Event(controller.Event{Kind: controller.ProbeDiffers, Value: -0.6}), []string{"That is 0.6 °C below the probe", "nothing is changed"}, "wrong"},
		"differs":     {Day{}.Event(controller.Event{Kind: controller.ProbeDiffers, Value: 2.4}), []string{"2.4 °C above the probe: one of the two is wrong", "press STOP"}, "above the probe, which"},
		"strike":      {Day{}.Event(controller.Event{Kind: controller.StrikeMoved, Value: 66.24}), []string{"The strike water is to be at 66.2 °C"}, "grain"},
		"other wish":  {Told(controller.Command{Wish: controller.Pause}), []string{""}, "."},
		"of an event": {Day{}.Sentence(controller.Event{Kind: controller.Accepted}, controller.Command{Wish: controller.GrainIs, Grain: 4.5, At: 12}), []string{"The grain weighs 4.50 kg and is 12.0 °C warm."}, "pour"},
	} {
		for _, want := range c.says {
			if !strings.Contains(c.got, want) {
				t.Errorf("%s: %q says nothing of %q", name, c.got, want)
			}
		}
		if strings.Contains(c.got, c.lacks) {
			t.Errorf("%s: %q says %q", name, c.got, c.lacks)
		}
	}
}
