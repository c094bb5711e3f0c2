package plan

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"mashward/profile"
)

// The hand calculation of the similar sample goes on with a bag that keeps
// 0.65 L/kg and malt of 80 % extract, 92 % of it dissolved: 22.5 L at about
// 1.051 before the boil.
func TestTheWortOfASimilarSampleMeetsItsHandCalculation(t *testing.T) {
	brew, kettle := rye(), yard()
	brew.Grain.Mass, kettle.Retention = 5.4, 0.65
	p, _ := Make(brew, kettle)
	within(t, "before the boil, L", float64(p.Wort.PreBoil.Volume), 22.5, 0.05)
	within(t, "before the boil", float64(p.Wort.PreBoil.Gravity), 1.051, 0.0006)
	// 4.6 kg of it: 23.0 L at 1.044, and 20.1 L at 1.051 at the default vigour.
	brew.Grain.Mass, brew.Steps[5].BoilOff = 4.6, 0
	p, _ = Make(brew, kettle)
	within(t, "before the boil, L", float64(p.Wort.PreBoil.Volume), 23.0, 0.05)
	within(t, "before the boil", float64(p.Wort.PreBoil.Gravity), 1.044, 0.0005)
	within(t, "after the boil, L", float64(p.Wort.Original.Volume), 20.1, 0.05)
	within(t, "after the boil", float64(p.Wort.Original.Gravity), 1.051, 0.0005)
}

// A kettle of 40 cm has 1256.6 cm²; 26 L cold are 25.98 L at the tap's 12 °C
// and 26.20 L at 45.8 °C (IAPWS-IF97: 998.206, 999.50 and 989.87 kg/m³).
func TestTheDipstickIsGeometryAndDensity(t *testing.T) {
	p, _ := Make(rye(), yard())
	within(t, "L/cm", float64(p.Dipstick.PerCentimetre), 1.256637, 1e-6)
	within(t, "fill, cm", float64(p.Dipstick.Fill)*100, 26*998.206/999.50/1.256637, 0.001)
	within(t, "strike, cm", float64(p.Dipstick.Strike)*100, 26*998.206/989.87/1.256637, 0.002)
	kettle := yard()
	kettle.Diameter = 0
	if p, _ = Make(rye(), kettle); p.Dipstick != (Dipstick{}) || strings.Contains(textOf(t, p), "centimetre") {
		t.Errorf("a kettle without a diameter has a dipstick: %+v", p.Dipstick)
	}
}

func TestTheWortIsTheWortOfTheVolumes(t *testing.T) {
	known := 0
	for seed := range uint64(1500) {
		brew, kettle := randomDay(rand.New(rand.NewPCG(seed, 5)))
		p, problems := Make(brew, kettle)
		if !p.Wort.Known {
			continue
		}
		known++
		w := p.Wort
		if math.Abs(w.PreBoil.Points()-w.Original.Points()) > 1e-9*w.PreBoil.Points() {
			t.Errorf("seed %d: %g points before the boil, %g after", seed, w.PreBoil.Points(), w.Original.Points())
		}
		sum := w.Fermenter.Volume + w.Left + w.Evaporated + w.Retained
		within(t, "litres", float64(sum), float64(brew.Water), 1e-9*float64(brew.Water))
		within(t, "after all, L", float64(w.Original.Volume), float64(p.Volumes[len(p.Volumes)-1].Cold), 1e-9*float64(brew.Water))
		if len(p.Boils) > 0 {
			within(t, "before the boil, L", float64(w.PreBoil.Volume), float64(p.Boils[0].Before), 1e-9*float64(brew.Water))
		}
		if text := textOf(t, p); !strings.Contains(text, "into the fermenter") {
			t.Errorf("seed %d: the text hides the fermenter (%v)", seed, problems)
		}
	}
	if known < 100 {
		t.Errorf("only %d worts: the test sees too little", known)
	}
}

func TestADayWithoutWortNamesNone(t *testing.T) {
	unknown, mash := rye(), rye()
	unknown.Grain.Extract = 0
	mash.Steps = mash.Steps[:4]
	for name, brew := range map[string]profile.Profile{"malt unknown": unknown, "no lift": mash} {
		p, problems := Make(brew, yard())
		if p.Wort.Known || Refused(problems) || strings.Contains(textOf(t, p), "fermenter") {
			t.Errorf("%s: %+v, %v", name, p.Wort, problems)
		}
		text, err := json.Marshal(written(p))
		if err != nil || !strings.Contains(string(text), `"wort":null`) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
