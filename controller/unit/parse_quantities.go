package unit

// The size of the gallons, exact by definition (US: 231 cubic inches; UK
// Weights and Measures Act 1985: 4.54609 L).
const (
	litresPerUSGallon       = 3.785411784
	litresPerImperialGallon = 4.54609
)

// Pound and ounce, exact (international yard and pound agreement of 1959).
const (
	kilogramsPerPound = 0.45359237
	kilogramsPerOunce = kilogramsPerPound / 16
)

const (
	secondsPerMinute = 60
	secondsPerHour   = 3600
)

// What may be written, quantity by quantity.
var (
	celsius = quantity{noun: "a temperature", example: "63 °C", signed: true, decimals: 1, units: []scale{
		{"°C", 1, 0},
		{"C", 1, 0},
		{"ºC", 1, 0},
		{"℃", 1, 0},
		{"° C", 1, 0},
		{"°F", 5.0 / 9, -32},
		{"F", 5.0 / 9, -32},
		{"ºF", 5.0 / 9, -32},
		{"℉", 5.0 / 9, -32},
		{"° F", 5.0 / 9, -32},
	}}
	kelvin = quantity{noun: "a temperature difference", example: "1 K", signed: true, decimals: 2, units: []scale{{"K", 1, 0}}}
	litres = quantity{noun: "a volume", example: "26 L", decimals: 1, units: []scale{
		{"L", 1, 0},
		{"l", 1, 0},
		{"mL", 1e-3, 0},
		{"ml", 1e-3, 0},
		{"US gal", litresPerUSGallon, 0},
		{"imp gal", litresPerImperialGallon, 0},
	}}
	kilograms = quantity{noun: "a mass", example: "4.6 kg", decimals: 2, units: []scale{
		{"kg", 1, 0}, {"g", 1e-3, 0}, {"lb", kilogramsPerPound, 0}, {"oz", kilogramsPerOunce, 0},
	}}
	watts     = quantity{noun: "a power", example: "3000 W", decimals: 0, units: []scale{{"W", 1, 0}, {"kW", 1000, 0}}}
	joules    = quantity{noun: "an energy", example: "9 kWh", decimals: 2, units: []scale{{"kWh", float64(KilowattHour), 0}, {"Wh", float64(KilowattHour) / 1000, 0}, {"MJ", 1e6, 0}, {"kJ", 1000, 0}}}
	metres    = quantity{noun: "a length", example: "40 cm", signed: true, decimals: 3, units: []scale{{"m", 1, 0}, {"cm", 1e-2, 0}, {"mm", 1e-3, 0}}}
	volts     = quantity{noun: "a voltage", example: "230 V", decimals: 1, units: []scale{{"V", 1, 0}}}
	amperes   = quantity{noun: "a current", example: "16 A", decimals: 1, units: []scale{{"A", 1, 0}}}
	ratio     = quantity{noun: "a share", example: "30 %", signed: true, decimals: 1, units: []scale{{"%", 1e-2, 0}}}
	rampSpeed = quantity{noun: "a rate of temperature change", example: "1 K/min", signed: true, decimals: 2, units: []scale{
		{"K/min", 1.0 / secondsPerMinute, 0},
		{"°C/min", 1.0 / secondsPerMinute, 0},
		{"C/min", 1.0 / secondsPerMinute, 0},
		{"K/h", 1.0 / secondsPerHour, 0},
		{"°C/h", 1.0 / secondsPerHour, 0},
		{"C/h", 1.0 / secondsPerHour, 0},
		{"K/s", 1, 0},
	}}
	heatCapacity   = quantity{noun: "a heat capacity", example: "4.1 kJ/K", decimals: 0, units: []scale{{"J/K", 1, 0}, {"kJ/K", 1000, 0}}}
	heatTransfer   = quantity{noun: "a heat transfer", example: "7 W/K", decimals: 2, units: []scale{{"W/K", 1, 0}}}
	evaporation    = quantity{noun: "an evaporation", example: "6 W/kPa", decimals: 2, units: []scale{{"W/kPa", 1e-3, 0}}}
	specificEnergy = quantity{noun: "a heat per mass", example: "10 kJ/kg", decimals: 2, units: []scale{{"kJ/kg", 1000, 0}, {"J/kg", 1, 0}}}
	flow           = quantity{noun: "a flow", example: "6 L/min", decimals: 2, units: []scale{{"L/min", 1.0 / secondsPerMinute, 0}, {"l/min", 1.0 / secondsPerMinute, 0}, {"L/h", 1.0 / secondsPerHour, 0}, {"l/h", 1.0 / secondsPerHour, 0}}}
	volumePerMass  = quantity{noun: "a volume per mass", example: "0.8 L/kg", decimals: 2, units: []scale{{"L/kg", 1, 0}, {"l/kg", 1, 0}}}
	durationWords  = quantity{noun: "a duration", example: "35 min", decimals: 0, units: []scale{{"min", secondsPerMinute, 0}, {"s", 1, 0}, {"h", secondsPerHour, 0}, {"d", 24 * secondsPerHour, 0}}}
	quantities     = []quantity{celsius, kelvin, litres, kilograms, watts, joules, durationWords, metres, volts, amperes, ratio, rampSpeed, heatCapacity, heatTransfer, evaporation, specificEnergy, flow, volumePerMass, plato, brix}
)

