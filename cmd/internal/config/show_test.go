package config

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sim"
	"mashward/sim/fault"
)

// lastBits is what a change of unit may cost: two units in the last place.
const lastBits = 4.5e-16

// differences lists the fields in which two values of one type differ by more
// than the last bits. Lines are where a file has something, not what it means.
func differences(path string, a, b reflect.Value) []string {
	var all []string
	switch a.Kind() {
	case reflect.Struct:
		for i := range a.NumField() {
			if name := a.Type().Field(i).Name; name != "Line" && name != "File" {
				all = append(all, differences(path+"."+name, a.Field(i), b.Field(i))...)
			}
		}
	case reflect.Slice:
		if a.Len() != b.Len() {
			return []string{fmt.Sprintf("%s has %d entries and %d", path, a.Len(), b.Len())}
		}
		for i := range a.Len() {
			all = append(all, differences(fmt.Sprintf("%s[%d]", path, i), a.Index(i), b.Index(i))...)
		}
	case reflect.Float64:
		if d := math.Abs(a.Float() - b.Float()); !(d <= lastBits*math.Abs(a.Float())) {
			return []string{fmt.Sprintf("%s is %v and %v", path, a.Float(), b.Float())}
		}
	default:
		if !a.Equal(b) {
			return []string{fmt.Sprintf("%s is %v and %v", path, a, b)}
		}
	}
	return all
}

// same fails a test where a file means something else after it was shown.
func same[T any](t *testing.T, text string, before, after T, faults []strict.Fault) {
	t.Helper()
	if strict.Refused(faults) {
		t.Fatalf("what is shown is refused: %v\n%s", faults, text)
	}
	if d := differences("", reflect.ValueOf(before), reflect.ValueOf(after)); len(d) > 0 {
		t.Fatalf("%s\n%s", strings.Join(d, "\n"), text)
	}
}

// unlike is a plant that agrees with none in any figure a file can name, so that
// whatever the file leaves out is found.
func unlike(p sim.Params) sim.Params {
	u := sim.DefaultsFor(1234, 77)
	u.Circulation = sim.Circulation{Flow: 1, BedTransfer: 1, OutsideBed: 0.9, Delay: time.Minute, PipeLoss: 9}
	u.Probe = sim.Probe{Place: (p.Probe.Place + 1) % 3, Lag: time.Minute, Noise: 4, Step: 4, Offset: 4, Conversion: 9 * time.Second}
	u.Supply, u.Site = sim.Supply{Nominal: 99, Actual: 98}, sim.Site{Room: 49, Altitude: 5000}
	u.Water, u.Grain = sim.Water{Error: 1.5, Temperature: 90}, sim.Grain{Error: 1.5, Slaking: 99e3, Retention: 2.9}
	u.Chiller.Water, u.Loss.LidOff, u.Evaporation.LidOff = 59, 999, 0.9
	// What no plant file names comes from the rig.
	u.Element.Covered, u.Vessel.Volume, u.Probe.Covered = p.Element.Covered, p.Vessel.Volume, p.Probe.Covered
	return u
}

func TestAShownRigReadsBackAsThePlantItStandsFor(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 2))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*random.Float64() }
	for i := range 500 {
		r := Rig{
			Name:    "Random \"one\": #1, {brace}",
			Kettle:  Kettle{Capacity: unit.Litres(between(5, 300)), Loss: unit.WattsPerKelvin(between(0.2, 60)), ElementCoveredAt: 4},
			Element: Element{Power: unit.Watts(between(200, 15e3))},
			Probe:   Probe{Place: Place(i % 3), CoveredAt: 3},
			Supply:  Supply{Voltage: unit.Volts(between(90, 420))},
			Site:    Site{Altitude: unit.Metres(between(-430, 5000)), Room: unit.Celsius(between(-20, 50)), Tap: unit.Celsius(between(0, 40))},
			Bag:     Bag{Retention: unit.LitresPerKilogram(between(0, 2.5))},
		}
		r.Kettle.Vessel = EstimatedVessel(r.Kettle.Capacity)
		if i%2 == 0 {
			r.Pump.Relay.Driver = "gpio"
		}
		text, want := showRig(r), r.Plant()
		got, faults := sim.ParsePlant("shown", []byte(text), unlike(want))
		same(t, text, want, got, faults)
	}
}

