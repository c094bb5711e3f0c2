package plan

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/gravity"
)

// What is planned forwards from a scaled profile is what was wished for, to
// what can be measured out: 0.0005 in gravity and 1 % of the volume.
func TestAScaledDayComesToWhatWasWished(t *testing.T) {
	for seed := range uint64(1000) {
		r := rand.New(rand.NewPCG(seed, 6))
		span := func(low, high float64) float64 { return low + r.Float64()*(high-low) }
		brew, kettle := rye(), yard()
		kettle.Retention, kettle.Power = unit.LitresPerKilogram(span(0.4, 1.2)), unit.Watts(span(2500, 6000))
		kettle.Capacity, kettle.ElementCoveredAt, kettle.ProbeCoveredAt, kettle.Fuse = 300, 1, 1, 0
		if r.IntN(2) == 0 {
			brew.Steps[5].BoilOff = 0
		}
		brew.Trub = unit.Ratio(span(0, 0.1))
		before, _ := Make(brew, kettle)
		w := Wish{Volume: unit.Litres(span(6, 90)), Gravity: unit.SpecificGravity(span(1.03, 1.065))}
		switch r.IntN(4) {
		case 0:
			w.Gravity = 0
		case 1:
			w.Volume = 0
		case 2:
			w = Wish{Grain: unit.Kilograms(span(1, 20))}
		}
		s, err := Scale(brew, kettle, w)
		if err != nil {
			t.Fatalf("seed %d: %+v: %v", seed, w, err)
		}
		p, problems := Make(s.Profile, kettle)
		if !p.Wort.Known {
			t.Fatalf("seed %d: %v", seed, problems)
		}
		wanted := w.Gravity
		if wanted == 0 { // it stays, but where the element sets the boil
			wanted = before.Wort.Original.Gravity
			if heatLimited(p) || heatLimited(before) {
				wanted = p.Wort.Original.Gravity
			}
		}
		within(t, "gravity", float64(p.Wort.Original.Gravity), float64(wanted), 0.0005)
		volume := w.Volume
		if volume == 0 && w.Grain == 0 {
			volume = before.Wort.Fermenter.Volume
		}
		if volume > 0 {
			within(t, "L in the fermenter", float64(p.Wort.Fermenter.Volume), float64(volume), 0.01*float64(volume)+0.05)
		}
		if w.Gravity == 0 {
			within(t, "L/kg", float64(p.Water)/float64(p.Grain.Mass), 26/4.6, 0.05)
		}
	}
}

// heatLimited tells whether the element could not do the boil that was asked.
func heatLimited(p Plan) bool {
	most := p.Kettle.mostBoilOff(p.Boiling)
	return p.Boils[0].Rate > most*0.999
}

// By hand: the sample gives 18.35 L; half of it in the same bag, at the same
// L/kg and vigour, is half of everything. 13.0 L, 2.3 kg, 1.2 L/h, 14 g.
func TestHalfADayIsHalfOfEverything(t *testing.T) {
	brew := rye()
	s, err := Scale(brew, yard(), Wish{Volume: 18.354 / 2})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "water, L", float64(s.Profile.Water), 13, 1e-9)
	within(t, "grain, kg", float64(s.Profile.Grain.Mass), 2.3, 1e-9)
	within(t, "boil-off, L/h", perHour(s.Profile.Steps[5].BoilOff), 1.2, 1e-9)
	if got := s.Profile.Steps[5].Additions; got[0].Add != "14 g bittering hops" || got[1].Add != "finings" || got[0].Left != 60*time.Minute {
		t.Errorf("%+v", got)
	}
	if brew.Steps[5].Additions[0].Add != "28 g bittering hops" || brew.Steps[5].BoilOff != rye().Steps[5].BoilOff {
		t.Error("the profile that was scaled is changed")
	}
	told := strings.Join(s.Changes, "\n")
	for _, want := range []string{
		"13.0 L of water instead of 26.0 L, and 2.3 kg of grain instead of 4.6 kg: 9.2 L go into the fermenter instead of 18.4 L.",
		"The mash keeps its 5.7 L/kg.", "The original gravity stays at 1.051 (12.7 °P).",
		"boil_off is 1.20 L/h instead of 2.40 L/h, the same share of the wort.",
		"“finings” stays as it is: no amount stands in front.", "multiplied by 0.500.",
	} {
		if !strings.Contains(told, want) {
			t.Errorf("not told: %s\n%s", want, told)
		}
	}
}

