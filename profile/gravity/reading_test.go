package gravity

import (
	"errors"
	"math"
	"testing"

	"mashward/controller/unit"
)

// What has to be added to the reading of a Brix spindle that is true at 20 °C,
// in °Bx, by temperature and by reading: the table printed in Circular 440 of
// the National Bureau of Standards (1942), after the Normal-Eichungs-Kommission.
// Written down from memory; its column of pure water is held against IAPWS.
var spindle = []struct {
	celsius float64
	at      [5]float64 // at 0, 5, 10, 15 and 20 °Bx
}{
	{10, [5]float64{-0.32, -0.38, -0.43, -0.48, -0.52}},
	{12, [5]float64{-0.29, -0.32, -0.36, -0.40, -0.43}},
	{15, [5]float64{-0.20, -0.22, -0.24, -0.26, -0.28}},
	{17, [5]float64{-0.13, -0.14, -0.15, -0.16, -0.18}},
	{20, [5]float64{0, 0, 0, 0, 0}},
	{23, [5]float64{0.16, 0.16, 0.17, 0.17, 0.19}},
	{25, [5]float64{0.27, 0.28, 0.30, 0.31, 0.32}},
	{30, [5]float64{0.61, 0.62, 0.63, 0.66, 0.68}},
	{35, [5]float64{0.99, 1.01, 1.02, 1.06, 1.10}},
	{40, [5]float64{1.42, 1.45, 1.47, 1.51, 1.54}},
	{45, [5]float64{1.91, 1.94, 1.96, 2.00, 2.03}},
	{50, [5]float64{2.46, 2.50, 2.50, 2.53, 2.56}},
}

func TestAFloatIsCorrectedAsThePublishedTableDoes(t *testing.T) {
	worst := 0.0
	for _, row := range spindle {
		for i, add := range row.at {
			shown := float64(5 * i)
			r := Reading{Kind: Saccharometer, Value: shown, Temperature: unit.Celsius(row.celsius)}
			if i == 0 && row.celsius > 20 {
				r.Value = 0.01 - add // warm water reads below the scale
			}
			g, err := r.Gravity()
			if err != nil {
				t.Fatal(err)
			}
			want := float64(GravityOf(unit.Plato(r.Value + add)))
			tolerance := 0.0005 // what a hydrometer is read to
			if i == 0 {
				tolerance = 0.0001 // water: nothing was fitted
			}
			near(t, r.Kind.String(), float64(g), want, tolerance)
			worst = max(worst, math.Abs(float64(g)-want))
		}
	}
	t.Logf("worst difference to the table: %.5f", worst)
}

// Water read at any temperature is water: the float and the density are then
// the only things that count, whatever it is calibrated at.
func TestWaterReadsAsWater(t *testing.T) {
	// IAPWS-IF97: 998.206 kg/m³ at 20 °C, 995.652 at 30, 992.224 at 40.
	for celsius, density := range map[unit.Celsius]float64{20: 998.206, 30: 995.652, 40: 992.224} {
		shown := density / 998.206 * (1 + 25e-6*float64(celsius-20))
		g, err := Reading{Kind: Hydrometer, Value: shown, Temperature: celsius}.Gravity()
		if err != nil {
			t.Fatal(err)
		}
		near(t, "water", float64(g), 1, 0.00001)
	}
	// A float for 60 °F shows 1.000 in water of 60 °F.
	g, err := Reading{Kind: Hydrometer, Value: 1, Temperature: 15.556, Calibrated: 15.556}.Gravity()
	if err != nil || math.Abs(float64(g)-1) > 1e-9 {
		t.Errorf("%v, %v", g, err)
	}
}

