package gravity

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"mashward/controller/unit"
)

func rye() Brew {
	return Brew{
		Water: 26, Grain: 4.6, Malt: Malt{Moisture: 0.04, Extract: 0.80, Conversion: 0.92}, Retention: 0.65,
		Boil: Boil{For: 75 * time.Minute, Rate: 2.3 / 3600},
	}
}

// Worked on paper before any of this was written, with the ASBC's polynomial,
// 80 % extract, 92 % of it dissolved, 0.65 L/kg kept by the bag, 4 % moisture:
// 4.6 kg in 26 L make 23.0 L of 1.044, and 20.1 L of 1.051 after 75 min; 5.4 kg
// make 22.5 L of 1.051, of which 16.6 L at 1.0695 are left by a full boil.
func TestTwoBrewsMeetTheirHandCalculation(t *testing.T) {
	c, err := rye().Course()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "before the boil, L", float64(c.PreBoil.Volume), 23.0, 0.05)
	near(t, "before the boil", float64(c.PreBoil.Gravity), 1.044, 0.0005)
	near(t, "after the boil, L", float64(c.Original.Volume), 20.1, 0.05)
	near(t, "after the boil", float64(c.Original.Gravity), 1.051, 0.0005)
	b := rye()
	b.Grain, b.Boil = 5.4, Boil{For: 75 * time.Minute, Rate: 4.7 / 3600}
	if c, err = b.Course(); err != nil {
		t.Fatal(err)
	}
	near(t, "before the boil, L", float64(c.PreBoil.Volume), 22.5, 0.05)
	near(t, "before the boil", float64(c.PreBoil.Gravity), 1.051, 0.0005)
	near(t, "after the boil, L", float64(c.Original.Volume), 16.6, 0.05)
	near(t, "after the boil", float64(c.Original.Gravity), 1.0695, 0.0005)
}

// 1 kg/h of steam at 101.325 kPa takes 626.8 W, so that 3000 W boil off
// 4.786 kg/h (IAPWS-IF97).
func TestABoilTakesPowerAboveLoss(t *testing.T) {
	near(t, "3000 W, L/h", float64(BoilRate(3000, 0, 18, 99.974))*3600, 4.786/0.998206, 0.001)
	near(t, "600 W of loss", float64(BoilRate(3600, 7.5, 19.974, 99.974))*3600, 4.786/0.998206, 0.001)
	if BoilRate(300, 7.5, 20, 100) != 0 {
		t.Error("less than the loss boils something off")
	}
}

// randomBrew is a brew of the domain.
func randomBrew(r *rand.Rand) Brew {
	span := func(low, high float64) float64 { return low + r.Float64()*(high-low) }
	b := Brew{
		Grain:     unit.Kilograms(span(1, 20)),
		Malt:      Malt{Moisture: unit.Ratio(span(0, 0.1)), Extract: unit.Ratio(span(0.6, 0.85)), Conversion: unit.Ratio(span(0.7, 1))},
		Retention: unit.LitresPerKilogram(span(0.3, 1.5)), Trub: unit.Ratio(span(0, 0.2)),
		Boil: Boil{For: time.Duration(span(0, 120)) * time.Minute},
	}
	b.Water = unit.Litres(float64(b.Grain) * span(2.5, 8))
	switch r.IntN(3) {
	case 0:
		b.Boil.Rate = unit.LitresPerSecond(0.1 * float64(b.Grain) / 3600)
	case 1:
		b.Boil.Share = unit.Ratio(span(0, 0.2))
	default:
		b.Boil.Share, b.Boil.Most = unit.Ratio(span(0, 0.2)), unit.LitresPerSecond(span(0.05, 0.2)*float64(b.Grain)/3600)
	}
	return b
}

func TestExtractAndWaterAreKeptThroughTheDay(t *testing.T) {
	for seed := range uint64(2000) {
		b := randomBrew(rand.New(rand.NewPCG(seed, 1)))
		c, err := b.Course()
		if err != nil {
			t.Fatal(seed, err)
		}
		near(t, "points through the boil", c.Original.Points(), c.PreBoil.Points(), 1e-9*c.PreBoil.Points())
		near(t, "litres", float64(c.Fermenter.Volume+c.Left+c.Evaporated+c.Retained), float64(b.Water), 1e-9*float64(b.Water))
		near(t, "extract out and kept", float64(c.PreBoil.Extract()+c.Kept), float64(c.Dissolved), 1e-9)
		if c.Kept < 0 || c.Dissolved > c.Possible || c.Efficiency() <= 0 || c.Efficiency() > 1 || c.Evaporated < 0 {
			t.Errorf("seed %d: %+v", seed, c)
		}
	}
}

