package plan

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"mashward/profile"
)

var update = flag.Bool("update", false, "write the golden files anew")

// rye and yard are the sample brew and kettle of the documentation.
func rye() profile.Profile {
	return profile.Profile{
		Name: "Rye, four rests", Water: 26,
		Grain: profile.Grain{Mass: 4.6, Temperature: 18, Moisture: 0.04, Extract: 0.80, Conversion: 0.92}, Trub: 0.05,
		Steps: []profile.Step{
			{Kind: profile.MashIn, Target: 44, For: 15 * time.Minute, Floor: 1, Line: 5},
			{Kind: profile.Rest, Target: 63, For: 35 * time.Minute, Ramp: 1.0 / 60, Floor: 1, Line: 6},
			{Kind: profile.Rest, Target: 71, For: 25 * time.Minute, Floor: 1, Line: 7},
			{Kind: profile.MashOut, Target: 77, For: 10 * time.Minute, Floor: 1, Line: 8},
			{Kind: profile.Lift, Line: 9},
			{Kind: profile.Boil, For: 75 * time.Minute, BoilOff: 2.4 / 3600, Line: 10, Additions: []profile.Addition{
				{Left: 60 * time.Minute, Add: "28 g bittering hops", Line: 13}, {Left: 10 * time.Minute, Add: "finings", Line: 14},
			}},
			{Kind: profile.Chill, Target: 18, Line: 15},
		},
	}
}

func yard() Kettle {
	return Kettle{
		Capacity: 50, Diameter: 0.40, ElementCoveredAt: 12, Vessel: 4100, Loss: 7, Power: 3000, Pump: true,
		Probe: Outlet, ProbeCoveredAt: 9, Voltage: 230, Fuse: 16, Altitude: 340, Room: 18, Tap: 12,
		Retention: 0.8, OverTemperature: 102,
	}
}

func TestTheSampleReadsAsItsGoldenFiles(t *testing.T) {
	p, _ := Make(rye(), yard())
	for name, write := range map[string]func(*bytes.Buffer) error{
		"sample.txt":  func(b *bytes.Buffer) error { return Text(b, p) },
		"sample.json": func(b *bytes.Buffer) error { return JSON(b, p) },
		"sheet.txt": func(b *bytes.Buffer) error {
			return Sheet(b, p, Heading{Rig: "Yard kettle", Start: 9 * time.Hour, HasStart: true})
		},
	} {
		var got bytes.Buffer
		if err := write(&got); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join("testdata", name)
		if *update {
			if err := os.WriteFile(path, got.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got.Bytes(), want) {
			t.Errorf("%s differs; look at it, then `go test ./profile/plan -update`:\n%s", path, got.Bytes())
		}
	}
}

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if d := got - want; !(d <= tolerance && -d <= tolerance) {
		t.Errorf("%s: got %.6g, want %.6g within %g", what, got, want, tolerance)
	}
}

// minutes is the heat-up of entry index.
func minutes(t *testing.T, p Plan, index int) float64 {
	t.Helper()
	for _, s := range p.Steps {
		if s.Index == index {
			return s.Heat().Minutes()
		}
	}
	t.Fatalf("no step %d in the plan", index)
	return 0
}

// The same brew with 5.4 kg, 3500 W and water at 14 °C was worked out by hand,
// by the same physics, with 25.98 kg of water: 17.7 min to a strike of 46.1 °C,
// ramps at full power of 11.9, 5.1 and 3.9 min.
func TestASimilarSampleMeetsItsHandCalculation(t *testing.T) {
	brew, kettle := rye(), yard()
	brew.Grain.Mass, brew.Steps[1].Ramp, kettle.Power, kettle.Tap = 5.4, 0, 3500, 14
	p, problems := Make(brew, kettle)
	if Refused(problems) {
		t.Fatal(problems)
	}
	within(t, "strike, °C", float64(p.Strike.Temperature), 46.1, 0.05)
	within(t, "strike heat-up, min", minutes(t, p, 0), 17.7, 0.1)
	within(t, "to 63 °C, min", minutes(t, p, 2), 11.9, 0.1)
	within(t, "to 71 °C, min", minutes(t, p, 3), 5.1, 0.06)
	within(t, "to 77 °C, min", minutes(t, p, 4), 3.9, 0.06)
	within(t, "boiling point, °C", float64(p.Boiling), 98.84, 0.01)
	within(t, "filled depth, cm", float64(p.Volumes[0].Depth)*100, 20.7, 0.05)
}