func TestARefractometerReadsWortTooStrong(t *testing.T) {
	r := Reading{Kind: Refractometer, Value: 12.9, Temperature: 20}
	g, err := r.Gravity()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "°P of 12.9 °Bx by 1.04", float64(PlatoOf(g)), 12.9/1.04, 1e-9)
	// With the factor 1 it shows sucrose: 9.99325 °Bx are 1.040.
	r.Factor, r.Value = 1, 9.99325
	if g, err = r.Gravity(); err != nil {
		t.Fatal(err)
	}
	near(t, "sucrose", float64(g), 1.040, 0.00001)
}

func TestWhatCannotBeCorrectedIsRefusedWithWhatToDo(t *testing.T) {
	for _, c := range []struct {
		r    Reading
		want string
	}{
		{Reading{Kind: Hydrometer, Value: 1.04, Temperature: 72}, "72 °C is too hot to correct a hydrometer: above 50 °C the sample steams and cools as it is read; let a covered sample cool to about 20 °C and read again"},
		{Reading{Kind: Saccharometer, Value: 10, Temperature: 4}, "4 °C is too cold to correct a saccharometer: below 10 °C it reads false; let the sample warm to about 20 °C and read again"},
		{Reading{Kind: Refractometer, Value: 10, Temperature: 60}, "a refractometer compensates from 10 to 30 °C only, and the sample has 60 °C; let the covered sample come to the temperature of the room, and put a drop of it on the prism"},
		{Reading{Kind: Refractometer, Value: 10, Temperature: 20, Factor: 2}, "a wort factor of 2 is not possible; write a factor near 1.04"},
		{Reading{Kind: Hydrometer, Value: 1.4, Temperature: 20}, "a hydrometer reading of 1.4 would be a gravity of 1.400, which no wort has; look at the scale again, and at its unit"},
		{Reading{Kind: Hydrometer, Value: math.NaN(), Temperature: 20}, "the reading is no number; read it again"},
		{Reading{Kind: Hydrometer, Value: 1.04, Temperature: unit.Celsius(math.NaN())}, "the reading is no number; read it again"},
		{Reading{Kind: 9, Value: 1.04, Temperature: 20}, "the instrument is not known; say whether it was a hydrometer, a saccharometer or a refractometer"},
	} {
		g, err := c.r.Gravity()
		var refusal *Refusal
		if !errors.As(err, &refusal) || g != 0 || err.Error() != c.want {
			t.Errorf("%+v: %v, %v\nwant %s", c.r, g, err, c.want)
		}
	}
	if _, err := (Reading{Kind: Hydrometer, Value: 1.04, Temperature: 20}).Wort(); err == nil {
		t.Error("a wort without a volume")
	}
	if Kind(9).String() != "unknown" {
		t.Error("an instrument nobody knows has a name")
	}
}

func TestAWrittenReadingNamesItsInstrument(t *testing.T) {
	for text, want := range map[string]Reading{
		"1.048":    {Kind: Hydrometer, Value: 1.048, Temperature: 20},
		"12.4 °P":  {Kind: Saccharometer, Value: 12.4, Temperature: 20},
		"12.9 °Bx": {Kind: Refractometer, Value: 12.9, Temperature: 20},
		"12.9Bx":   {Kind: Refractometer, Value: 12.9, Temperature: 20},
	} {
		if got, err := Read(text); err != nil || got != want {
			t.Errorf("%q: %+v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "1050", "strong", "-4 °P", "12,4 °P"} {
		if _, err := Read(text); err == nil {
			t.Errorf("%q was read", text)
		}
	}
}

// 23.6 L read at 75 °C are 23.04 L cold: IAPWS-IF97 has 974.857 kg/m³ at 75 °C.
func TestAHotVolumeIsMadeCold(t *testing.T) {
	r := Reading{Kind: Hydrometer, Value: 1.044, Temperature: 20, Volume: 23.6, VolumeAt: 75}
	w, err := r.Wort()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "cold volume, L", float64(w.Volume), 23.6*974.857/998.206, 0.001)
	near(t, "gravity", float64(w.Gravity), 1.044, 1e-9)
}
