// Package fault is what goes wrong on purpose: a script of faults with their
// moments, and an injector that says at each second which of them are at work.
// It only says so; sim's bench makes them happen.
package fault

import (
	"time"

	"mashward/controller/unit"
)

// Kind is one kind of fault. The zero value is no fault.
type Kind uint8

// The kinds, with what they do and the value they have when none is written.
const (
	NoFault      Kind = iota
	ProbeOpen         // nothing answers
	ProbeStuck        // the reading stays what it was; its instants go on
	ProbeOffset       // reads too high by value, 3 K
	ProbeDrift        // reads higher and higher, by value 1 K/h
	ProbeNoise        // further noise of standard deviation value, 0.5 K
	ProbeSpike        // value, 20 K, on top in a share `chance`, 5 %, of the readings
	ProbePowerOn      // the chip answers with its power-on value, 85 °C
	ProbeCRC          // answers fail their checksum
	ProbeShorted      // the wire is shorted
	ProbeOut          // the probe hangs in the room's air
	RelayWelded       // element on, whatever the line says
	RelayOpen         // element off, whatever the line says
	ElementHalf       // half of the element's power is gone
	ElementDry        // its heat hardly reaches the wort
	PumpStopped       // nothing flows
	LowVolume         // at once: value, 35 %, of the wort in the kettle is left
	Drained           // wort runs out, by value 5 L/min
	LidOff            // the lid is off
	ColdWater         // at once: value, 5 L, of cold water on top
	SupplySag         // the voltage is lower by value, 10 %
	PowerCut          // no power, for 10 min
	ClockStep         // at once: the wall clock jumps by value, 14 d
	StorageFull       // no room to write
	StorageError      // writing fails
	TickLate          // the next tick comes value, 5 s, after the one before
	kinds
)

var names = [kinds]string{
	"", "probe-open", "probe-stuck", "probe-offset", "probe-drift", "probe-noise",
	"probe-spike", "probe-power-on", "probe-crc", "probe-shorted", "probe-out", "relay-welded", "relay-open",
	"element-half", "element-dry", "pump-stopped", "low-volume", "drained", "lid-off", "cold-water",
	"supply-sag", "power-cut", "clock-step", "storage-full", "storage-error", "tick-late",
}

// String is the word used in files.
func (k Kind) String() string {
	if k < kinds {
		return names[k]
	}
	return "unknown"
}

// AtOnce tells whether the fault happens in one moment, so that no duration can
// be written for it.
func (k Kind) AtOnce() bool { return k == LowVolume || k == ColdWater || k == ClockStep }

// Moment is when a fault begins.
type Moment struct {
	OfStep bool          // false: After counts from arming
	Step   int           // index; 0 is strike
	After  time.Duration // from when the step was reached, or from its start where nothing is to be reached
}

// Fault is one entry of a script. Of the values only those count that belong to
// the kind; an entry made in a program takes no default for a zero.
type Fault struct {
	Kind Kind
	At   Moment
	For  time.Duration // 0: for good

	Kelvin   unit.Kelvin          // probe-offset, probe-noise, probe-spike
	Drift    unit.KelvinPerSecond // probe-drift
	Chance   unit.Ratio           // probe-spike
	Share    unit.Ratio           // low-volume: left; supply-sag: missing
	Litres   unit.Litres          // cold-water, cold
	Flow     unit.LitresPerSecond // drained, cold
	Duration time.Duration        // clock-step, tick-late

	Line int // where it stands in the file
}

// Script is all that goes wrong in a run.
type Script []Fault

// Default is a fault of this kind with the values it has when none is written.
func Default(k Kind) Fault {
	f := Fault{Kind: k}
	switch k {
	case ProbeOffset:
		f.Kelvin = 3
	case ProbeDrift:
		f.Drift = 1.0 / 3600
	case ProbeNoise:
		f.Kelvin = 0.5
	case ProbeSpike:
		f.Kelvin, f.Chance = 20, 0.05
	case LowVolume:
		f.Share = 0.35
	case Drained:
		f.Flow = 5.0 / 60
	case ColdWater:
		f.Litres = 5
	case SupplySag:
		f.Share = 0.1
	case PowerCut:
		f.For = 10 * time.Minute
	case ClockStep:
		f.Duration = 14 * 24 * time.Hour
	case TickLate:
		f.Duration = 5 * time.Second
	}
	return f
}
