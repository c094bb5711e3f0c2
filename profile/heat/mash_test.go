package heat

import (
	"errors"
	"math"
	"testing"

	"mashward/controller/unit"
)

// moistureFor gives the malt moisture at which GrainHeat is relative to
// water, so that published examples with their own specific heat can be run.
func moistureFor(t *testing.T, relative float64) unit.Ratio {
	t.Helper()
	for m := unit.Ratio(0.01); m < 0.09; m += 0.00005 {
		if GrainHeat(m)/WaterHeat >= relative-1e-9 {
			return m
		}
	}
	t.Fatalf("no moisture gives %g of water's heat", relative)
	return 0
}

// ofWater is the cold volume that weighs so many kilograms: the published
// formulas take one litre as one kilogram.
func ofWater(kilograms float64) unit.Litres { return ColdVolume(unit.Kilograms(kilograms)) }

func TestMaltHeatIsTheATPCatalogueTable(t *testing.T) {
	for _, row := range []struct{ percent, kilojoules float64 }{
		{0, 1.59}, {1, 1.59}, {2, 1.63}, {3, 1.68}, {4, 1.68}, {6, 1.72}, {8, 1.76},
	} {
		near(t, "kJ/(kg K)", GrainHeat(unit.Ratio(row.percent/100))/1000, row.kilojoules, 0.006)
	}
	near(t, "between the rows", GrainHeat(0.05)/WaterHeat, 0.405, 1e-12)
	near(t, "above the table", GrainHeat(0.10)/WaterHeat, 0.43, 1e-12)
	near(t, "a missing moisture is dry", GrainHeat(unit.Ratio(math.NaN()))/WaterHeat, 0.38, 1e-12)
}

// Murphy & Son, appendix 4 (initial mash temperature), inputs; result by its
// formula. Without the slaking correction, and with it as the heat that makes
// 2.3 K at this thickness.
func TestInitialHeatOfMurphyAndSonsExample(t *testing.T) {
	m := Mash{Water: ofWater(2.68), Grain: 1, GrainTemperature: 27, Moisture: 0.02}
	got, err := Mixed(m, 69)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "without slaking", float64(got), 63.664, 0.0005)
	m.Slaking = unit.JoulesPerKilogram(2.3 * (2.68 + 0.39) * WaterHeat)
	got, _ = Mixed(m, 69)
	near(t, "with slaking", float64(got), 65.96, 0.005)

	// The same page in °F: malt 80, liquor 156, correction 4.
	fahrenheit := Mash{
		Water: ofWater(2.68), Grain: 1, GrainTemperature: fromF(80), Moisture: 0.02,
		Slaking: unit.JoulesPerKilogram(4 / 1.8 * (2.68 + 0.39) * WaterHeat),
	}
	got, _ = Mixed(fahrenheit, fromF(156))
	near(t, "°F at 2.68", toF(got), 150.35, 0.006)
	fahrenheit.Water, fahrenheit.Slaking = ofWater(2.5), unit.JoulesPerKilogram(4/1.8*(2.5+0.39)*WaterHeat)
	got, _ = Mixed(fahrenheit, fromF(156))
	near(t, "°F at 2.5", toF(got), 149.74, 0.006)
}

func fromF(f float64) unit.Celsius { return unit.Celsius((f - 32) / 1.8) }
func toF(c unit.Celsius) float64   { return float64(c)*1.8 + 32 }

// J. Palmer's rule, How to Brew: Tw = (0.41/r)(T2 - T1) + T2, r in L/kg; the
// rows of 0.40 are the same rule with the catalogue's specific heat.
func TestStrikeMatchesThePublishedInfusionRule(t *testing.T) {
	for _, row := range []struct{ relative, grain, target, thickness, strike float64 }{
		{0.41, 20, 66, 2.5, 73.544},
		{0.40, 20, 66, 2.5, 73.360},
		{0.41, 20, 65, 3, 71.150},
		{0.40, 20, 65, 3, 71.000},
		{0.41, 18, 52, 4, 55.485},
		{0.40, 18, 52, 4, 55.400},
	} {
		m := Mash{Water: ofWater(row.thickness), Grain: 1, GrainTemperature: unit.Celsius(row.grain), Moisture: moistureFor(t, row.relative)}
		s, err := Strike(m, unit.Celsius(row.target))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "strike", float64(s.Temperature), row.strike, 0.0006)
	}
}

