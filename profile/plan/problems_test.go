package plan

import (
	"math"
	"strings"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
)

// about finds the problem whose text holds some words.
func about(problems []Problem, words string) (Problem, bool) {
	for _, p := range problems {
		if strings.Contains(p.What+" | "+p.Remedy, words) {
			return p, true
		}
	}
	return Problem{}, false
}

// mistakes are one change each to the sample brew or its kettle, with what must be said.
var mistakes = []struct {
	name    string
	change  func(*profile.Profile, *Kettle)
	words   string // in what is said
	remedy  string
	refused bool
	step    int
	line    int
}{
	{
		"a target beyond the element", func(p *profile.Profile, k *Kettle) { k.Power, k.Loss, k.Voltage = 600, 11, 0 },
		"entry 4, mash-out, cannot reach 77.0 °C: at full power this kettle comes to rest at 72.5 °C", "well below 72.5 °C", true, 4, 8,
	},
	{
		"strike water beyond the element", func(p *profile.Profile, k *Kettle) { k.Power, k.Loss = 300, 12 },
		"the strike water cannot reach 45.8 °C: at full power this kettle comes to rest at 43.0 °C", "stronger element", true, 0, 0,
	},
	{"strike water beyond boiling", func(p *profile.Profile, _ *Kettle) {
		p.Water, p.Grain.Mass, p.Steps[0].Target, p.Steps[1].Target, p.Steps[2].Target = 15, 14, 76, 77, 77
	}, "at this altitude water boils at 98.8 °C", "more water or less grain", true, 1, 5},
	{
		"a boil beyond the element", func(_ *profile.Profile, k *Kettle) { k.Power = 1100 },
		"entry 6, boil, cannot reach 98.8 °C", "stronger element", true, 6, 10,
	},
	{
		"a boil-off beyond the element", func(p *profile.Profile, _ *Kettle) { p.Steps[5].BoilOff = 5.0 / 3600 },
		"boiling off 5.0 L/h takes 3.8 kW, more than the element's 3.0 kW", "at full power it boils off 3.8 L/h", false, 6, 10,
	},
	{
		"a boil-off that only simmers", func(p *profile.Profile, _ *Kettle) { p.Steps[5].BoilOff = 0.5 / 3600 },
		"less than the open surface loses without boiling", "higher `boil_off`", false, 6, 10,
	},
	{
		"a break that 60 % cannot pass", func(_ *profile.Profile, k *Kettle) { k.Power = 2000 },
		"would not carry the open kettle through the hot break", "full power", false, 6, 10,
	},
	{
		"a ramp that is too steep", func(p *profile.Profile, _ *Kettle) { p.Steps[1].Ramp = 2.0 / 60 },
		"may rise by 2.00 °C a minute, but the element manages 1.34 at its end, 1.37 on the whole", "instead of 10 min", false, 2, 6,
	},
	{
		"an element bare at the end of the boil", func(_ *profile.Profile, k *Kettle) { k.ElementCoveredAt = 18.5 },
		"the end of the boil stands at 19.3 L, the lowest of the day, and the element is covered only from 18.5 L; the count that ends heat takes a tenth more power, and says 18.3 L: heat would end at 19.5 L",
		"fill at least 1.2 L more", true, 6, 10,
	},
	{
		"an element with little to spare", func(_ *profile.Profile, k *Kettle) { k.ElementCoveredAt = 17 },
		"and says 18.3 L: that is little to spare", "fill 1.7 L more", false, 6, 10,
	},
	{
		"a bare probe", func(_ *profile.Profile, k *Kettle) { k.ProbeCoveredAt = 19 },
		"the probe is covered only from 19.0 L: heat would end", "fill at least", true, 6, 10,
	},
	{
		"a mash over the rim", func(_ *profile.Profile, k *Kettle) { k.Capacity = 29 },
		"the mash before the lift takes 29.7 L hot, and the kettle holds 29.0 L", "take 0.7 L less water", true, 5, 9,
	},
	{
		"no room for foam", func(p *profile.Profile, k *Kettle) { k.Capacity, k.Retention = 30, 0 },
		"leaves 2.9 L free under the rim", "stand by", false, 6, 10,
	},
	{
		"a fuse too small", func(_ *profile.Profile, k *Kettle) { k.Fuse = 13 },
		"the element draws 13.0 A, 100 % of the 13 A fuse", "does not make an element fit a smaller circuit. Local code decides", true, 0, 0,
	},
	{
		"a fuse well used", func(_ *profile.Profile, _ *Kettle) {},
		"the element draws 13.0 A, 82 % of the 16 A fuse", "licensed electrician", false, 0, 0,
	},
	{
		"a probe blind in the boil", func(_ *profile.Profile, k *Kettle) { k.Probe = Return },
		"blind in the boil", "`in_boil: yes`", true, 6, 10,
	},
	{
		"a return without a pump", func(_ *profile.Profile, k *Kettle) { k.Probe, k.Pump = Return, false },
		"the rig has no pump", "move the probe", true, 0, 0,
	},
	{
		"a probe lifted with the grain", func(_ *profile.Profile, k *Kettle) { k.Probe = Bed },
		"leaves the wort with the lift", "put it into the wort", false, 5, 9,
	},
	{
		"a loosened limit", func(_ *profile.Profile, k *Kettle) { k.OverTemperature = 103 },
		"the over-temperature limit of 103.0 °C is looser than 102.8 °C", "write at most 102.8 °C", true, 0, 0,
	},
	{
		"a limit that cuts a healthy boil", func(_ *profile.Profile, k *Kettle) { k.OverTemperature = 101 },
		"a healthy boil may be cut off", "write 102.8 °C", false, 6, 10,
	},
	{
		"a limit below a target", func(_ *profile.Profile, k *Kettle) { k.OverTemperature = 76 },
		"mash-out at 77.0 °C lies at or above the over-temperature limit of 76.0 °C", "raise the limit", true, 4, 8,
	},
	{
		"a chill below the tap", func(p *profile.Profile, k *Kettle) { p.Steps[6].Target, k.Tap = 10, 17 },
		"it will end near 19.0 °C", "finish in the fridge", false, 7, 15,
	},
	{
		"a rest below the one before", func(p *profile.Profile, _ *Kettle) { p.Steps[2].Target = 60 },
		"rest at 60.0 °C lies 3.0 °C below what comes before it: with the lid on the kettle takes 20 min", "stir in about 1.8 L of water at 12 °C", false, 3, 7,
	},
	{
		"a rest below the room", func(p *profile.Profile, _ *Kettle) { p.Steps[2].Target = 15 },
		"lies below the room's 18.0 °C", "above the room's temperature", true, 3, 7,
	},
	{
		"grain that drinks all", func(p *profile.Profile, k *Kettle) { k.Retention = 6 },
		"nothing is left after the lift", "more water", true, 5, 9,
	},
	{
		"grain in the boil", func(p *profile.Profile, _ *Kettle) {
			p.Steps = append(append([]profile.Step{}, p.Steps[:4]...), p.Steps[5:]...)
		},
		"the grain is still in the kettle", "write `- lift`", true, 5, 10,
	},
	{
		"a slow heat-up", func(_ *profile.Profile, k *Kettle) { k.Power, k.Loss = 900, 10 },
		"takes 2 h", "stronger element", false, 6, 10,
	},
	{
		"a target that is no number", func(p *profile.Profile, _ *Kettle) { p.Steps[2].Target = unit.Celsius(math.NaN()) },
		"the kettle cannot cool to it", "choose a target", true, 3, 7,
	},
	{
		"a mash-in without grain", func(p *profile.Profile, _ *Kettle) { p.Grain.Mass = 0 },
		"mash-in, and the profile has no grain", "take the step out", true, 1, 5,
	},
	{
		"a mash-in that is not the first", func(p *profile.Profile, _ *Kettle) { p.Steps[0], p.Steps[1] = p.Steps[1], p.Steps[0] },
		"mash-in is entry 2", "make it the first entry", true, 2, 5,
	},
	{
		"a strike in the file", func(p *profile.Profile, _ *Kettle) { p.Steps[3].Kind = profile.Strike },
		"entry 4 is a strike, which cannot stand in a profile", "take it out", true, 4, 8,
	},
	{
		"a strike colder than the tap", func(p *profile.Profile, k *Kettle) { k.Tap = 50 },
		"the strike water would be 45.8 °C, colder than the tap's 50.0 °C", "cool the water", false, 0, 0,
	},
	{
		"a site on fire", func(_ *profile.Profile, k *Kettle) { k.Room = 70 },
		"a site temperature of 70.0 °C is out of range", "room and tap", true, 0, 0,
	},
	{
		"no steps", func(p *profile.Profile, _ *Kettle) { p.Steps = nil },
		"the profile has no steps", "at least one rest", true, 0, 0,
	},
	{"no power", func(_ *profile.Profile, k *Kettle) { k.Power = 0 }, "the element's power is missing", "write it", true, 0, 0},
	{"no water", func(p *profile.Profile, _ *Kettle) { p.Water = 0 }, "the profile's water is missing", "write it", true, 0, 0},
}

