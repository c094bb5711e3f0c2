package unit

import (
	"math"
	"strings"
	"testing"
	"time"
)

// parsers reads each quantity as a plain number in the program's own unit.
var parsers = map[string]func(string) (float64, error){
	"temperature": number(ParseCelsius), "difference": number(ParseKelvin), "volume": number(ParseLitres),
	"mass": number(ParseKilograms), "power": number(ParseWatts), "energy": number(ParseJoules), "length": number(ParseMetres),
	"voltage": number(ParseVolts), "current": number(ParseAmperes), "share": number(ParseRatio),
	"ramp": number(ParseKelvinPerSecond), "capacity": number(ParseJoulesPerKelvin), "loss": number(ParseWattsPerKelvin),
	"evaporation": number(ParseWattsPerPascal), "slaking": number(ParseJoulesPerKilogram),
	"flow": number(ParseLitresPerSecond), "retention": number(ParseLitresPerKilogram),
	"gravity": number(ParseSpecificGravity), "plato": number(ParsePlato), "brix": number(ParseBrix),
	"time": func(text string) (float64, error) {
		d, err := ParseDuration(text)
		return d.Seconds(), err
	},
}

func number[T ~float64](parse func(string) (T, error)) func(string) (float64, error) {
	return func(text string) (float64, error) {
		v, err := parse(text)
		return float64(v), err
	}
}

// TestEveryUnitOfTheTradeIsRead states each accepted unit with its value in SI
// (°C and L inside). Gallons, pounds and ounces are the legal definitions.
func TestEveryUnitOfTheTradeIsRead(t *testing.T) {
	for _, c := range []struct {
		kind, text string
		want       float64
	}{
		{"temperature", "63 °C", 63},
		{"temperature", "63 C", 63},
		{"temperature", "63C", 63},
		{"temperature", "63.5°C", 63.5},
		{"temperature", "145.4 °F", 63},
		{"temperature", "212 F", 100},
		{"temperature", "-40F", -40},
		{"temperature", "−4 °C", -4},
		{"temperature", "63\u00a0ºC", 63},
		{"temperature", " 63 ℃ ", 63},
		{"difference", "0.5 K", 0.5},
		{"difference", "-1 K", -1},
		{"volume", "26 L", 26},
		{"volume", "26 l", 26},
		{"volume", "500 mL", 0.5},
		{"volume", "7 US gal", 26.497882488},
		{"volume", "7 US  gal", 26.497882488},
		{"volume", "7 imp gal", 31.82263},
		{"mass", "4.6 kg", 4.6},
		{"mass", "28 g", 0.028},
		{"mass", "10 lb", 4.5359237},
		{"mass", "16 oz", 0.45359237},
		{"power", "3000 W", 3000},
		{"power", "3 kW", 3000},
		{"power", "3.kW", 3000},
		{"power", ".5 kW", 500},
		{"time", "90 s", 90},
		{"time", "35 min", 2100},
		{"time", "1.5 h", 5400},
		{"time", "14 d", 1209600},
		{"time", "1h15", 4500},
		{"time", "1 h 15", 4500},
		{"time", "1 h 30 min", 5400},
		{"time", "1h30min", 5400},
		{"time", "1 h 2 min 3 s", 3723},
		{"time", "0.75 s", 0.75},
		{"ramp", "1 K/min", 1.0 / 60},
		{"ramp", "1 °C/min", 1.0 / 60},
		{"ramp", "36 K/h", 0.01},
		{"ramp", "-1 K/h", -1.0 / 3600},
		{"length", "40 cm", 0.4},
		{"length", "400 mm", 0.4},
		{"length", "340 m", 340},
		{"length", "-200 m", -200},
		{"voltage", "230 V", 230},
		{"current", "16 A", 16},
		{"share", "4 %", 0.04},
		{"share", "4%", 0.04},
		{"capacity", "4100 J/K", 4100},
		{"capacity", "4.1 kJ/K", 4100},
		{"loss", "7 W/K", 7},
		{"evaporation", "6 W/kPa", 0.006},
		{"flow", "6 L/min", 0.1},
		{"flow", "2.4 L/h", 2.4 / 3600},
		{"retention", "0.8 L/kg", 0.8},
		{"slaking", "10 kJ/kg", 10000},
	} {
		got, err := parsers[c.kind](c.text)
		if err != nil || math.Abs(got-c.want) > 1e-9*math.Max(1, math.Abs(c.want)) {
			t.Errorf("%s %q = %v, %v; want %v", c.kind, c.text, got, err, c.want)
		}
	}
}

