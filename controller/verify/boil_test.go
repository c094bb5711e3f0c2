package verify

import (
	"testing"
	"time"

	"mashward/controller/unit"
)

// boiler is a kettle at its boil: what it is given beyond its losses leaves as steam.
// It loses 7 W/K to the room and 600 W from its surface.
type boiler struct {
	*rig
	at      float64
	surface float64
	real    func(unit.Relay) float64 // full powers that the element gives
}

func boils() *boiler {
	b := &boiler{rig: start(98.9), at: 98.9, surface: 600, real: func(on unit.Relay) float64 { return float64(on) }}
	b.tick.Bed, b.tick.Open, b.tick.LidOff, b.tick.Pump = false, true, true, unit.Off
	return b
}

// pass lets seconds pass at a duty in tenths.
func (b *boiler) pass(seconds, tenths int) *boiler {
	for i := range seconds {
		on := unit.RelayOf(i%10 < tenths)
		b.at = min(b.at+(3000*b.real(on)-7*(b.at-18)-b.surface)/mashLoad, 99.2)
		b.read += (b.at - b.read) / 12
		b.step(on, b.read+0.04*b.noise.NormFloat64())
	}
	return b
}

func TestADeadElementIsFoundByTheFallOfTheBoil(t *testing.T) {
	b := boils().pass(900, 7)
	since := b.now
	b.real = func(unit.Relay) float64 { return 0 }
	b.pass(300, 7)
	b.want(t, NotHeating, 5*time.Minute, since)
}

func TestWhatHoldsABoilBackIsNoDeadElement(t *testing.T) {
	for name, do := range map[string]func(*boiler){
		"two kilograms of cold metal, nobody told": func(b *boiler) { b.at -= 2.2; b.pass(900, 7) },
		"a litre of cold water, nobody told":       func(b *boiler) { b.at -= 3; b.pass(900, 7) },
		"a chiller that was told of": func(b *boiler) {
			b.tick.Metal = true
			b.at -= 6
			b.pass(300, 7)
			b.tick.Metal = false
			b.pass(900, 7)
		},
		"less vigour than before":             func(b *boiler) { b.pass(900, 5) },
		"wind: a third more from the surface": func(b *boiler) { b.surface *= 1.35; b.pass(900, 4) },
		"heat switched off":                   func(b *boiler) { b.pass(900, 0) },
	} {
		b := boils().pass(900, 7)
		do(b)
		if b.found.Kind != Nothing {
			t.Errorf("%s: found %v after %v, expected %.0f W, measured %.0f W", name, b.found.Kind, b.at, b.found.Expected, b.found.Measured)
		}
	}
}

func TestARelayThatWeldedInTheBoilIsFoundWhenTheHeatIsToldOff(t *testing.T) {
	b := boils().pass(900, 7)
	b.real = func(unit.Relay) float64 { return 1 }
	b.pass(600, 7)
	if b.found.Kind != Nothing {
		t.Fatalf("steam shows in no temperature, and yet %v was found", b.found.Kind)
	}
	since := b.now
	b.pass(300, 0)
	b.want(t, HeatingWhileOff, 5*time.Minute, since)
}