func TestBackwardsIsForwardsTurnedRound(t *testing.T) {
	for seed := range uint64(2000) {
		b := randomBrew(rand.New(rand.NewPCG(seed, 2)))
		c, err := b.Course()
		if err != nil {
			t.Fatal(seed, err)
		}
		blank := b
		blank.Water, blank.Grain = 0, 0
		for name, solve := range map[string]func() (Brew, error){
			"wanted": func() (Brew, error) { return blank.Wanted(c.Fermenter) },
			"thickness": func() (Brew, error) {
				return blank.AtThickness(c.Fermenter.Volume, unit.LitresPerKilogram(float64(b.Water)/float64(b.Grain)))
			},
			"water": func() (Brew, error) { blank.Grain = b.Grain; return blank.WaterFor(c.Original.Gravity) },
		} {
			got, err := solve()
			if err != nil {
				t.Fatalf("seed %d, %s: %v", seed, name, err)
			}
			near(t, name+": water", float64(got.Water), float64(b.Water), 1e-7*float64(b.Water))
			near(t, name+": grain", float64(got.Grain), float64(b.Grain), 1e-7*float64(b.Grain))
		}
	}
}

func TestMoreIsMore(t *testing.T) {
	for seed := range uint64(500) {
		b := randomBrew(rand.New(rand.NewPCG(seed, 3)))
		first, err := b.Course()
		if err != nil {
			t.Fatal(err)
		}
		for what, change := range map[string]struct {
			edit             func(*Brew)
			gravity, volumes int // sign of the change
		}{
			"grain":      {func(b *Brew) { b.Grain *= 1.01 }, 1, -1},
			"extract":    {func(b *Brew) { b.Malt.Extract *= 1.01 }, 1, 0},
			"conversion": {func(b *Brew) { b.Malt.Conversion *= 0.99 }, -1, 0},
			"water":      {func(b *Brew) { b.Water *= 1.01 }, -1, 1},
			"trub":       {func(b *Brew) { b.Trub += 0.01 }, 0, -1},
			"moisture":   {func(b *Brew) { b.Malt.Moisture += 0.01 }, -1, 0},
		} {
			more := b
			change.edit(&more)
			got, err := more.Course()
			if err != nil {
				t.Fatal(err)
			}
			if sign(float64(got.Original.Gravity-first.Original.Gravity)) != change.gravity && b.Boil.Rate == 0 {
				t.Errorf("seed %d: more %s moves the gravity from %.6f to %.6f", seed, what, first.Original.Gravity, got.Original.Gravity)
			}
			if sign(float64(got.Fermenter.Volume-first.Fermenter.Volume)) != change.volumes {
				t.Errorf("seed %d: more %s moves the volume from %.4f to %.4f", seed, what, first.Fermenter.Volume, got.Fermenter.Volume)
			}
		}
	}
}

func sign(v float64) int {
	switch {
	case v > 1e-12:
		return 1
	case v < -1e-12:
		return -1
	}
	return 0
}

func TestARemedyMeetsItsTarget(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	boiled, watered := 0, 0
	for range 2000 {
		w := Wort{Volume: unit.Litres(5 + 60*random.Float64()), Gravity: unit.SpecificGravity(1.02 + 0.06*random.Float64())}
		target, rate := unit.SpecificGravity(1.02+0.06*random.Float64()), unit.LitresPerSecond((1+4*random.Float64())/3600)
		r, err := Meet(w, target, rate)
		var refusal *Refusal
		if errors.As(err, &refusal) {
			if float64(w.Points())/1000/float64(target-1) > float64(w.Volume)-float64(rate)*longestRemedy.Seconds() {
				t.Errorf("%+v to %v was refused: %v", w, target, err)
			}
			continue
		}
		after, err := w.With(r.Water - unit.Litres(float64(rate)*r.Boil.Seconds()))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "gravity after the remedy", float64(after.Gravity), float64(target), 0.0005)
		if r.Boil > 0 {
			boiled++
		}
		if r.Water > 0 {
			watered++
		}
	}
	if boiled < 200 || watered < 200 {
		t.Errorf("%d boiled, %d watered: the test sees too little", boiled, watered)
	}
}