// TestAWrongTextSaysWhatToWrite has one line for each way to get it wrong.
func TestAWrongTextSaysWhatToWrite(t *testing.T) {
	for _, c := range []struct{ kind, text, want string }{
		{"temperature", "63", "63 what? write 63 °C"},
		{"temperature", "63 F m", `"F m" is not a unit of temperature; write °C or °F, as in 63 °C`},
		{"temperature", "63 c", `"c" is not the way this unit is written; write 63 °C`},
		{"temperature", "63 K", `K measures a temperature difference, and this is a temperature; write °C or °F, as in 63 °C`},
		{"temperature", "", "nothing is written; write 63 °C"},
		{"temperature", "warm", `"warm" does not begin with a number; write 63 °C`},
		{"temperature", "NaN °C", `"NaN °C" is not a number; write 63 °C`},
		{"temperature", ".inf", `".inf" is not a number; write 63 °C`},
		{"temperature", "63,5 °C", `"63,5 °C" has a decimal comma; write 63.5 °C`},
		{"temperature", "6.3.5 °C", `".5 °C" is not a unit of temperature; write °C or °F, as in 63 °C`},
		{"temperature", "1e3 °C", `"e3 °C" is not a unit of temperature; write °C or °F, as in 63 °C`},
		{"temperature", strings.Repeat("9", 400) + " °C", `"9999999999999999999999999999999999999999..." is too large a number; write 63 °C`},
		{"difference", "1 °C", `"1 °C" is a temperature, and this is a difference; write it in kelvin, as 1 K`},
		{"difference", "1", "1 what? write 1 K"},
		{"volume", "26 kg", "kg measures a mass, and this is a volume; write L, mL, US gal or imp gal, as in 26 L"},
		{"volume", "7 gal", `"7 gal" could be two volumes; write 7 US gal (26.5 L) or 7 imp gal (31.8 L)`},
		{"volume", "7 gallons", `"7 gal" could be two volumes; write 7 US gal (26.5 L) or 7 imp gal (31.8 L)`},
		{"volume", "-3 L", `"-3 L" is below zero; write a volume such as 26 L`},
		{"mass", "6,5 kg", `"6,5 kg" has a decimal comma; write 6.5 kg`},
		{"power", "2,500 W", `"2,500 W" has a decimal comma; write 2.500 W or 2500 W`},
		{"power", "3 KW", `"KW" is not the way this unit is written; write 3 kW`},
		{"share", "0.3", "0.3 what? write 0.3 %"},
		{"time", "35", "35 what? write 35 min"},
		{"time", "35 m", `"35 m" is a length; write 35 min`},
		{"time", "-5 min", `"-5 min" is not a length of time; write 35 min`},
		{"time", "30 min 1 h", `"30 min 1 h" does not add up; write the larger unit first, as in 1 h 30 min`},
		{"time", "1 h 90 min", `"1 h 90 min" does not add up; write the larger unit first, as in 1 h 30 min`},
		{"time", "1 min 15", "15 what? write 15 min"},
		{"time", "1,5 h", `"1,5 h" has a decimal comma; write 1.5 h`},
		{"time", "400 d", `"400 d" is longer than a year; write 35 min`},
		{"time", "3 K", "K measures a temperature difference, and this is a duration; write min, s, h or d, as in 35 min"},
		{"gravity", "1050", `"1050" is no specific gravity of wort; write 1.050`},
		{"gravity", "12.4", `"12.4" is no specific gravity of wort; write 1.050, or 12.4 °P`},
		{"gravity", "1,050", `"1,050" has a decimal comma; write 1.050 or 1050`},
		{"gravity", "1.05 kg", `"1.05 kg" is no specific gravity; write it as a bare number, as in 1.050`},
		{"gravity", "1.3", `"1.3" is no specific gravity of wort; write 1.050, or 12.4 °P`},
		{"plato", "12.4", "12.4 what? write 12.4 °P"},
		{"plato", "12.4 °Bx", "°Bx measures a reading of a refractometer, and this is a strength of wort; write °P, as in 12.4 °P"},
		{"plato", "12.4 p", `"p" is not the way this unit is written; write 12.4 °P`},
		{"brix", "-1 °Bx", `"-1 °Bx" is below zero; write a reading of a refractometer such as 12.9 °Bx`},
		{"ramp", "1 K", "K measures a temperature difference, and this is a rate of temperature change; write K/min, K/h or K/s, as in 1 K/min"},
	} {
		got, err := parsers[c.kind](c.text)
		if err == nil || err.Error() != c.want {
			t.Errorf("%s %q: got %v, %v\nwant %s", c.kind, c.text, got, err, c.want)
		}
		if got != 0 {
			t.Errorf("%s %q: a refused text gives %v; want the safe zero", c.kind, c.text, got)
		}
	}
}

