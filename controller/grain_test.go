package controller_test

import (
	"testing"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

func grain(mass unit.Kilograms, at unit.Celsius) controller.Command {
	return controller.Command{Wish: controller.GrainIs, Grain: mass, At: at}
}

// The method of mixtures by hand. Water 26 L: 25.953 kg at 4186 J/(kg K) are 108.64 kJ/K,
// with the vessel's 4.1 kJ/K 112.74 kJ/K. Malt of 4 % moisture has 0.40 of water's heat
// (ATP Group catalogue, p. 105): 1.6744 kJ/(kg K).
//
//	5.5 kg of 10 °C: 9.209 kJ/K, 44 + 9.209·(44 - 10)/112.74 = 46.78 °C, load 121.95 kJ/K
//	4.0 kg of 25 °C: 6.698 kJ/K, 44 + 6.698·(44 - 25)/112.74 = 45.13 °C, load 119.44 kJ/K
func TestStrikeAndLoadsFollowTheGrainAsItWasWeighed(t *testing.T) {
	for _, c := range []struct {
		mass         unit.Kilograms
		at           unit.Celsius
		strike, load float64 // °C, kJ/K of water and grain
		afterLift    float64 // 26 L less 0.8043 L/kg
	}{
		{5.5, 10, 46.78, 112.9 + 9.446, 21.576},
		{4, 25, 45.13, 112.9 + 6.870, 22.783},
	} {
		x := along(t, sampleConfig(), profile.Strike, controller.Heat).run(5 * minute)
		if why := x.order(grain(c.mass, c.at)); why != controller.NotRefused {
			t.Fatal(why)
		}
		near(t, "strike", float64(x.d.Target), c.strike, 0.01)
		near(t, "said", x.value(t, controller.StrikeMoved), c.strike, 0.01)
		x.answers = true
		x.to(t, profile.Strike, controller.Ready)
		near(t, "water as the person is called", x.k.at, c.strike, 0.3)
		x.to(t, profile.MashIn, controller.Settle)
		// The plan's figure for 4.6 kg is 7.9 kJ/K, and goes with the mass.
		near(t, "load of the mash", float64(x.s.Load)/1e3, c.load, 0.01)
		x.to(t, profile.Lift, controller.Drain)
		near(t, "after the lift", float64(x.d.Water), c.afterLift, 0.01)
		// Of wort: 4.1 kJ/K of vessel and the rest by the litre, 93.2 kJ/K for 22.3 L.
		near(t, "load of the wort", float64(x.s.Load)/1e3, 4.1+93.2*c.afterLift/22.3, 0.01)
	}
}

// Colder than the water is by now: it is not handed over before it has cooled. Cold
// water does it at once, by the method of mixtures.
func TestWaterTooHotForTheGrainHasToCool(t *testing.T) {
	x := along(t, sampleConfig(), profile.Strike, controller.Ready)
	if why := x.order(grain(3, 40)); why != controller.NotRefused {
		t.Fatal(why)
	}
	// 3 kg: 5.023 kJ/K, 44 + 5.023·4/112.74 = 44.18 °C.
	near(t, "strike", float64(x.d.Target), 44.18, 0.01)
	if x.d.Stage != controller.Heat || x.d.Phase != controller.Cooling {
		t.Fatalf("%v %v", x.d.Stage, x.d.Phase)
	}
	x.off(t, "while it cools", 10*minute, false)
	if x.d.Prompt != controller.NoPrompt {
		t.Errorf("asked %v of water of %.2f °C", x.d.Prompt, x.k.at)
	}
	// 1.5 L of 12 °C: 1.499 kg, 6.276 kJ/K.
	x.k.mix(6276, 12)
	if why := x.order(deed(controller.Added, 1.5, 12)); why != controller.NotRefused {
		t.Fatal(why)
	}
	x.to(t, profile.Strike, controller.Ready)
	near(t, "ready", x.k.at, float64(x.d.Target), 0.3)
}

// In a kettle that heats already the new temperature is heated for at once, and the
// one that is ready is heated again.
func TestColderGrainIsHeatedForAtOnce(t *testing.T) {
	for _, stage := range []controller.Stage{controller.Heat, controller.Ready} {
		x := along(t, sampleConfig(), profile.Strike, stage)
		if why := x.order(grain(4.6, 5)); why != controller.NotRefused {
			t.Fatal(why)
		}
		if x.d.Stage != controller.Heat || x.d.Way != controller.Full {
			t.Errorf("%v: %v, %v", stage, x.d.Stage, x.d.Way)
		}
		x.to(t, profile.Strike, controller.Ready)
		// 7.702 kJ/K: 44 + 7.702·39/112.74.
		near(t, "ready", x.k.at, 46.66, 0.3)
	}
}

func TestGrainIsRefusedWithAReason(t *testing.T) {
	x := along(t, sampleConfig(), profile.Strike, controller.Heat)
	hot := sampleConfig()
	hot.StrikeMost = 47
	full := sampleConfig()
	full.Capacity = 29.5
	low := sampleConfig()
	low.CoveredAt = 20.5
	for _, c := range []struct {
		name   string
		config controller.Config
		told   controller.Command
		want   controller.Refusal
	}{
		{"no mass", sampleConfig(), grain(0, 18), controller.NotGrain},
		{"a tenth of a gram too many zeros", sampleConfig(), grain(46, 18), controller.NotGrain},
		{"half of it left at home", sampleConfig(), grain(2.2, 18), controller.NotGrain},
		{"no temperature", sampleConfig(), grain(4.6, 0), controller.NotGrain},
		{"from the oven", sampleConfig(), grain(4.6, 51), controller.NotGrain},
		{"too near the limit", hot, grain(6, 8), controller.StrikeTooHot},
		{"over the rim", full, grain(6, 18), controller.Overfull},
		{"keeps too much", low, grain(6, 18), controller.TooMuchGrain},
	} {
		y := x.from()
		y.core.Config = c.config
		before := y.s
		y.refuse(t, c.told, c.want)
		if y.s.Deeds != before.Deeds || y.s.Steps != before.Steps {
			t.Errorf("%s: refused, and something of it is kept", c.name)
		}
	}
	y := x.from()
	y.core.Config.StrikeMost = 0 // nothing is known of the limit
	y.refuse(t, grain(4.6, 10), controller.StrikeTooHot)
}

// Whatever is told, and in whatever order, the water is never made hotter than what
// the limit leaves room for.
func TestNoWordMakesTheStrikeHotterThanTheLimitAllows(t *testing.T) {
	c := sampleConfig()
	c.StrikeMost = 47.5
	x := along(t, c, profile.Strike, controller.Heat)
	for range 5 {
		for _, told := range []controller.Command{
			grain(4.6, 7), deed(controller.TookOut, 2, 0), grain(6, 12), grain(7, 2), deed(controller.VolumeIs, 21, 20), grain(9.2, 30),
		} {
			x.order(told)
			x.run(minute)
			if x.d.Target > 47.5 {
				t.Fatalf("%+v: strike %.2f °C", told, float64(x.d.Target))
			}
		}
	}
}