// By hand: 20 L of 1.048 have 960 points; at 1.050 they are 19.2 L, and 0.8 L
// are 20 min at 2.4 L/h. 20 L of 1.053 have 1060: 1.2 L of water.
func TestRemediesWorkedByHand(t *testing.T) {
	r, err := Meet(Wort{20, 1.048}, 1.050, 2.4/3600)
	if err != nil || (r.Boil-20*time.Minute).Abs() > time.Second || r.Water != 0 {
		t.Errorf("%+v, %v", r, err)
	}
	r, err = Meet(Wort{20, 1.053}, 1.050, 0)
	if err != nil || math.Abs(float64(r.Water)-1.2) > 1e-6 || r.Boil != 0 {
		t.Errorf("%+v, %v", r, err)
	}
	r, err = Meet(Wort{20, 1.0503}, 1.050, 0)
	if err != nil || r.Boil != 0 || r.Water != 0 {
		t.Errorf("what is within 0.0005 is left alone: %+v, %v", r, err)
	}
	for _, bad := range []struct {
		w      Wort
		target unit.SpecificGravity
		rate   unit.LitresPerSecond
	}{{Wort{20, 1.03}, 1.05, 0}, {Wort{20, 1.03}, 1.09, 0.5 / 3600}, {Wort{20, 1}, 1.05, 1}, {Wort{0, 1.05}, 1.05, 1}, {Wort{20, 1.05}, 1, 1}, {Wort{unit.Litres(math.NaN()), 1.05}, 1.04, 1}} {
		if r, err := Meet(bad.w, bad.target, bad.rate); err == nil || r != (Remedy{}) {
			t.Errorf("%+v: %+v, %v", bad, r, err)
		}
	}
}

func TestWhatCannotBeBrewedIsRefused(t *testing.T) {
	without := func(edit func(*Brew)) Brew { b := rye(); edit(&b); return b }
	for what, b := range map[string]Brew{
		"no grain":           without(func(b *Brew) { b.Grain = 0 }),
		"no water":           without(func(b *Brew) { b.Water = 0 }),
		"no extract":         without(func(b *Brew) { b.Malt.Extract = 0 }),
		"all kept":           without(func(b *Brew) { b.Water = 2 }),
		"all boiled off":     without(func(b *Brew) { b.Boil.Rate = 20.0 / 3600 }),
		"an extract of 120%": without(func(b *Brew) { b.Malt.Extract = 1.2 }),
		"no number":          without(func(b *Brew) { b.Trub = unit.Ratio(math.NaN()) }),
	} {
		c, err := b.Course()
		var refusal *Refusal
		if !errors.As(err, &refusal) || c != (Course{}) || refusal.Remedy == "" {
			t.Errorf("%s: %+v, %v", what, c, err)
		}
	}
	for what, solve := range map[string]func() (Brew, error){
		"too strong":     func() (Brew, error) { b := rye(); b.Retention = 2; return b.Wanted(Wort{19, 1.19}) },
		"water wanted":   func() (Brew, error) { return rye().Wanted(Wort{19, 1}) },
		"nothing wanted": func() (Brew, error) { return rye().Wanted(Wort{0, 1.05}) },
		"too thick":      func() (Brew, error) { return rye().AtThickness(19, 0.5) },
		"a boil of all": func() (Brew, error) {
			return without(func(b *Brew) { b.Boil = Boil{For: time.Hour, Share: 1} }).Wanted(Wort{19, 1.05})
		},
		"grain too weak": func() (Brew, error) { b := rye(); b.Malt.Extract, b.Boil = 0.05, Boil{}; return b.WaterFor(1.09) },
		"no such grain":  func() (Brew, error) { return Brew{Malt: rye().Malt}.WaterFor(1.05) },
	} {
		b, err := solve()
		var refusal *Refusal
		if !errors.As(err, &refusal) || b != (Brew{}) {
			t.Errorf("%s: %+v, %v", what, b, err)
		}
	}
}
