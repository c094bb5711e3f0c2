package fault

import (
	"time"

	"mashward/controller/unit"
)

// Answer is what the probe answers instead of a measured value.
type Answer uint8

// Answers of a probe. The zero value is the measured value itself.
const (
	Measured Answer = iota
	Open
	Shorted
	Checksum
	PowerOn
)

// Effects are all faults at work in one second, added up. The zero value is a
// healthy second.
type Effects struct {
	Answer      Answer
	Stuck       bool
	Offset      unit.Kelvin
	Noise       unit.Kelvin // standard deviation, on top of the probe's own
	Spike       unit.Kelvin
	SpikeChance unit.Ratio
	ProbeOut    bool

	RelayWelded, RelayOpen  bool
	ElementLost             unit.Ratio
	ElementDry, PumpStopped bool
	LidOff                  bool
	Sag                     unit.Ratio
	Drain                   unit.LitresPerSecond

	Remove    unit.Ratio  // share of the kettle's wort taken out at the beginning of this second
	ColdWater unit.Litres // poured in at its beginning

	Late time.Duration // how long the tick takes that begins now; 0: as usual

	// For the shell: the plant does not care.
	PowerCut                  bool // the lines are dead
	ClockStep                 time.Duration
	StorageFull, StorageError bool
}

const steps = 33 // strike and the longest profile

// Injector knows a script and the moments of a run. It is told what happens, in
// run-clock time, and says which faults are at work.
type Injector struct {
	script    Script
	fired     []bool
	fromStart [steps]bool
	armed     moment
	started   [steps]moment
	reached   [steps]moment
}

type moment struct {
	known bool
	at    time.Duration
}

func (m *moment) first(at time.Duration) {
	if !m.known {
		*m = moment{true, at}
	}
}

// New makes an injector. fromStart are the indexes of the steps in which
// nothing is to be reached (mash-in, lift, chill): their faults count from the
// step's start.
func New(script Script, fromStart ...int) *Injector {
	i := &Injector{script: script, fired: make([]bool, len(script))}
	for _, step := range fromStart {
		if step >= 0 && step < steps {
			i.fromStart[step] = true
		}
	}
	return i
}

// Armed tells that the batch was armed. Only the first time counts, here and below.
func (i *Injector) Armed(now time.Duration) { i.armed.first(now) }

// Started tells that a step has begun.
func (i *Injector) Started(step int, now time.Duration) {
	if step >= 0 && step < steps {
		i.started[step].first(now)
	}
}

// Reached tells that a step has reached its target.
func (i *Injector) Reached(step int, now time.Duration) {
	if step >= 0 && step < steps {
		i.reached[step].first(now)
	}
}

// At are the effects in the second that begins now. It is to be asked once for
// each second, in order: what happens at once is said once.
func (i *Injector) At(now time.Duration) Effects {
	var e Effects
	for n := range i.script {
		f := &i.script[n]
		begin, known := i.begin(f.At)
		if !known || now < begin || f.For > 0 && now >= begin+f.For {
			continue
		}
		e.add(f, now-begin, !i.fired[n])
		i.fired[n] = true
	}
	return e
}

func (i *Injector) begin(at Moment) (time.Duration, bool) {
	m := i.armed
	if at.OfStep {
		if at.Step < 0 || at.Step >= steps {
			return 0, false
		}
		m = i.reached[at.Step]
		if i.fromStart[at.Step] {
			m = i.started[at.Step]
		}
	}
	return m.at + at.After, m.known
}

// add joins one fault that has been at work for some time.
func (e *Effects) add(f *Fault, since time.Duration, first bool) {
	switch f.Kind {
	case RelayWelded:
		e.RelayWelded = true
	case RelayOpen:
		e.RelayOpen = true
	case ElementHalf:
		e.ElementLost = 0.5
	case ElementDry:
		e.ElementDry = true
	case PumpStopped:
		e.PumpStopped = true
	case LidOff:
		e.LidOff = true
	case SupplySag:
		e.Sag = max(e.Sag, f.Share)
	case Drained:
		e.Drain += f.Flow
	case PowerCut:
		e.PowerCut = true
	case StorageFull:
		e.StorageFull = true
	case StorageError:
		e.StorageError = true
	case TickLate:
		if first || f.For > 0 {
			e.Late = max(e.Late, f.Duration)
		}
	default:
		e.addToProbe(f, since)
		if first {
			e.addAtOnce(f)
		}
	}
}

func (e *Effects) addToProbe(f *Fault, since time.Duration) {
	switch f.Kind {
	case ProbeOpen:
		e.Answer = Open
	case ProbeShorted:
		e.Answer = Shorted
	case ProbeCRC:
		e.Answer = Checksum
	case ProbePowerOn:
		e.Answer = PowerOn
	case ProbeStuck:
		e.Stuck = true
	case ProbeOffset:
		e.Offset += f.Kelvin
	case ProbeDrift:
		e.Offset += unit.Kelvin(float64(f.Drift) * since.Seconds())
	case ProbeNoise:
		e.Noise = max(e.Noise, f.Kelvin)
	case ProbeSpike:
		e.Spike, e.SpikeChance = f.Kelvin, f.Chance
	case ProbeOut:
		e.ProbeOut = true
	}
}

func (e *Effects) addAtOnce(f *Fault) {
	switch f.Kind {
	case LowVolume:
		e.Remove = 1 - f.Share
	case ColdWater:
		e.ColdWater += f.Litres
	case ClockStep:
		e.ClockStep += f.Duration
	}
}
