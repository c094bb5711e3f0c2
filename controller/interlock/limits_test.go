package interlock

import (
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
)

func TestLimitsThatAreMissingPermitNothing(t *testing.T) {
	l := Limits{}.Tighten()
	for _, s := range []Stage{Mash, Lifted, 7} {
		if got := l.inForce(true, s); got > coldest {
			t.Errorf("stage %d: the limit in force is %v", s, got)
		}
	}
	if l.CoveredAt != anyKettle || l.ElementPower != anyElement || l.LossAtBoil != 0 || l.OnLimit != 0 || l.ArmedFor != 0 {
		t.Errorf("zero limits became %+v", l)
	}
}

// Each field alone, missing: the walk that heats with the sample limits must
// not heat, or at least trip on the first statement of volume.
func TestEachMissingFieldTakesHeatAway(t *testing.T) {
	nan := math.NaN()
	for name, spoil := range map[string]func(*Limits, float64){
		"mash ceiling":  func(l *Limits, x float64) { l.MashCeiling = unit.Celsius(x) },
		"boiling point": func(l *Limits, x float64) { l.Boiling = unit.Celsius(x) },
		"on limit":      func(l *Limits, x float64) { l.OnLimit = 0 },
		"armed for":     func(l *Limits, x float64) { l.ArmedFor = 0 },
		"boil ceiling":  func(l *Limits, x float64) { l.BoilCeiling = unit.Celsius(x) },
		"covered at":    func(l *Limits, x float64) { l.CoveredAt = unit.Litres(x) },
	} {
		for _, x := range []float64{0, nan, -1, math.Inf(-1)} {
			w := ready(t)
			if name == "boil ceiling" || name == "covered at" {
				w.f.Stage, w.f.Volume = Lifted, 30
			}
			w.tick()
			w.want(unit.On, NoRule, NoRule)
			spoil(&w.l, x)
			w.tick()
			if w.v.Permitted != unit.Off {
				t.Errorf("%s %v: heat is permitted", name, x)
			}
		}
	}
	w := ready(t)
	w.l.Rig = unit.Celsius(nan)
	w.tick()
	w.want(unit.Off, NoRule, OverTemperature)
}

func TestNoLimitIsLooserThanTheCompiledOnes(t *testing.T) {
	random := newRandom(11)
	odd := []float64{0, math.NaN(), math.Inf(1), math.Inf(-1), -1, 1e300, 105, 104.9375, 105.0625, 102, 99}
	draw := func(scale float64) float64 {
		if random.IntN(3) == 0 {
			return odd[random.IntN(len(odd))]
		}
		return random.Float64() * scale
	}
	for range 100_000 {
		raw := Limits{
			MashCeiling: unit.Celsius(draw(120)), BoilCeiling: unit.Celsius(draw(120)), Rig: unit.Celsius(draw(120)),
			Boiling: unit.Celsius(draw(110)), CoveredAt: unit.Litres(draw(50)), ElementPower: unit.Watts(draw(6000)),
			LossAtBoil: unit.Watts(draw(3000)), OnLimit: time.Duration(draw(1e18)), ArmedFor: time.Duration(draw(1e18)),
		}
		l := raw.Tighten()
		if l.Tighten() != l {
			t.Fatalf("tightening twice changes\n%+v\nto\n%+v", l, l.Tighten())
		}
		for _, s := range []Stage{Mash, Lifted, 2, 255} {
			limit := raw.InForce(true, s)
			if !(limit <= HighestLimit) || !(limit <= max(l.Boiling.Plus(AboveBoiling), coldest)) {
				t.Fatalf("%+v: limit in force %v", raw, limit)
			}
			if raw.Rig > 0 && limit > raw.Rig {
				t.Fatalf("%+v: the rig's limit is loosened to %v", raw, limit)
			}
		}
		if raw.MashCeiling > 0 && l.MashCeiling > raw.MashCeiling || raw.BoilCeiling > 0 && l.BoilCeiling > raw.BoilCeiling {
			t.Fatalf("%+v: a ceiling was raised: %+v", raw, l)
		}
		if !(l.CoveredAt > 0) || l.CoveredAt < raw.CoveredAt && raw.CoveredAt < anyKettle || !(l.LossAtBoil <= l.ElementPower/2) || l.LossAtBoil < 0 {
			t.Fatalf("%+v: level is loosened: %+v", raw, l)
		}
		if l.OnLimit < 0 || l.OnLimit > LongestOn || l.ArmedFor < 0 || l.ArmedFor > LongestArmed {
			t.Fatalf("%+v: time is loosened: %+v", raw, l)
		}
	}
}

func TestUnarmedLimitIsTheCompiledOneOrTheRigs(t *testing.T) {
	l := sampleLimits()
	if got := l.InForce(false, Mash); got != 105 {
		t.Errorf("unarmed %v, want 105", got)
	}
	l.Rig = 101
	if got := l.InForce(false, Lifted); got != 101 {
		t.Errorf("unarmed with a rig's limit %v, want 101", got)
	}
}

// The compiled limits as the rules of the house state them; nothing in a file
// can loosen them, so a change here has to be meant.
func TestCompiledLimits(t *testing.T) {
	l := Limits{
		MashCeiling: 1e9, BoilCeiling: 1e9, Rig: 1e9, Boiling: 1e9, CoveredAt: 1, ElementPower: 3000,
		LossAtBoil: 1e9, OnLimit: 1e18, ArmedFor: 1e18,
	}.Tighten()
	want := Limits{
		MashCeiling: 105, BoilCeiling: 105, Rig: 105, Boiling: 102, CoveredAt: 1, ElementPower: 3000,
		LossAtBoil: 1500, OnLimit: 4 * time.Hour, ArmedFor: 12 * time.Hour,
	}
	if l != want {
		t.Errorf("the compiled limits are\n%+v, want\n%+v", l, want)
	}
	if Fresh != 5*time.Second || LateAfter != 3*time.Second || QuietFor != 10*time.Second || TripAfter != time.Minute || LevelMargin != 1 {
		t.Error("a time or a margin of the rules has changed")
	}
	l = Limits{MashCeiling: 104, BoilCeiling: 104, Boiling: 98.9}.Tighten()
	if l.BoilCeiling != 102.9 || l.MashCeiling != 102.9 {
		t.Errorf("boiling at 98.9 °C: ceilings %v and %v, want 102.9", l.MashCeiling, l.BoilCeiling)
	}
}