func TestEachProblemIsSaidWithItsRemedy(t *testing.T) {
	for _, row := range mistakes {
		t.Run(row.name, func(t *testing.T) {
			brew, kettle := rye(), yard()
			row.change(&brew, &kettle)
			p, problems := Make(brew, kettle)
			got, found := about(problems, row.words)
			if !found {
				t.Fatalf("not said: %q in %+v", row.words, problems)
			}
			if !strings.Contains(got.Remedy, row.remedy) || got.Refused != row.refused || got.Step != row.step || got.Line != row.line {
				t.Errorf("got %+v\nwant remedy %q, refused %v, step %d, line %d", got, row.remedy, row.refused, row.step, row.line)
			}
			if len(p.Problems) != len(problems) {
				t.Error("the plan does not carry its problems")
			}
		})
	}
}

func TestAHealthyDayHasNothingRefusedAndNothingNeedless(t *testing.T) {
	kettle := yard()
	kettle.Fuse = 20
	if _, problems := Make(rye(), kettle); len(problems) != 0 {
		t.Errorf("said of a healthy day: %+v", problems)
	}
}

func TestAProbeInTheReturnMayBoilWhereThePumpMay(t *testing.T) {
	kettle := yard()
	kettle.Probe, kettle.InBoil, kettle.ProbeCoveredAt = Return, true, 40
	p, problems := Make(rye(), kettle)
	if Refused(problems) {
		t.Errorf("refused: %+v", problems)
	}
	if !needs(p, "scald its loop") {
		t.Errorf("nobody is told that the pump starts: %+v", p.Persons)
	}
}

