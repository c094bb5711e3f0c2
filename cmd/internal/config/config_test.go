package config

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"mashward/controller/unit"
	"mashward/profile/plan"
	"mashward/profile/strict"
	"mashward/sim"
	"mashward/sim/fault"
)

// TestTheSampleRigMeansWhatItSays compares every figure of the sample.
func TestTheSampleRigMeansWhatItSays(t *testing.T) {
	got, faults := ParseRig("yard.yaml", contents(t, testdata+"rigs/yard-kettle.yaml"))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	want := Rig{
		Name:    "Yard kettle",
		Kettle:  Kettle{Capacity: 50, Diameter: 0.4, ElementCoveredAt: 12, Vessel: 4100, Loss: 7},
		Element: Element{Power: 3000, Relay: Relay{Driver: "gpio", Line: "GPIO17", Type: SolidState}},
		Pump:    Pump{Relay: Relay{Driver: "gpio", Line: "GPIO27", Type: Mechanical}},
		Probe:   Probe{Driver: "w1", ID: "28-0000075a1c3f", Place: Outlet, CoveredAt: 9},
		Supply:  Supply{Voltage: 230, Fuse: 16, Tariff: Tariff{0.32, "EUR"}},
		Site:    Site{Altitude: 340, Room: 18, Tap: 12},
		Bag:     Bag{Retention: 0.8},
		Limits:  Limits{OverTemperature: 102},
		File:    "yard.yaml",
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v\nwant\n%+v", got, want)
	}
	if !got.Pump.Present() || got.Contactor.Present() || got.OverTemperature() != 102 {
		t.Errorf("pump %v, contactor %v, limit %v", got.Pump.Present(), got.Contactor.Present(), got.OverTemperature())
	}
}

// TestWhatASmallRigLeavesOutIsFilledIn states each default. The boiling point
// at sea level is IF97's, 99.97 °C.
func TestWhatASmallRigLeavesOutIsFilledIn(t *testing.T) {
	r, faults := ParseRig("small.yaml", contents(t, testdata+"rigs/small-pot.yaml"))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if r.Pump.Present() || r.Supply != (Supply{}) || r.Limits != (Limits{}) || r.Tuning != "" {
		t.Errorf("something came out of nothing: %+v", r)
	}
	if r.Site != (Site{0, DefaultRoom, DefaultTap}) || r.Bag != (Bag{DefaultRetention, 0}) {
		t.Errorf("site %+v, bag %+v", r.Site, r.Bag)
	}
	if r.Kettle.Vessel != 1500 || r.Kettle.VesselEstimated {
		t.Errorf("3 kg of steel hold %v", r.Kettle.Vessel)
	}
	if !r.Kettle.LossEstimated || math.Abs(float64(r.Kettle.Loss)-0.5*math.Cbrt(400)) > 1e-9 {
		t.Errorf("the estimated loss of 20 L is %v", r.Kettle.Loss)
	}
	if got := float64(r.OverTemperature()); math.Abs(got-103.974) > 0.01 {
		t.Errorf("without a limit of its own the rig has %v °C", got)
	}
	r.Site.Altitude = -430
	if got := r.OverTemperature(); got != 105 {
		t.Errorf("below the sea the limit is %v; want it kept to 105 °C", got)
	}
}

// TestEstimatesFitTheSampleKettle: 50 L are some 8 kg of steel and 7 W/K.
func TestEstimatesFitTheSampleKettle(t *testing.T) {
	if v := float64(EstimatedVessel(50)); math.Abs(v-4100) > 100 {
		t.Errorf("vessel of 50 L: %v J/K", v)
	}
	if l := float64(EstimatedLoss(50)); math.Abs(l-7) > 0.5 {
		t.Errorf("loss of 50 L: %v W/K", l)
	}
}