// Every figure of a plant is a number of its own here, so that none can stand in
// for another.
func TestAShownPlantReadsBackWithEveryFigureInItsPlace(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 3))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*random.Float64() }
	for range 200 {
		want := sim.DefaultsFor(unit.Watts(between(200, 15e3)), unit.Litres(between(5, 300)))
		want.Circulation = sim.Circulation{
			Flow: unit.LitresPerSecond(between(0, 2)), BedTransfer: unit.WattsPerKelvin(between(1, 2e4)),
			OutsideBed: unit.Ratio(between(0.05, 0.95)), Delay: time.Duration(between(1e9, 120e9)), PipeLoss: unit.WattsPerKelvin(between(0, 100)),
		}
		want.Probe = sim.Probe{
			Place: sim.Bed, Lag: time.Duration(between(0, 300e9)), Noise: unit.Kelvin(between(0, 5)), Step: unit.Kelvin(between(0, 5)),
			Offset: unit.Kelvin(between(-20, 20)), Conversion: time.Duration(between(0, 10e9)),
		}
		want.Supply = sim.Supply{Nominal: unit.Volts(between(50, 500)), Actual: unit.Volts(between(0, 600))}
		want.Water = sim.Water{Error: unit.Ratio(between(-0.9, 2)), Temperature: unit.Celsius(between(0, 95))}
		want.Grain = sim.Grain{Error: unit.Ratio(between(-0.9, 2)), Slaking: unit.JoulesPerKilogram(between(0, 1e5)), Retention: unit.LitresPerKilogram(between(0, 3))}
		want.Chiller = sim.Chiller{Transfer: unit.WattsPerKelvin(between(0, 1e4)), Water: unit.Celsius(between(0, 60))}
		want.Site = sim.Site{Room: unit.Celsius(between(-20, 50)), Altitude: unit.Metres(between(-430, 5500))}
		text := showPlant(want)
		got, faults := sim.ParsePlant("shown", []byte(text), unlike(want))
		same(t, text, want, got, faults)
	}
}

func TestWhatIsShownOfEverySampleMeansTheSame(t *testing.T) {
	seen := 0
	for _, folder := range []string{"profiles", "rigs", "plants", "faults"} {
		files, err := filepath.Glob(testdata + folder + "/*.yaml")
		if err != nil || len(files) == 0 {
			t.Fatalf("no %s: %v", folder, err)
		}
		for _, file := range files {
			text, _, err := Show(file, nil)
			if err != nil {
				t.Fatal(err)
			}
			seen++
			switch folder {
			case "profiles":
				want, _ := profile.Parse("", contents(t, file))
				got, faults := profile.Parse("shown", []byte(text))
				same(t, text, want, got, faults)
				if brew, err := want.InWater(); err == nil {
					text := ProfileText(brew, nil)
					got, faults := profile.Parse("shown", []byte(text))
					same(t, text, brew, got, faults)
				}
			case "rigs":
				r, _ := ParseRig("", contents(t, file))
				got, faults := sim.ParsePlant("shown", []byte(text), unlike(r.Plant()))
				same(t, text, r.Plant(), got, faults)
			case "plants":
				want, _ := sim.ParsePlant("", contents(t, file), sim.Defaults())
				got, faults := sim.ParsePlant("shown", []byte(text), unlike(want))
				same(t, text, want, got, faults)
			case "faults":
				want, _ := fault.Parse("", contents(t, file))
				got, faults := fault.Parse("shown", []byte(text))
				same(t, text, want, got, faults)
			}
		}
	}
	if seen < 9 {
		t.Errorf("%d samples", seen)
	}
}

// everything has what the samples do without.
const everything = `profile: '"quoted", # and : odd'
water: 7.3 US gal
grain: {mass: 4612 g, temperature: 63.7 °F, moisture: 5.5 %, slaking: 12.5 kJ/kg, extract: 77.7 %, conversion: 91 %}
trub: 4.5 %
steps:
  - {mash-in: 111.3 °F, for: 15.5 min, name: 'a, b', floor: 2 K}
  - {rest: 63 °C, for: 35 min, ramp: 20 K/h, name: "null"}
  - {mash-out: 77 °C, for: 2.25 s, ramp: 0.5 K/min}
  - lift
  - {boil: 1.0001 h, name: x, boil_off: 1.7 L/h, additions: [{left: 1 h, add: '- {a: b}'}, {left: 0 s, add: "say \"when\""}]}
  - {stand: 80 °C, for: 1h15, name: y, floor: 2 K, additions: [{left: 20 min, add: "17"}]}
  - {chill: 18 °C, name: z}
expect:
  - {step: 1, never_above: 113.7 °F}
  - {step: 2, reached_within: 40.5 min}
  - {step: 5, counted_at_least: 59 min}
  - {strike_at_most: 49.5 °C}
  - {done_within: 5h30}
  - {energy_at_most: 27 MJ}
`