// The yard kettle's element ends heat below 13 L, so that less than
// 13 L x 95 % = 12.35 L cannot be left, and the count that ends heat takes a litre
// more off; its 50 L are full before the lift.
func TestTheRangeThatFitsEndsWhereTheDayIsRefused(t *testing.T) {
	least, most := Fitting(rye(), yard(), 0)
	if least != 13.5 {
		t.Errorf("from %v L", least)
	}
	for v, fits := range map[unit.Litres]bool{least: true, least - 0.5: false, most: true, most + 0.5: false} {
		s, err := Scale(rye(), yard(), Wish{Volume: v})
		if err != nil {
			t.Fatal(err)
		}
		if _, problems := Make(s.Profile, yard()); Refused(problems) == fits {
			t.Errorf("%v L: %v", v, problems)
		}
	}
	kettle := yard()
	kettle.Fuse = 10
	if least, most = Fitting(rye(), kettle, 1.050); least != 0 || most != 0 {
		t.Errorf("on a fuse that is too small %v to %v L fit", least, most)
	}
}

func TestAStrongerDaySaysThatTheMashChanges(t *testing.T) {
	s, err := Scale(rye(), yard(), Wish{Gravity: 1.060})
	if err != nil {
		t.Fatal(err)
	}
	told := strings.Join(s.Changes, "\n")
	if !strings.Contains(told, "The mash changes from 5.7 to ") || !strings.Contains(told, "The original gravity is 1.060 (14.7 °P) instead of 1.051") {
		t.Error(told)
	}
}

func TestWhatCannotBeScaledIsRefused(t *testing.T) {
	water, mash := rye(), rye()
	water.Grain = profile.Grain{}
	mash.Steps = mash.Steps[:4]
	dry := rye()
	dry.Water = 3
	for name, c := range map[string]struct {
		p    profile.Profile
		w    Wish
		says string
	}{
		"no grain":        {water, Wish{Volume: 19}, "no grain"},
		"no lift":         {mash, Wish{Volume: 19}, "does not lift it out"},
		"no wish":         {rye(), Wish{}, "nothing is wished for"},
		"too many wishes": {rye(), Wish{Grain: 5, Volume: 19}, "grain follows"},
		"no wort":         {dry, Wish{Volume: 19}, "keeps more than all the water"},
		"water":           {rye(), Wish{Gravity: 0.999}, "no gravity to brew to"},
		"syrup":           {rye(), Wish{Gravity: 1.199, Volume: 19}, "cannot be mashed"},
	} {
		kettle := yard()
		if name == "syrup" {
			kettle.Retention = 2
		}
		s, err := Scale(c.p, kettle, c.w)
		var refusal *gravity.Refusal
		if !errors.As(err, &refusal) || !strings.Contains(err.Error(), c.says) || s.Profile.Name != "" {
			t.Errorf("%s: %+v, %v", name, s.Profile, err)
		}
	}
}

func TestAmountsAreWrittenAsPeopleDo(t *testing.T) {
	for v, want := range map[float64]string{27.34: "27.3", 1234.4: "1234", 0.456: "0.46", 14: "14", 99.96: "100"} {
		if got := digits(v); got != want {
			t.Errorf("%v is written %s, not %s", v, got, want)
		}
	}
	if !math.IsNaN(measured(math.NaN(), 1, 100)) {
		t.Error("what is no number became one")
	}
}