func needs(p Plan, words string) bool {
	for _, who := range p.Persons {
		if strings.Contains(who.What, words) {
			return true
		}
	}
	return false
}

func TestAnUnreachableTargetEndsTheStepsButNotTheChecks(t *testing.T) {
	kettle := yard()
	kettle.Power, kettle.Loss, kettle.Fuse, kettle.Voltage = 600, 11, 1, 230
	p, problems := Make(rye(), kettle)
	if last := p.Steps[len(p.Steps)-1]; last.Index != 3 || p.Finish != 0 {
		t.Errorf("the plan goes on after what it cannot reach: %+v, finish %v", last, p.Finish)
	}
	if _, found := about(problems, "fuse"); !found {
		t.Error("the fuse was not judged")
	}
}

func TestTheDefaultVigourIsATenthAnHourAndSaid(t *testing.T) {
	brew := rye()
	brew.Steps[5].BoilOff = 0
	p, _ := Make(brew, yard())
	b := p.Boils[0]
	within(t, "share an hour", float64(b.Share), 0.10, 1e-9)
	within(t, "rate, L/h", perHour(b.Rate), 2.232, 1e-6)
	within(t, "after, L", float64(b.After), 22.32-2.232*1.25, 1e-6)
	if duty := p.Steps[6].Duty; duty < 0.6 || duty > 0.7 {
		t.Errorf("duty %.2f, want well under full power", duty)
	}
	if text := strings.Join(strings.Fields(textOf(t, p)), " "); !strings.Contains(text, "2.2 L an hour, 10 %") || !strings.Contains(text, "the default vigour") {
		t.Errorf("the default is not said:\n%s", text)
	}
}

