package heat

import (
	"errors"
	"math"

	"mashward/controller/unit"
)

// Displacement is the room a kilogram of grain takes in the mash, beside the
// water it was put into (common practice, no source: 0.32 qt/lb).
const Displacement unit.LitresPerKilogram = 0.67

// ErrNoWater says that a mash has nothing that could carry heat to the grain.
var ErrNoWater = errors.New("the mash has no water: give a volume above 0 L")

// Specific heat of malt with water = 1, by moisture in percent: the table of
// the ATP Group catalogue (p. 105), the same as Murphy & Son's, both after
// Pauls & Whites' Brewing Room Book 1984/85.
var maltHeat = [...]struct{ percent, relative float64 }{
	{0, 0.38}, {1, 0.38}, {2, 0.39}, {3, 0.40}, {4, 0.40}, {6, 0.41}, {8, 0.42},
}

// GrainHeat is the specific heat of malt grist, J/(kg K), by its moisture:
// read from the table, straight between its rows, and on with the slope of
// its last two above 8 %. Published figures for malt spread from 0.34 to 0.42
// of water's; the table is good to its two digits.
func GrainHeat(moisture unit.Ratio) float64 {
	percent := float64(moisture) * 100
	if !(percent > 0) {
		return maltHeat[0].relative * WaterHeat
	}
	i := 1
	for i < len(maltHeat)-1 && percent > maltHeat[i].percent {
		i++
	}
	low, high := maltHeat[i-1], maltHeat[i]
	share := (percent - low.percent) / (high.percent - low.percent)
	return (low.relative + share*(high.relative-low.relative)) * WaterHeat
}

// GrainCapacity is the heat capacity of a mass of grain.
func GrainCapacity(mass unit.Kilograms, moisture unit.Ratio) unit.JoulesPerKelvin {
	return unit.JoulesPerKelvin(float64(mass) * GrainHeat(moisture))
}

// Displaced is the volume by which grain raises the level of a mash.
func Displaced(grain unit.Kilograms) unit.Litres {
	return unit.Litres(float64(grain) * float64(Displacement))
}

// Retention is the cold volume missing after the grain is lifted and drained:
// water in minus wort out. It is not the water held in the grain, which is
// more, because the extract dissolved in the wort fills part of the gap.
func Retention(grain unit.Kilograms, r unit.LitresPerKilogram) unit.Litres {
	return unit.Litres(float64(grain) * float64(r))
}

// Mash is what meets at mash-in. The vessel is as warm as the strike water.
type Mash struct {
	Water            unit.Litres // cold
	Grain            unit.Kilograms
	GrainTemperature unit.Celsius
	Moisture         unit.Ratio
	Slaking          unit.JoulesPerKilogram // heat set free as the malt takes up water
	Vessel           unit.JoulesPerKelvin
	Stirring         unit.Kelvin // lost while the grain is stirred in
}

// Capacity is the heat capacity of the whole mash with its vessel.
func (m Mash) Capacity() unit.JoulesPerKelvin {
	return WaterCapacity(m.Water) + m.Vessel + GrainCapacity(m.Grain, m.Moisture)
}

// StrikeTerms is a strike temperature with what makes it: Temperature is
// Target plus the four differences.
type StrikeTerms struct {
	Target      unit.Celsius
	Grain       unit.Kelvin // water alone must be hotter by this to warm the grain
	Vessel      unit.Kelvin // zero or less: the warm vessel gives its share
	Slaking     unit.Kelvin // zero or less: wetting the malt sets heat free
	Stirring    unit.Kelvin // what makes up for the loss while stirring in
	Temperature unit.Celsius

	WaterCapacity  unit.JoulesPerKelvin
	VesselCapacity unit.JoulesPerKelvin
	GrainCapacity  unit.JoulesPerKelvin
}

// Strike is the temperature of water and vessel from which the mash comes to
// target, after grain, slaking heat and stirring. The error is ErrNoWater.
func Strike(m Mash, target unit.Celsius) (StrikeTerms, error) {
	water := float64(WaterCapacity(m.Water))
	if !(water > 0) {
		return StrikeTerms{}, ErrNoWater
	}
	grain := float64(GrainCapacity(m.Grain, m.Moisture))
	warm := water + float64(m.Vessel)
	toGrain := grain * float64(target.Minus(m.GrainTemperature)) // J
	s := StrikeTerms{
		Target:         target,
		Grain:          unit.Kelvin(toGrain / water),
		Vessel:         unit.Kelvin(toGrain/warm - toGrain/water),
		Slaking:        unit.Kelvin(-float64(m.Slaking) * float64(m.Grain) / warm),
		Stirring:       unit.Kelvin(float64(m.Stirring) * (warm + grain) / warm),
		WaterCapacity:  unit.JoulesPerKelvin(water),
		VesselCapacity: m.Vessel,
		GrainCapacity:  unit.JoulesPerKelvin(grain),
	}
	s.Temperature = target.Plus(s.Grain + s.Vessel + s.Slaking + s.Stirring)
	return s, nil
}

// Mixed is the temperature a mash comes to from strike water, after stirring:
// the inverse of Strike. At the moment the grain is in, the mash is still
// warmer by m.Stirring. The error is ErrNoWater.
func Mixed(m Mash, strike unit.Celsius) (unit.Celsius, error) {
	water := float64(WaterCapacity(m.Water))
	if !(water > 0) {
		return unit.Celsius(math.NaN()), ErrNoWater
	}
	grain := float64(GrainCapacity(m.Grain, m.Moisture))
	warm := water + float64(m.Vessel)
	sum := warm*float64(strike) + grain*float64(m.GrainTemperature) + float64(m.Slaking)*float64(m.Grain)
	return unit.Celsius(sum / (warm + grain)).Plus(-m.Stirring), nil
}
