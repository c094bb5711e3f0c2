package profile

import (
	"slices"
	"strings"
	"testing"
	"time"
)

func TestAWaterBrewIsTheSameDayCutShort(t *testing.T) {
	p, faults := Parse("f", []byte(`profile: A brown one with a name as long as a name may be, sixty
water: 26 L
grain: {mass: 4.6 kg, temperature: 18 °C}
steps:
  - {mash-in: 44 °C, for: 15 min}
  - {rest: 63 °C, for: 1 min, ramp: 1 K/min}
  - {mash-out: 77 °C, for: 10 min}
  - lift
  - {boil: 75 min, additions: [{left: 60 min, add: 28 g bittering hops}, {left: 3 min, add: finings}]}
  - {stand: 80 °C, for: 20 min}
  - {chill: 18 °C}
`))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	w, err := p.InWater()
	if err != nil || w.Use != WaterBrew || w.Grain != (Grain{}) || w.Water != p.Water || len(w.Steps) != len(p.Steps) || !strings.HasPrefix(w.Name, "Water brew: ") || len([]rune(w.Name)) > 64 {
		t.Fatalf("%+v, %v", w, err)
	}
	want := []time.Duration{7 * time.Minute, time.Minute, 2 * time.Minute, 0, 5 * time.Minute, 2 * time.Minute, 0}
	for i, s := range w.Steps {
		if s.Kind != p.Steps[i].Kind || s.Target != p.Steps[i].Target || s.Ramp != p.Steps[i].Ramp || s.For != want[i] {
			t.Errorf("%d: %+v", i, s)
		}
	}
	hops := w.Steps[4].Additions
	if len(hops) != 2 || hops[0].Left != 5*time.Minute || hops[1].Left != 3*time.Minute || !strings.HasPrefix(hops[0].Add, "nothing today") {
		t.Errorf("%+v", hops)
	}
	if p.Steps[4].For != 75*time.Minute || p.Steps[4].Additions[0].Add != "28 g bittering hops" {
		t.Error("the brew itself was changed")
	}
	if w.ByHand() || p.ByHand() {
		t.Error("by hand")
	}
	if _, err := w.InWater(); err == nil {
		t.Error("a water brew of a water brew")
	}
}

// What goes in is called at its own moment, or at the end of a step that is shorter.
func TestAWaterBrewCallsItsAdditionsWhenTheBrewDoes(t *testing.T) {
	p, faults := Parse("f", []byte(`profile: x
water: 26 L
grain: {mass: 4.6 kg, temperature: 18 °C}
steps:
  - {mash-in: 64 °C, for: 45 min, additions: [{at: strike, add: a}, {at: 5 min, add: b}, {at: 20 min, add: c}]}
  - {lift: , additions: [{add: d}]}
  - {boil: 75 min, additions: [{at: flame-out, add: e}]}
  - {chill: 18 °C, additions: [{add: f}]}
`))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	w, err := p.InWater()
	if err != nil {
		t.Fatal(err)
	}
	want := []Addition{
		{When: AtStrike, Add: "a"},
		{When: ByClock, At: 5 * time.Minute, Add: "b"},
		{When: ByClock, At: 7 * time.Minute, Add: "c"},
		{When: AtOnce, Add: "d"},
		{When: ByLeft, Add: "e"},
		{When: AtOnce, Add: "f"},
	}
	got, _ := w.Order()
	for i := range want {
		want[i].Add = "nothing today, else " + want[i].Add
	}
	if !slices.Equal(got, want) {
		t.Errorf("%+v", got)
	}
}

func TestWhatIsWaterByHand(t *testing.T) {
	for text, want := range map[string]bool{
		"steps: [{rest: 62 °C, for: 30 min}]":                                            true,
		"use: cleaning\nsteps: [{rest: 62 °C, for: 30 min}]":                             true,
		"steps: [{rest: 62 °C, for: 30 min}, {boil: 60 min}]":                            false, // extract is boiled without grain
		"use: water-brew\nsteps: [{mash-in: 62 °C, for: 2 min}]":                         false,
		"steps: [{rest: 62 °C, for: 30 min}, {stand: 70 °C, for: 10 min}]":               true,
		"grain: {mass: 4 kg, temperature: 18 °C}\nsteps: [{mash-in: 62 °C, for: 2 min}]": false,
	} {
		p, faults := Parse("f", []byte("profile: x\nwater: 25 L\n"+text+"\n"))
		if len(faults) > 0 || p.ByHand() != want {
			t.Errorf("%s: %v, %v", text, p.ByHand(), faults)
		}
	}
}