func TestAWaterOnlyDayHasNoStrikeAndNoGrain(t *testing.T) {
	p, problems := Make(profile.Profile{Name: "Hot water", Water: 20, Steps: []profile.Step{
		{Kind: profile.Rest, Target: 62, For: 30 * time.Minute},
	}}, yard())
	if p.HasStrike || len(p.Steps) != 1 || p.Steps[0].Index != 1 || Refused(problems) {
		t.Fatalf("got %+v, %+v", p.Steps, problems)
	}
	text := textOf(t, p)
	for _, word := range []string{"Strike", "grain keeps", "bag"} {
		if strings.Contains(text, word) {
			t.Errorf("a day of water speaks of %q:\n%s", word, text)
		}
	}
	if !strings.Contains(text, "no grain") {
		t.Errorf("the text does not say that there is no grain:\n%s", text)
	}
}

// J. Hosom's measured fit of open kettles: 45 cm and 50 L fall from 100.10 to
// 86.43 °C in 20 min.
func TestAStandAfterTheBoilFallsAsAnOpenKettleDoes(t *testing.T) {
	kettle := yard()
	kettle.Diameter, kettle.Capacity, kettle.Altitude, kettle.ElementCoveredAt = 0.45, 80, 0, 5
	p, problems := Make(profile.Profile{Water: 50, Steps: []profile.Step{
		{Kind: profile.Boil, For: time.Minute, BoilOff: 1e-9},
		{Kind: profile.Stand, Target: 86.43, For: 20 * time.Minute, Additions: []profile.Addition{{Left: 15 * time.Minute, Add: "40 g late hops"}, {Left: 15 * time.Minute, Add: "peel"}}},
		{Kind: profile.Stand, Target: 50, For: 20 * time.Minute},
	}}, kettle)
	if Refused(problems) {
		t.Fatal(problems)
	}
	within(t, "fall, min", p.Steps[1].Heat().Minutes(), 20, 0.3) // it starts at 99.97 °C
	if !needs(p, "Add 40 g late hops and peel: 15 min left of the stand.") {
		t.Errorf("the addition is not asked for: %+v", p.Persons)
	}
	if _, found := about(problems, "`- {chill: 50 °C}`"); !found {
		t.Errorf("nobody is told to chill to the second stand: %+v", problems)
	}
}

func TestStirringAndSlakingMoveTheStrike(t *testing.T) {
	plain, _ := Make(rye(), yard())
	brew, kettle := rye(), yard()
	brew.Grain.Slaking, kettle.Stirring = 19400, 1
	p, _ := Make(brew, kettle)
	c := float64(plain.Strike.WaterCapacity + plain.Strike.VesselCapacity)
	want := float64(plain.Strike.Temperature) - 19400*4.6/c + (c+4.6*0.4*4186)/c
	within(t, "strike, °C", float64(p.Strike.Temperature), want, 1e-9)
	if text := textOf(t, p); !strings.Contains(text, "set free") || !strings.Contains(text, "while stirring") {
		t.Errorf("the terms are not shown:\n%s", text)
	}
}
