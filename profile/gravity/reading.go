package gravity

import (
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/profile/heat"
)

// Kind is the instrument a gravity was read with.
type Kind uint8

// The instruments.
const (
	Hydrometer    Kind = iota // floats, scale in specific gravity
	Saccharometer             // floats, scale in degrees Plato
	Refractometer             // a drop on a prism, scale in °Bx, with a compensation of temperature of its own
)

var kindNames = [...]string{"hydrometer", "saccharometer", "refractometer"}

// String is the trade's word.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "unknown"
}

// WortFactor is by how much a refractometer, whose scale is made for sucrose,
// reads wort too strong (common practice, no source: 1.02 to 1.06).
const WortFactor = 1.04

// Range is between which temperatures of a sample a reading can be corrected.
func (k Kind) Range() (coldest, hottest unit.Celsius) {
	if k == Refractometer {
		return coldestPrism, hottestPrism
	}
	return coldestFloat, hottestFloat
}

// usualCalibration is the temperature that an instrument's scale is true at,
// where it does not say another.
const usualCalibration unit.Celsius = 20

// glassExpansion is the growth in volume of a glass float, 1/K (soda-lime
// glass, value from memory).
const glassExpansion = 25e-6

// sugarExpansion is by how much wort expands more than water, 1/(K °P): the one
// figure that is fitted, to the printed table that the test holds it against.
const sugarExpansion = 2.3e-6

// Between these a float is corrected to 0.0005 up to 20 °P: below, what sugar
// adds grows; above, a sample steams, and cools while it is read.
const (
	coldestFloat unit.Celsius = 10
	hottestFloat unit.Celsius = 50
)

// Between these a refractometer's own compensation works (common practice, no
// source).
const (
	coldestPrism unit.Celsius = 10
	hottestPrism unit.Celsius = 30
)

// Reading is one look at an instrument. It is for wort: alcohol bends light and
// thins the beer, so that after the yeast is in only a float tells anything,
// and that is the apparent gravity.
type Reading struct {
	Kind        Kind
	Value       float64       // in the instrument's scale
	Temperature unit.Celsius  // of the sample as it was read
	Calibrated  unit.Celsius  // of a float; 0: 20 °C
	Factor      float64       // of a refractometer; 0: WortFactor
	Volume      unit.Litres   // in the kettle at VolumeAt; 0: not read
	VolumeAt    unit.Celsius  // of the wort in the kettle
	When        time.Duration // since arming
}

// Read takes a written value with the instrument it speaks for: "1.050",
// "12.4 °P", "12.9 °Bx". Errors are *unit.TextError.
func Read(text string) (Reading, error) {
	switch {
	case unit.IsPlato(text):
		v, err := unit.ParsePlato(text)
		return Reading{Kind: Saccharometer, Value: float64(v), Temperature: usualCalibration}, err
	case unit.IsBrix(text):
		v, err := unit.ParseBrix(text)
		return Reading{Kind: Refractometer, Value: float64(v), Temperature: usualCalibration}, err
	}
	v, err := unit.ParseSpecificGravity(text)
	return Reading{Kind: Hydrometer, Value: float64(v), Temperature: usualCalibration}, err
}

// Gravity is the gravity of the sample at 20 °C. The error is a *Refusal.
func (r Reading) Gravity() (unit.SpecificGravity, error) {
	if !finite(r.Value) || !finite(float64(r.Temperature)) {
		return 0, refuse("read it again", "the reading is no number")
	}
	var g unit.SpecificGravity
	var err error
	switch r.Kind {
	case Hydrometer:
		g, err = r.float(unit.SpecificGravity(r.Value))
	case Saccharometer:
		g, err = r.float(GravityOf(unit.Plato(r.Value)))
	case Refractometer:
		g, err = r.prism()
	default:
		return 0, refuse("say whether it was a hydrometer, a saccharometer or a refractometer", "the instrument is not known")
	}
	if err != nil {
		return 0, err
	}
	if g < 0.99 || g > 1.2 {
		return 0, refuse("look at the scale again, and at its unit", "a %s reading of %g would be a gravity of %.3f, which no wort has", r.Kind, r.Value, float64(g))
	}
	return g, nil
}

// float corrects what floats in the sample. The float sinks until it weighs
// what it displaces: density at t times its volume at t is the scale's value
// times the density of water at the calibration. Wort expands as water does,
// and a little more for its sugar.
func (r Reading) float(shown unit.SpecificGravity) (unit.SpecificGravity, error) {
	t, calibrated := r.Temperature, r.Calibrated
	if calibrated == 0 {
		calibrated = usualCalibration
	}
	if t > hottestFloat {
		return 0, refuse("let a covered sample cool to about 20 °C and read again", "%.0f °C is too hot to correct a %s: above %.0f °C the sample steams and cools as it is read",
			float64(t), r.Kind, float64(hottestFloat))
	}
	if t < coldestFloat {
		return 0, refuse("let the sample warm to about 20 °C and read again", "%.0f °C is too cold to correct a %s: below %.0f °C it reads false",
			float64(t), r.Kind, float64(coldestFloat))
	}
	glass := 1 + glassExpansion*float64(t-calibrated)
	sugar := 1 + sugarExpansion*max(0, float64(PlatoOf(shown)))*float64(t-calibrated)
	return unit.SpecificGravity(float64(shown) * heat.WaterDensity(calibrated) * sugar / (heat.WaterDensity(t) * glass)), nil
}

func (r Reading) prism() (unit.SpecificGravity, error) {
	factor := r.Factor
	if factor == 0 {
		factor = WortFactor
	}
	if !(factor >= 0.9 && factor <= 1.2) {
		return 0, refuse("write a factor near 1.04", "a wort factor of %g is not possible", factor)
	}
	if r.Temperature > hottestPrism || r.Temperature < coldestPrism {
		return 0, refuse("let the covered sample come to the temperature of the room, and put a drop of it on the prism",
			"a refractometer compensates from %.0f to %.0f °C only, and the sample has %.0f °C", float64(coldestPrism), float64(hottestPrism), float64(r.Temperature))
	}
	return GravityOf(unit.Plato(r.Value / factor)), nil
}

// Wort is the gravity with the volume of the kettle, made cold. The error is a
// *Refusal.
func (r Reading) Wort() (Wort, error) {
	g, err := r.Gravity()
	if err != nil {
		return Wort{}, err
	}
	if !(r.Volume > 0) || !finite(float64(r.Volume)) {
		return Wort{}, refuse("read the dipstick, and say the litres and the temperature of the wort", "without the volume nothing can be said of the course")
	}
	return Wort{Volume: ColdVolume(r.Volume, r.VolumeAt), Gravity: g}, nil
}

// ColdVolume is a volume read at t as it would be at 20 °C: the inverse of
// heat.HotVolume.
func ColdVolume(hot unit.Litres, t unit.Celsius) unit.Litres {
	return unit.Litres(float64(hot) * heat.WaterDensity(t) / heat.ColdDensity)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