// Palmer's rule in quarts and pounds, Tw = (0.2/r)(T2 - T1) + T2, as two public
// pages work it out: 68 °F grain, 152 °F, 1.25 qt/lb needs 165.44 °F; 65 °F
// grain, 130 °F, 1 qt/lb needs 143 °F. A quart of water weighs 2.08635 lb at
// 62 °F, so 0.2 is 0.4173 of water's specific heat.
func TestStrikeMatchesThePublishedExamplesInFahrenheit(t *testing.T) {
	const poundsPerQuart = 2.08635
	for _, row := range []struct{ grain, target, thickness, strike float64 }{
		{68, 152, 1.25, 165.44}, {65, 130, 1, 143},
	} {
		m := Mash{
			Water: ofWater(row.thickness * poundsPerQuart), Grain: 1, GrainTemperature: fromF(row.grain),
			Moisture: moistureFor(t, 0.2*poundsPerQuart),
		}
		s, err := Strike(m, fromF(row.target))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "strike, °F", toF(s.Temperature), row.strike, 0.005)
	}
}

// Plain heat balance, 0.40 of water's specific heat, no slaking, no vessel.
func TestFifteenKilogramsOfWaterOnFiveOfMalt(t *testing.T) {
	got, _ := Mixed(Mash{Water: ofWater(15), Grain: 5, GrainTemperature: 20, Moisture: 0.04}, 72)
	near(t, "mash, °C", float64(got), 65.882, 0.0005)
}

func TestStrikeTermsAddUpAndMixedUndoesStrike(t *testing.T) {
	m := Mash{Water: 26, Grain: 5.4, GrainTemperature: 18, Moisture: 0.04, Slaking: 19400, Vessel: 4100, Stirring: 1}
	s, err := Strike(m, 44)
	if err != nil {
		t.Fatal(err)
	}
	sum := s.Target.Plus(s.Grain + s.Vessel + s.Slaking + s.Stirring)
	near(t, "sum of terms", float64(sum), float64(s.Temperature), 1e-12)
	if s.Grain <= 0 || s.Vessel >= 0 || s.Slaking >= 0 || s.Stirring <= 1 {
		t.Errorf("a term has the wrong sign or size: %+v", s)
	}
	back, _ := Mixed(m, s.Temperature)
	near(t, "back to target", float64(back), 44, 1e-9)

	// The heat balance itself, written out once more, before stirring is lost.
	warm, grain := 26*0.998206*4186+4100, 5.4*0.40*4186
	mixed := (warm*float64(s.Temperature) + grain*18 + 19400*5.4) / (warm + grain)
	near(t, "mixed, before stirring", mixed, 45, 1e-9)
}

// Common practice, no source: with 5 to 6 litres a kilogram and grain at 18 °C,
// mashing in at 63 to 66 °C costs 3 to 4 K.
func TestMashInFallsThreeToFourKelvin(t *testing.T) {
	for _, target := range []unit.Celsius{63, 64.5, 66} {
		for _, thickness := range []unit.Litres{5, 5.5, 6} {
			m := Mash{Water: thickness, Grain: 1, GrainTemperature: 18, Moisture: 0.04}
			s, _ := Strike(m, target)
			if fall := s.Temperature.Minus(target); fall < 2.95 || fall > 4.05 {
				t.Errorf("at %.1f °C and %.1f L/kg the fall is %.2f K, want 3 to 4", target, thickness, fall)
			}
		}
	}
}

func TestAMashWithoutWaterIsRefused(t *testing.T) {
	if _, err := Strike(Mash{Grain: 5}, 65); !errors.Is(err, ErrNoWater) {
		t.Errorf("strike without water: %v", err)
	}
	if got, err := Mixed(Mash{Grain: 5}, 65); !errors.Is(err, ErrNoWater) || !math.IsNaN(float64(got)) {
		t.Errorf("mixing without water: %v, %v", got, err)
	}
}

func TestGrainRaisesTheLevelAndKeepsWater(t *testing.T) {
	near(t, "displaced, L", float64(Displaced(4.6)), 3.082, 1e-9)
	near(t, "missing after the lift, L", float64(Retention(4.6, 0.8)), 3.68, 1e-9)
	near(t, "grain capacity, J/K", float64(GrainCapacity(5.4, 0.04)), 5.4*1674.4, 1e-6)
	near(t, "mash capacity, J/K", float64(Mash{Water: 26, Grain: 5.4, Moisture: 0.04, Vessel: 4100}.Capacity()),
		26*0.998206*4186+4100+5.4*1674.4, 1e-6)
}
