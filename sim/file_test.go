package sim

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"mashward/controller/unit"
)

const yardFile = `plant: Yard kettle as built
element: {power: 2930 W, capacity: 900 J/K, transfer: 140 W/K}
vessel: {capacity: 4300 J/K, transfer: 180 W/K}
loss: {lid_on: 6.5 W/K, lid_off: 9.5 W/K}
evaporation: {lid_on: 0.6 W/kPa, lid_off: 6 W/kPa}
circulation: {flow: 6 L/min, bed_transfer: 260 W/K, outside_bed: 30 %, delay: 5 s, pipe_loss: 0.8 W/K}
probe: {place: bed, lag: 9 s, noise: 0.05 K, step: 0.0625 K, offset: -0.5 K, conversion: 0.75 s}
supply: {nominal: 230 V, actual: 225 V}
water: {error: -3 %, temperature: 12 °C}
grain: {error: 2 %, slaking: 10 kJ/kg, retention: 0.9 L/kg}
chiller: {transfer: 300 W/K, water: 12 °C}
site: {room: 17 °C, altitude: 340 m}
`

func TestAPlantFileSaysEveryFigure(t *testing.T) {
	base := Defaults()
	base.Element.Covered = 12
	got, faults := ParsePlant("yard.yaml", []byte(yardFile), base)
	if len(faults) > 0 {
		t.Fatalf("faults: %v", faults)
	}
	want := Params{
		Name:        "Yard kettle as built",
		Element:     Element{Power: 2930, Capacity: 900, Transfer: 140, Covered: 12},
		Vessel:      Vessel{Volume: 50, Capacity: 4300, Transfer: 180},
		Loss:        Loss{LidOn: 6.5, LidOff: 9.5},
		Evaporation: Evaporation{LidOn: 0.0006, LidOff: 0.006},
		Circulation: Circulation{Flow: 0.1, BedTransfer: 260, OutsideBed: 0.3, Delay: 5 * time.Second, PipeLoss: 0.8},
		Probe:       Probe{Place: Bed, Lag: 9 * time.Second, Noise: 0.05, Step: 0.0625, Offset: -0.5, Conversion: 750 * time.Millisecond},
		Supply:      Supply{Nominal: 230, Actual: 225},
		Water:       Water{Error: -0.03, Temperature: 12},
		Grain:       Grain{Error: 0.02, Slaking: 10000, Retention: 0.9},
		Chiller:     Chiller{Transfer: 300, Water: 12},
		Site:        Site{Room: 17, Altitude: 340},
	}
	near := func(a, b unit.WattsPerPascal) bool { return a-b < 1e-12 && b-a < 1e-12 }
	if !near(got.Evaporation.LidOn, want.Evaporation.LidOn) || !near(got.Evaporation.LidOff, want.Evaporation.LidOff) {
		t.Errorf("evaporation %v, want %v", got.Evaporation, want.Evaporation)
	}
	got.Evaporation = want.Evaporation
	if d := got.Circulation.Flow - 0.1; d > 1e-12 || d < -1e-12 {
		t.Errorf("flow %v", got.Circulation.Flow)
	}
	got.Circulation.Flow = 0.1
	if got != want {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

func TestAPlantFileWithNothingButANameIsTheBase(t *testing.T) {
	base := Defaults()
	got, faults := ParsePlant("p.yaml", []byte("plant: bare\n"), base)
	base.Name = "bare"
	if len(faults) > 0 || got != base {
		t.Errorf("got %+v, %v", got, faults)
	}
}

func TestAPlantFileIsStrict(t *testing.T) {
	for _, c := range []struct{ text, line, want string }{
		{"element: {power: 3 kW}\n", "p.yaml:1:", "plant is missing"},
		{"plant: a\nelement: {power: 3000}\n", "p.yaml:2:", "power"},
		{"plant: a\nelement: {powr: 3 kW}\n", "p.yaml:2:", "write power"},
		{"plant: a\nloss: {lid_on: 9 W/K, lid_off: 5 W/K}\n", "p.yaml:2:", "lid_off"},
		{"plant: a\nevaporation: {lid_on: 9 W/kPa, lid_off: 5 W/kPa}\n", "p.yaml:2:", "lid_off"},
		{"plant: a\nprobe: {place: pocket}\n", "p.yaml:2:", "outlet"},
		{"plant: a\nelement: {capacity: 10 J/K, transfer: 400 W/K}\n", "p.yaml:2:", "0.5 s"},
		{"plant: a\ncirculation: {outside_bed: 99 %}\n", "p.yaml:2:", "outside"},
		{"plant: a\nsite: {room: NaN °C}\n", "p.yaml:2:", ""},
	} {
		_, faults := ParsePlant("p.yaml", []byte(c.text), Defaults())
		if len(faults) != 1 {
			t.Errorf("%q: %d faults, want 1: %v", c.text, len(faults), faults)
			continue
		}
		if s := faults[0].String(); !strings.HasPrefix(s, c.line) || !strings.Contains(s, c.want) {
			t.Errorf("%q: %q does not begin with %q or does not say %q", c.text, s, c.line, c.want)
		}
	}
}

func TestThePlantsInTestdataAreAccepted(t *testing.T) {
	files, err := filepath.Glob("../testdata/plants/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no plants found: %v", err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if _, faults := ParsePlant(file, text, Defaults()); len(faults) > 0 {
			t.Errorf("%v", faults)
		}
	}
}

func FuzzParsePlant(f *testing.F) {
	f.Add([]byte(yardFile))
	f.Add([]byte("plant: a\nloss: {lid_on: 9 W/K}\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		par, faults := ParsePlant("p.yaml", text, Defaults())
		for _, one := range faults {
			if !one.Warning {
				return
			}
		}
		p := New(par, Load{Water: 20, Grain: 4, GrainTemperature: 18}, 1)
		p.Do(Event{Kind: GrainIn})
		for range 100 {
			p.Advance(unit.On, unit.On)
		}
		for i, v := range p.x {
			if v != v || v > 1e9 || v < -1e7 {
				t.Fatalf("an accepted file makes node %d run off to %v: %s", i, v, text)
			}
		}
	})
}
