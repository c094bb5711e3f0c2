package heat

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"mashward/controller/unit"
)

// One load for the closed form: 25 kg of water, 10 W/K, 3 kW, room at 20 °C.
const (
	load = unit.JoulesPerKelvin(25 * 4186)
	loss = unit.WattsPerKelvin(10)
	room = unit.Celsius(20)
)

// Plain arithmetic of the exponential, done outside this program.
func TestHeatingAndCoolingFollowTheExponential(t *testing.T) {
	for _, row := range []struct{ seconds, heating float64 }{{60, 21.7151}, {600, 36.7164}, {1200, 52.5013}, {1800, 67.4067}, {3600, 107.32}} {
		got := After(load, loss, 3000, room, 20, time.Duration(row.seconds)*time.Second)
		tolerance := 0.00006
		if row.heating > 100 {
			tolerance = 0.006
		}
		near(t, "heating from 20 °C", float64(got), row.heating, tolerance)
	}
	for _, row := range []struct{ seconds, cooling float64 }{{60, 64.7427}, {600, 62.4925}, {1800, 57.8890}, {3600, 51.9017}} {
		got := After(load, loss, 0, room, 65, time.Duration(row.seconds)*time.Second)
		near(t, "cooling from 65 °C", float64(got), row.cooling, 0.00006)
		back, err := Cooling(load, loss, room, 65, got)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "and back, s", back.Seconds(), row.seconds, 1e-6)
	}
	d, err := HeatUp(load, loss, 3000, room, 20, 65)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "20 to 65 °C, s", d.Seconds(), 1700.76, 0.005)
	near(t, "holding 65 °C, W", float64(HoldPower(loss, room, 65)), 450, 1e-9)
	near(t, "rest point, °C", float64(Highest(loss, 3000, room)), 320, 1e-9)
}

// IF97 enthalpies without loss.
func TestLosslessHeatUpByEnthalpy(t *testing.T) {
	for _, row := range []struct{ kilograms, from, to, watts, kilojoules, seconds float64 }{
		{20, 20, 65, 2500, 3762.6, 1505}, {25, 15, 67, 3000, 5435.9, 1812}, {25, 78, 99.97, 3000, 2309, 770},
	} {
		energy := row.kilograms * float64(WaterEnergy(unit.Celsius(row.from), unit.Celsius(row.to))) / 1000
		near(t, "kJ", energy, row.kilojoules, 0.6)
		c := unit.JoulesPerKelvin(row.kilograms * WaterHeat)
		d, err := HeatUp(c, 0, unit.Watts(row.watts), 20, unit.Celsius(row.from), unit.Celsius(row.to))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "closed form with the one specific heat, s", d.Seconds(), row.seconds, 0.005*row.seconds)
	}
	for _, row := range []struct{ watts, kilograms, slope float64 }{{3000, 25, 1.720}, {2000, 30, 0.956}, {3500, 40, 1.254}} {
		after := After(unit.JoulesPerKelvin(row.kilograms*WaterHeat), 0, unit.Watts(row.watts), 20, 60, time.Minute)
		near(t, "K/min", float64(after-60), row.slope, 0.0006)
	}
}

// Common practice, no source: 2 kW takes about 10 to 15 min for 10 K in 25 to
// 30 L.
func TestTwoKilowattsTakeTenToFifteenMinutesForTenKelvin(t *testing.T) {
	for _, water := range []unit.Litres{25, 27, 30} {
		d, err := HeatUp(WaterCapacity(water), 7, 2000, 18, 55, 65)
		if err != nil || d < 10*time.Minute || d > 15*time.Minute {
			t.Errorf("%g L: %v, %v", float64(water), d, err)
		}
	}
}

// J. Hosom's measured fit of kettles cooling after the flame is out:
// T = 53.70 exp(-b t) + 319.55 K, b = 0.0002925 A/V + 0.00538 a minute, with A
// in cm² and V in litres. Its b is loss over capacity.
func TestCoolingReproducesAMeasuredFit(t *testing.T) {
	for _, row := range []struct {
		diameter, litres, b float64
		celsius             [6]float64
	}{
		{36.83, 26.5, 0.01714, [6]float64{100.10, 95.69, 91.64, 84.52, 78.51, 65.60}},
		{30, 15, 0.01916, [6]float64{100.10, 95.19, 90.74, 83.00, 76.62, 63.41}},
		{45, 50, 0.01468, [6]float64{100.10, 96.30, 92.77, 86.43, 80.97, 68.65}},
	} {
		b := 0.0002925*math.Pi/4*row.diameter*row.diameter/row.litres + 0.00538
		near(t, "b, 1/min", b, row.b, 0.000006)
		ua := unit.WattsPerKelvin(b / 60 * float64(load))
		for i, minutes := range [...]int{0, 5, 10, 20, 30, 60} {
			got := After(load, ua, 0, 319.55-273.15, 373.25-273.15, time.Duration(minutes)*time.Minute)
			near(t, "°C", float64(got), row.celsius[i], 0.006)
		}
	}
}

func TestATargetOutOfReachNamesTheHighest(t *testing.T) {
	var unreachable *Unreachable
	_, err := HeatUp(load, 20, 1000, room, 40, 77)
	if !errors.As(err, &unreachable) {
		t.Fatalf("want *Unreachable, got %v", err)
	}
	near(t, "highest", float64(unreachable.Highest), 70, 1e-9)
	if !strings.Contains(err.Error(), "at full power the load comes to rest at 70.0 °C") {
		t.Errorf("the text does not name the highest: %s", err)
	}
	_, err = Cooling(load, loss, room, 65, 18)
	if !errors.As(err, &unreachable) || unreachable.Highest != room || !strings.Contains(err.Error(), "cannot cool to 18.0 °C") {
		t.Errorf("cooling below the room: %v", err)
	}
	for name, f := range map[string]func() (time.Duration, error){
		"no power":        func() (time.Duration, error) { return HeatUp(load, loss, 0, room, 20, 65) },
		"negative power":  func() (time.Duration, error) { return HeatUp(load, 0, -1, room, 20, 65) },
		"the rest point":  func() (time.Duration, error) { return HeatUp(load, loss, 3000, room, 20, 320) },
		"no number":       func() (time.Duration, error) { return HeatUp(load, loss, 3000, room, 20, unit.Celsius(math.NaN())) },
		"cannot cool off": func() (time.Duration, error) { return Cooling(load, 0, room, 65, 60) },
	} {
		if d, err := f(); !errors.As(err, &unreachable) || d != 0 {
			t.Errorf("%s: got %v, %v", name, d, err)
		}
	}
}

func TestAHeatUpAlreadyDoneTakesNoTime(t *testing.T) {
	if d, err := HeatUp(load, loss, 3000, room, 65, 65); d != 0 || err != nil {
		t.Errorf("heat-up: %v, %v", d, err)
	}
	if d, err := Cooling(load, loss, room, 65, 65); d != 0 || err != nil {
		t.Errorf("cooling: %v, %v", d, err)
	}
	if d, err := HeatUp(load, 0, 1e-12, room, 20, 65); err != nil || d <= 0 {
		t.Errorf("a hopeless power must not overflow the duration: %v, %v", d, err)
	}
	if got := After(0, loss, 3000, room, 40, time.Hour); got != 40 {
		t.Errorf("a load without capacity: %v", got)
	}
	near(t, "without loss", float64(After(load, 0, 3000, room, 20, time.Minute)), 21.7200, 0.0001)
}