func TestEveryKeyOfAProfileIsShown(t *testing.T) {
	want, faults := profile.Parse("", []byte(everything))
	if strict.Refused(faults) {
		t.Fatal(faults)
	}
	shown := showProfile(want, nil)
	got, faults := profile.Parse("shown", []byte(shown))
	same(t, shown, want, got, faults)
	for _, word := range []string{"7.3 US gal", "63.7 °F", "111.3 °F", "floor: 1 K", "boil_off: 1.7 L/h", "15 min 30 s", "never_above: 113.7 °F", "energy_at_most: 7.5 kWh"} {
		if !strings.Contains(shown, word) {
			t.Errorf("%q is not in\n%s", word, shown)
		}
	}
}

func TestEveryFaultIsShownWithItsDefaults(t *testing.T) {
	var b strings.Builder
	b.WriteString("faults:\n")
	for k := fault.ProbeOpen; k <= fault.TickLate; k++ {
		fmt.Fprintf(&b, "  - {at: 90 s, fault: %s}\n  - {at: {step: 3}, fault: %s}\n", k, k)
	}
	want, faults := fault.Parse("", []byte(b.String()))
	if strict.Refused(faults) || len(want) != 50 {
		t.Fatal(len(want), faults)
	}
	shown := showScript(want)
	got, faults := fault.Parse("shown", []byte(shown))
	same(t, shown, want, got, faults)
	for _, line := range []string{
		"{at: 1 min 30 s, fault: probe-spike, value: 20 K, chance: 5 %}",
		"{at: {step: 3, after: 0 s}, fault: power-cut, for: 10 min}",
		"{at: 1 min 30 s, fault: low-volume, value: 35 %}",
		"{at: 1 min 30 s, fault: probe-drift, value: 1 K/h}",
		"{at: 1 min 30 s, fault: clock-step, value: 14 d}",
		"{at: 1 min 30 s, fault: drained, value: 5 L/min}",
	} {
		if !strings.Contains(shown, line) {
			t.Errorf("%q is not in\n%s", line, shown)
		}
	}
}

func TestAShownRigSaysWhatFollowsFromIt(t *testing.T) {
	text, _, err := Show(testdata+"rigs/small-pot.yaml", nil)
	if err != nil {
		t.Fatal(err)
	}
	// IF97 at the standard pressure: 99.97 °C; 4 K above it is the loosest limit.
	for _, want := range []string{"100 °C, and heat trips at 103.9 °C", "# loss.lid_on is estimated", "flow: 0 L/min"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
	if strings.Contains(text, "# vessel.capacity is estimated") {
		t.Error("a vessel that was weighed passes for an estimate")
	}
}

func TestABoilWithoutARateIsExplained(t *testing.T) {
	r, _ := ParseRig("", contents(t, testdata+"rigs/yard-kettle.yaml"))
	text, _, err := Show(testdata+"profiles/one-rest.yaml", &r)
	if err != nil || !strings.Contains(text, " L/h on this kettle") {
		t.Errorf("%v\n%s", err, text)
	}
	text, _, err = Show(testdata+"profiles/one-rest.yaml", nil)
	if err != nil || !strings.Contains(text, "a tenth of the wort in an hour") {
		t.Errorf("%v\n%s", err, text)
	}
}

func TestAPlantIsFilledInFromTheRig(t *testing.T) {
	file := filepath.Join(t.TempDir(), "p.yaml")
	write(t, file, "plant: Only a name\n")
	r, _ := ParseRig("", contents(t, testdata+"rigs/small-pot.yaml"))
	with, _, err := Show(file, &r)
	if err != nil || !strings.Contains(with, "power: 1800 W") {
		t.Errorf("%v\n%s", err, with)
	}
	without, _, err := Show(file, nil)
	if err != nil || !strings.Contains(without, "power: 3000 W") {
		t.Errorf("%v\n%s", err, without)
	}
}

func TestFiguresAreWrittenAsShortAsTheyAre(t *testing.T) {
	for want, got := range map[string]string{
		"0 K":                  difference(0),
		"-0.25 K":              difference(-0.25),
		"35 %":                 share(0.35),
		"152 °F":               temperature(unit.Celsius((152.0 - 32) * 5 / 9)),
		"66.7 °C":              temperature(66.7),
		"3000 W":               watts(3000),
		"6 L/min":              flow(0.1),
		"0.1 L/min":            flow(0.1 / 60),
		"1.25 K/min":           exact(1.25/60, unit.ParseKelvinPerSecond, "K/min", "K/h"), // not 75 K/h
		"2.5 L/h":              exact(2.5/3600, unit.ParseLitresPerSecond, "L/h", "L/min"),
		"0.3333333333333333 K": difference(1.0 / 3),
		"9 lb":                 mass(9 * 0.45359237),
	} {
		if got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	for want, got := range map[string]string{"35 min": lasting(35 * time.Minute), "0.75 s": lasting(750 * time.Millisecond), "90.5 s": lasting(90500 * time.Millisecond)} {
		if got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}