// TestFormatsRoundForPeople states the printed form of each quantity.
func TestFormatsRoundForPeople(t *testing.T) {
	for got, want := range map[string]string{
		FormatCelsius(63):                      "63 °C",
		FormatCelsius(63.26):                   "63.3 °C",
		FormatCelsius(-0.04):                   "0 °C",
		FormatCelsius(Celsius(math.NaN())):     "unknown",
		FormatKelvin(0.154):                    "0.15 K",
		FormatLitres(22.46):                    "22.5 L",
		FormatKilograms(4.6):                   "4.6 kg",
		FormatWatts(2930.4):                    "2930 W",
		FormatMetres(340):                      "340 m",
		FormatCentimetres(0.2071):              "20.7 cm",
		FormatVolts(230):                       "230 V",
		FormatAmperes(13.043):                  "13 A",
		FormatRatio(0.045):                     "4.5 %",
		FormatKelvinPerSecond(1.0 / 60):        "1 K/min",
		FormatJoulesPerKelvin(4100):            "4100 J/K",
		FormatWattsPerKelvin(7):                "7 W/K",
		FormatWattsPerPascal(0.006):            "6 W/kPa",
		FormatJoulesPerKilogram(19400):         "19.4 kJ/kg",
		FormatLitresPerSecond(0.1):             "6 L/min",
		FormatLitresPerHour(2.4 / 3600):        "2.4 L/h",
		FormatLitresPerKilogram(0.8):           "0.8 L/kg",
		FormatJoules(2.4e7):                    "6.67 kWh",
		FormatSpecificGravity(1.05):            "1.050",
		FormatSpecificGravity(1.04996):         "1.050",
		FormatPlato(12.3876):                   "12.4 °P",
		FormatBrix(12.883):                     "12.9 °Bx",
		FormatDuration(75 * time.Minute):       "1 h 15 min",
		FormatDuration(750 * time.Millisecond): "0.75 s",
		FormatDuration(3723 * time.Second):     "1 h 2 min 3 s",
		FormatDuration(-90 * time.Second):      "-1 min 30 s",
		FormatDuration(0):                      "0 s",
	} {
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// TestRelayAndDutyDefaultToNoHeat guards the zero values and the one gate.
func TestRelayAndDutyDefaultToNoHeat(t *testing.T) {
	var r Relay
	if r != Off || r.And(On) != Off || On.And(On) != On || Relay(7).And(On) != Off {
		t.Error("a line is on without both halves wanting it")
	}
	if Duty(math.NaN()).Clamp() != 0 || Duty(-1).Clamp() != 0 || Duty(2).Clamp() != 1 || Duty(0.4).Clamp() != 0.4 {
		t.Error("a duty outside 0..1 got through")
	}
}

// FuzzParse feeds every parser and holds it to three promises: the value is
// finite, a refused text gives zero, and an error says what to write.
func FuzzParse(f *testing.F) {
	for _, seed := range []string{"63 °C", "1 h 30 min", "1h15", "6,5 kg", "7 gal", "nan", "-.inf", "3 kW", "1e999 W", "\xff 3 L", "9d9h9min9s"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for kind, parse := range parsers {
			v, err := parse(text)
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Fatalf("%s %q = %v", kind, text, v)
			}
			bad, _ := err.(*TextError)
			if err != nil && (v != 0 || bad == nil || bad.What == "" || bad.Remedy == "") {
				t.Fatalf("%s %q: %v, %#v", kind, text, v, err)
			}
		}
	})
}

// FuzzDurationsSurvivePrinting: what is printed reads back to within the
// second it was rounded to.
func FuzzDurationsSurvivePrinting(f *testing.F) {
	f.Add(int64(4500e9))
	f.Add(int64(10e9 - 1))
	f.Fuzz(func(t *testing.T, n int64) {
		d := time.Duration(n)
		if d < 0 || d > longestDuration {
			_ = FormatDuration(d)
			return
		}
		back, err := ParseDuration(FormatDuration(d))
		if err != nil || (back-d).Abs() > time.Second/2 {
			t.Fatalf("%v printed as %q read as %v, %v", d, FormatDuration(d), back, err)
		}
	})
}
