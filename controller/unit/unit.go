// Package unit holds the typed quantities every other package speaks in.
//
// A quantity carries its unit in its type, so that a temperature cannot be
// added to a temperature difference by accident and a bare number never
// crosses a package border. The zero value of every type is the safe one:
// Relay is Off, Duty is 0.
//
// Inside the program everything is SI, with two exceptions the trade insists
// on: temperatures are degrees Celsius and volumes are litres. Volumes are
// "cold" litres (water at 20 °C) unless a name says hot.
package unit

import "math"

// Celsius is a temperature in degrees Celsius.
type Celsius float64

// Kelvin is a temperature difference in kelvin; never a temperature.
type Kelvin float64

// Watts is power.
type Watts float64

// Joules is energy.
type Joules float64

// KilowattHour is 1000 W for an hour, as energy is billed.
const KilowattHour Joules = 3.6e6

// KilowattHours is the energy in kWh.
func (e Joules) KilowattHours() float64 { return float64(e / KilowattHour) }

// Litres is volume, cold (20 °C) unless the name says hot.
type Litres float64

// Kilograms is mass.
type Kilograms float64

// Metres is length.
type Metres float64

// Volts is electric tension.
type Volts float64

// Amperes is electric current.
type Amperes float64

// Pascals is pressure.
type Pascals float64

// Ratio is a dimensionless fraction: 0.25 is 25 %.
type Ratio float64

// JoulesPerKelvin is heat capacity.
type JoulesPerKelvin float64

// JoulesPerKilogram is specific energy, as in slaking heat.
type JoulesPerKilogram float64

// WattsPerKelvin is heat transfer.
type WattsPerKelvin float64

// WattsPerPascal is evaporation cooling per vapour pressure difference.
type WattsPerPascal float64

// KelvinPerSecond is a rate of temperature change.
type KelvinPerSecond float64

// LitresPerSecond is a volume flow.
type LitresPerSecond float64

// LitresPerKilogram is a ratio such as water kept by drained grain.
type LitresPerKilogram float64

// Duty is the share of full power asked of the element, 0..1.
type Duty float64

// Clamp limits d to 0..1. A value that is not a number becomes 0: no heat.
func (d Duty) Clamp() Duty {
	if math.IsNaN(float64(d)) || d < 0 {
		return 0
	}
	if d > 1 {
		return 1
	}
	return d
}

// Relay is the state of a switched line. The zero value is Off.
type Relay uint8

// The two states of a line.
const (
	Off Relay = iota
	On
)

// And is On only when both are On: the one way a permission meets a wish.
func (r Relay) And(other Relay) Relay {
	if r == On && other == On {
		return On
	}
	return Off
}

// String is "off" or "on".
func (r Relay) String() string {
	if r == On {
		return "on"
	}
	return "off"
}

// RelayOf turns a truth into a line state.
func RelayOf(on bool) Relay {
	if on {
		return On
	}
	return Off
}

// Plus moves a temperature by a difference.
func (c Celsius) Plus(k Kelvin) Celsius { return c + Celsius(k) }

// Minus is the difference between two temperatures.
func (c Celsius) Minus(other Celsius) Kelvin { return Kelvin(c - other) }
