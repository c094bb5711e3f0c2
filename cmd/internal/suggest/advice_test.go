package suggest_test

import (
	"strings"
	"testing"

	"mashward/cmd/internal/suggest"
	"mashward/cmd/internal/wort"
	"mashward/controller"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors"
)

// boil is a day that begins with 22.3 L of wort, boils for an hour at what is to take
// 2.688 L/h (see package wort), and ends with so many litres. At rest another
// thermometer stood beside the probe by each of these.
func boil(left unit.Litres, beside ...float64) *wort.Follower {
	p := profile.Profile{Water: 26, Grain: profile.Grain{Mass: 4.6, Moisture: 0.04, Extract: 0.8, Conversion: 0.9}}
	c := controller.Config{Power: 3000, Loss: 7, Room: 18, Boiling: 98.8, Water: 26, AfterLift: 22.3, Surface: 0.126, Count: 3}
	c.Steps[1] = controller.Step{Kind: profile.Lift}
	c.Steps[2] = controller.Step{Kind: profile.Boil, For: 3600e9, Duty: 0.75}
	f := wort.New(p, c)
	t := record.Tick{Mode: controller.Running, Kind: profile.Lift}
	second := func(events ...controller.Event) {
		t.In.Now += 1e9
		t.In.Reading = sensors.Reading{Value: 98.5, Taken: t.In.Now, Fault: sensors.None}
		t.In.Applied = unit.On
		if t.In.Now/1e9%4 == 0 {
			t.In.Applied = unit.Off
		}
		t.Events = events
		f.Tick(&t)
	}
	for _, off := range beside {
		second(controller.Event{Kind: controller.ProbeDiffers, Value: off})
	}
	for range 600 { // as it comes to the boil, its lid still on
		second()
	}
	second(controller.Event{Kind: controller.Accepted, Value: float64(controller.BagClear)}, controller.Event{Kind: controller.LidMoved, Value: 1})
	t.Facts.Volume, t.Facts.Statement = 22.3, 1
	t.Kind, t.Stage, t.Index = profile.Boil, controller.Boil, 2
	for range 3600 {
		second()
	}
	t.Facts.Volume, t.Facts.Statement = left, 2
	second()
	return f
}

func TestWhatTheReadingsShowIsSaidAndNothingElse(t *testing.T) {
	for name, c := range map[string]struct {
		f    *wort.Follower
		want []string // of each piece of advice
	}{
		"as asked":     {boil(22.3 - 2.59), nil},
		"a tenth more": {boil(22.3 - 2.85), nil},
		// 3.24 L/h and not 2.59: to get that, 2·2.59 - 3.24 = 1.9.
		"a quarter more":      {boil(22.3 - 3.24), []string{"The boil took 3.2 L/h, by the volumes that were read, and 2.6 L/h were asked"}},
		"a quarter more too":  {boil(22.3 - 3.24), []string{"write boil_off: 1.9 L/h"}},
		"a quarter less":      {boil(22.3 - 1.94), []string{"write boil_off: 3.2 L/h"}},
		"half a kelvin":       {boil(22.3-2.59, 0.4, -0.3), nil},
		"a probe too high":    {boil(22.3-2.59, -0.8, -0.6, -1), []string{"stood 0.8 °C below the probe, 3 times at rest"}},
		"one comparison":      {boil(22.3-2.59, 2.4), []string{"stood 2.4 °C above the probe, once at rest"}},
		"it differs anyhow":   {boil(22.3-2.59, 2.4, -1), []string{"differs so differently"}},
		"nobody read a thing": {nil, nil},
	} {
		got := suggest.Advise(c.f)
		if len(got) != len(c.want) || got == nil {
			t.Errorf("%s: %q", name, got)
			continue
		}
		for i, want := range c.want {
			if !strings.Contains(got[i], want) {
				t.Errorf("%s: %q says nothing of %q", name, got[i], want)
			}
		}
	}
}