// TestAVesselIsAHeatCapacityOrAMassOfMetal has the ways to write it.
func TestAVesselIsAHeatCapacityOrAMassOfMetal(t *testing.T) {
	for text, want := range map[string]unit.JoulesPerKelvin{
		"4.1 kJ/K": 4100, "8 kg steel": 4000, "8 kg copper": 3096, "4 kg aluminium": 3620, "10 lb  steel": 2267.96185,
	} {
		if got, err := parseVessel(text); err != nil || math.Abs(float64(got-want)) > 1e-6 {
			t.Errorf("%q = %v, %v; want %v", text, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"8 kg":       "8 kg of what? write 8 kg steel, copper or aluminium",
		"8 steel":    "8 what? write 8 kg",
		"8,5 kg tin": `"8,5 kg tin" has a decimal comma; write 8.5 kg tin`,
		"8 W/K":      "W/K measures a heat transfer, and this is a heat capacity; write J/K or kJ/K, as in 4.1 kJ/K",
	} {
		if got, err := parseVessel(text); err == nil || err.Error() != want || got != 0 {
			t.Errorf("%q = %v, %v; want %s", text, got, err, want)
		}
	}
}

// TestOptionalPartsOfARigAreRead has what the samples do without.
func TestOptionalPartsOfARigAreRead(t *testing.T) {
	text := string(contents(t, testdata+"rigs/yard-kettle.yaml")) + `
tuning: yard-kettle.tuning.yaml
contactor: {relay: {driver: gpio, line: GPIO22}}
inputs: {go: GPIO5, off: GPIO6, level: GPIO13, flow: GPIO19, emergency: GPIO26}
signals: {buzzer: GPIO12, lamp: GPIO16}
`
	r, faults := ParseRig(filepath.Join("etc", "yard.yaml"), []byte(text))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	if r.Contactor != (Relay{"gpio", "GPIO22", Mechanical}) ||
		r.Inputs != (Inputs{"GPIO5", "GPIO6", "GPIO13", "GPIO19", "GPIO26"}) || r.Signals != (Signals{"GPIO12", "GPIO16"}) {
		t.Errorf("%+v %+v %+v", r.Contactor, r.Inputs, r.Signals)
	}
	if got, want := r.TuningPath(), filepath.Join("etc", "yard-kettle.tuning.yaml"); got != want {
		t.Errorf("tuning lies at %s, want %s", got, want)
	}
}

// TestThePlanSeesTheRigAsWritten guards the words that two packages share.
func TestThePlanSeesTheRigAsWritten(t *testing.T) {
	r, _ := ParseRig("yard.yaml", contents(t, testdata+"rigs/yard-kettle.yaml"))
	for place, want := range map[Place]plan.Place{Outlet: plan.Outlet, Return: plan.Return, Bed: plan.Bed} {
		r.Probe.Place = place
		if got := r.PlanKettle().Probe; got != want || place.String() == "unknown" {
			t.Errorf("%v became %v", place, got)
		}
	}
	k := r.PlanKettle()
	if k.Relay != plan.SolidState || !k.Pump || k.InBoil || k.Power != 3000 || k.OverTemperature != 102 || k.Fuse != 16 {
		t.Errorf("%+v", k)
	}
	r.Element.Relay.Type = Mechanical
	if r.PlanKettle().Relay != plan.Mechanical {
		t.Error("a mechanical relay became a solid-state one")
	}
}

// TestTheSampleBrewsFitTheirKettles is the good case of Check.
func TestTheSampleBrewsFitTheirKettles(t *testing.T) {
	for brew, kettle := range map[string]string{
		"rye-four-rests": "yard-kettle", "congress-45-70": "yard-kettle", "one-rest": "yard-kettle",
		"water-only": "yard-kettle", "wheat-promised": "yard-kettle", "small-batch": "small-pot",
	} {
		p, faults, err := LoadProfile(testdata + "profiles/" + brew + ".yaml")
		if err != nil || len(faults) > 0 {
			t.Error(brew, faults, err)
		}
		r, faults, err := LoadRig(testdata + "rigs/" + kettle + ".yaml")
		if err != nil || len(faults) > 0 {
			t.Error(kettle, faults, err)
		}
		if faults := Check(p, r); strict.Refused(faults) {
			t.Errorf("%s in the %s: %v", brew, kettle, faults)
		}
	}
}

// TestTheSamplePlantAndFaultsAreAccepted reads the other two kinds.
func TestTheSamplePlantAndFaultsAreAccepted(t *testing.T) {
	plant, faults := sim.ParsePlant("plant.yaml", contents(t, testdata+"plants/yard-kettle-as-built.yaml"), sim.Defaults())
	if len(faults) > 0 || plant.Element.Power != 2930 || plant.Site.Room != 17 || plant.Name != "Yard kettle as built" {
		t.Errorf("%+v, %v", plant, faults)
	}
	script, faults := fault.Parse("faults.yaml", contents(t, testdata+"faults/example.yaml"))
	if len(faults) > 0 || len(script) != 2 || script[0].Kind != fault.RelayWelded || script[1].Kelvin != 3 {
		t.Errorf("%+v, %v", script, faults)
	}
}

// TestAFileThatCannotBeUsedHasItsExitCode walks the ways a file can fail.
func TestAFileThatCannotBeUsedHasItsExitCode(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	untuned := write("rig.yaml", string(contents(t, testdata+"rigs/yard-kettle.yaml"))+"tuning: gone.yaml\n")
	large := write("large.yaml", strings.Repeat("# nothing\n", strict.MaxBytes))
	profile := func(path string) error { _, _, err := LoadProfile(path); return err }
	rig := func(path string) error { _, _, err := LoadRig(path); return err }
	for _, c := range []struct {
		what string
		err  error
		code int
		says string
	}{
		{"missing profile", profile(filepath.Join(dir, "none.yaml")), ExitMissing, "none.yaml is missing"},
		{"missing rig", rig(filepath.Join(dir, "none.yaml")), ExitMissing, "none.yaml is missing"},
		{"bad profile", profile(bad + "profile-no-unit.yaml"), ExitBadInput, "profile-no-unit.yaml:6: rest: 63 what? write 63 °C"},
		{"bad rig", rig(bad + "rig-no-unit.yaml"), ExitBadRig, "rig-no-unit.yaml:3: element.power: 3000 what? write 3000 W"},
		{"too large", rig(large), ExitBadRig, "keep it below 256 KiB"},
		{"missing tuning", rig(untuned), ExitMissing, "gone.yaml is missing"},
		{"a directory", profile(dir), ExitIO, "cannot be read"},
		{"forbidden", unreadable("rig.yaml", &fs.PathError{Op: "open", Path: "rig.yaml", Err: fs.ErrPermission}, "check the name"), ExitPermission, "rig.yaml cannot be read: permission denied; check the name"},
	} {
		var f *Failure
		if !errors.As(c.err, &f) || f.Code != c.code || !strings.Contains(f.Error(), c.says) {
			t.Errorf("%s: got %v (%+v), want exit code %d and %q", c.what, c.err, f, c.code, c.says)
		}
	}
}

// FuzzParseRig holds whatever parses to what others rely on.
func FuzzParseRig(f *testing.F) {
	for _, name := range []string{"yard-kettle", "small-pot"} {
		text, err := os.ReadFile(testdata + "rigs/" + name + ".yaml")
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		r, faults := ParseRig("f", text)
		if strict.Refused(faults) {
			if !reflect.DeepEqual(r, Rig{}) {
				t.Fatalf("a refused rig still has %+v", r)
			}
			return
		}
		k := r.Kettle
		if !(r.Element.Power >= 200 && k.Capacity >= 5 && k.ElementCoveredAt > 0 && k.ElementCoveredAt < k.Capacity && k.Vessel > 0 && k.Loss > 0) {
			t.Fatalf("%+v got through", r)
		}
		if !r.Element.Relay.Present() || r.Element.Relay.Line == "" || r.Probe.Driver == "" || r.Probe.ID == "" {
			t.Fatalf("%+v got through", r)
		}
		if r.OverTemperature() > min(r.Boiling().Plus(4), 105) {
			t.Fatalf("a limit of %v got through", r.OverTemperature())
		}
	})
}