// ParseCelsius reads a temperature in °C or °F: "63 °C", "63C", "145 F".
// Errors are *TextError, here and in every other Parse function.
func ParseCelsius(text string) (Celsius, error) {
	v, err := celsius.parse(text)
	return Celsius(v), err
}

// ParseKelvin reads a temperature difference, in K only: "0.5 K".
func ParseKelvin(text string) (Kelvin, error) {
	v, err := kelvin.parse(text)
	return Kelvin(v), err
}

// ParseLitres reads a volume in L, mL, US gal or imp gal.
func ParseLitres(text string) (Litres, error) {
	v, err := litres.parse(text)
	return Litres(v), err
}

// ParseKilograms reads a mass in kg, g, lb or oz.
func ParseKilograms(text string) (Kilograms, error) {
	v, err := kilograms.parse(text)
	return Kilograms(v), err
}

// ParseWatts reads a power in W or kW.
func ParseWatts(text string) (Watts, error) {
	v, err := watts.parse(text)
	return Watts(v), err
}

// ParseJoules reads an energy in kWh, Wh, MJ or kJ.
func ParseJoules(text string) (Joules, error) {
	v, err := joules.parse(text)
	return Joules(v), err
}

// ParseMetres reads a length or an altitude in m, cm or mm.
func ParseMetres(text string) (Metres, error) {
	v, err := metres.parse(text)
	return Metres(v), err
}

// ParseVolts reads a voltage in V.
func ParseVolts(text string) (Volts, error) {
	v, err := volts.parse(text)
	return Volts(v), err
}

// ParseAmperes reads a current in A.
func ParseAmperes(text string) (Amperes, error) {
	v, err := amperes.parse(text)
	return Amperes(v), err
}

// ParseRatio reads a share in %: "30 %" is 0.3.
func ParseRatio(text string) (Ratio, error) {
	v, err := ratio.parse(text)
	return Ratio(v), err
}

// ParseKelvinPerSecond reads a rate in K/min, K/h or K/s; °C/min counts as
// K/min, because a rate cannot be mistaken for a temperature.
func ParseKelvinPerSecond(text string) (KelvinPerSecond, error) {
	v, err := rampSpeed.parse(text)
	return KelvinPerSecond(v), err
}

// ParseJoulesPerKelvin reads a heat capacity in J/K or kJ/K.
func ParseJoulesPerKelvin(text string) (JoulesPerKelvin, error) {
	v, err := heatCapacity.parse(text)
	return JoulesPerKelvin(v), err
}

// ParseWattsPerKelvin reads a heat transfer in W/K.
func ParseWattsPerKelvin(text string) (WattsPerKelvin, error) {
	v, err := heatTransfer.parse(text)
	return WattsPerKelvin(v), err
}

// ParseWattsPerPascal reads an evaporation in W/kPa.
func ParseWattsPerPascal(text string) (WattsPerPascal, error) {
	v, err := evaporation.parse(text)
	return WattsPerPascal(v), err
}

// ParseJoulesPerKilogram reads a heat per mass in kJ/kg or J/kg.
func ParseJoulesPerKilogram(text string) (JoulesPerKilogram, error) {
	v, err := specificEnergy.parse(text)
	return JoulesPerKilogram(v), err
}

// ParseLitresPerSecond reads a flow in L/min or L/h.
func ParseLitresPerSecond(text string) (LitresPerSecond, error) {
	v, err := flow.parse(text)
	return LitresPerSecond(v), err
}

// ParseLitresPerKilogram reads a volume per mass in L/kg.
func ParseLitresPerKilogram(text string) (LitresPerKilogram, error) {
	v, err := volumePerMass.parse(text)
	return LitresPerKilogram(v), err
}
