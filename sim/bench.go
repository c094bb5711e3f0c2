package sim

import (
	"math"
	"math/rand/v2"
	"time"

	"mashward/controller/unit"
	"mashward/profile/heat"
	"mashward/sensors"
	"mashward/sim/fault"
)

// powerOnValue is what a digital probe's chip shows before its first conversion.
const powerOnValue unit.Celsius = 85

// Bench stands where pacer, probe and relay lines stand on a real kettle, and
// turns a plant behind them. Its time is the run clock: a tick lasts one second
// unless a fault makes it late, and takes no longer than its arithmetic.
type Bench struct {
	// End stops the pacer when the run clock has reached it; 0: never.
	End time.Duration

	plant     *Plant
	injector  *fault.Injector // nil: nothing goes wrong
	now       time.Duration
	element   Line
	pump      Line
	contactor Line       // a contactor in series with the element's relay
	series    bool       // there is one
	lastOn    unit.Relay // element line in the last second
	lastPump  unit.Relay
	reading   sensors.Reading
	frozen    unit.Celsius // what a stuck probe repeats
	effects   fault.Effects
	noise     rand.PCG // of faults, apart from the probe's own
}

// NewBench puts a plant on a bench. The injector may be nil. Seed fixes what
// faults leave to chance.
func NewBench(plant *Plant, injector *fault.Injector, seed uint64) *Bench {
	b := &Bench{plant: plant, injector: injector}
	b.noise = *rand.NewPCG(seed, 0x6661756c74)
	b.element.clock, b.pump.clock, b.contactor.clock = &b.now, &b.now, &b.now
	b.frozen = plant.Reading()
	return b
}

// Plant is the kettle on the bench, for events and truth.
func (b *Bench) Plant() *Plant { return b.plant }

// Element is the element's line.
func (b *Bench) Element() *Line { return &b.element }

// Pump is the pump's line.
func (b *Bench) Pump() *Line { return &b.pump }

// Contactor is the line of a contactor in series with the element's relay. Once
// asked for it is there, and open until it is held.
func (b *Bench) Contactor() *Line {
	if !b.series {
		b.series = true
	}
	return &b.contactor
}

// Applied is what the element's line did in the last tick.
func (b *Bench) Applied() unit.Relay { return b.element.Applied() }

// Now is the run clock: the time the last Next gave.
func (b *Bench) Now() time.Duration { return b.now }

// Latest is the probe's newest reading.
func (b *Bench) Latest() sensors.Reading { return b.reading }

// Effects are the faults that were at work in the last tick. What happened at
// once in it is there whole.
func (b *Bench) Effects() fault.Effects { return b.effects }

// Next lets one tick pass with the lines as they are held, and gives the run
// clock at its end. The first tick ends at one second. It is false, and nothing
// passes, once End is reached.
func (b *Bench) Next() (time.Duration, bool) {
	if b.End > 0 && b.now >= b.End {
		return b.now, false
	}
	b.element.onTime, b.pump.onTime, b.contactor.onTime = 0, 0, 0
	seconds := 1
	var stepped time.Duration
	for s := 0; s < seconds; s++ {
		e := b.second()
		stepped += e.ClockStep
		if s == 0 && e.Late > time.Second {
			seconds = int(e.Late / time.Second)
		}
	}
	b.effects.ClockStep = stepped
	whole := time.Duration(seconds) * time.Second
	b.element.applied = unit.RelayOf(2*b.element.onTime >= whole)
	b.pump.applied = unit.RelayOf(2*b.pump.onTime >= whole)
	b.read()
	return b.now, true
}

// second lets one second of plant pass.
func (b *Bench) second() fault.Effects {
	var e fault.Effects
	if b.injector != nil {
		e = b.injector.At(b.now)
		b.impose(&e)
	}
	b.lastOn = b.element.during(e.PowerCut, b.lastOn)
	b.lastPump = b.pump.during(e.PowerCut, b.lastPump)
	contact := b.lastOn
	if e.RelayOpen {
		contact = unit.Off
	}
	if e.RelayWelded {
		contact = unit.On
	}
	if e.PowerCut {
		contact = unit.Off
	}
	if b.series {
		contact = contact.And(b.contactor.during(e.PowerCut, unit.On))
	}
	b.plant.Advance(contact, b.lastPump)
	b.now += time.Second
	b.effects = e
	return e
}

// impose gives the plant its share of the faults.
func (b *Bench) impose(e *fault.Effects) {
	b.plant.SetCondition(Condition{
		ElementLost: e.ElementLost, ElementDry: e.ElementDry, PumpStopped: e.PumpStopped,
		LidOff: e.LidOff, Sag: e.Sag, ProbeOut: e.ProbeOut, Drain: e.Drain,
	})
	if e.Remove > 0 {
		kettle := b.plant.x[nodeMass] / heat.ColdDensity
		b.plant.Do(Event{Kind: WaterOut, Litres: unit.Litres(kettle * float64(e.Remove))})
	}
	if e.ColdWater > 0 {
		b.plant.Do(Event{Kind: WaterIn, Litres: e.ColdWater, Temperature: b.plant.par.Water.Temperature})
	}
}

var answers = [...]sensors.Fault{
	fault.Open: sensors.Open, fault.Shorted: sensors.Shorted,
	fault.Checksum: sensors.Checksum, fault.PowerOn: sensors.PowerOn,
}

// read takes the reading at the end of a tick. Its instant is that of the
// beginning of the conversion. A chip that shows its power-on value is told
// apart by its driver, as good drivers do; the value is in the reading.
func (b *Bench) read() {
	taken := b.now - b.plant.par.Probe.Conversion
	e := &b.effects
	if e.Answer != fault.Measured {
		b.reading = sensors.Reading{Taken: taken, Fault: answers[e.Answer]}
		if e.Answer == fault.PowerOn {
			b.reading.Value = powerOnValue
		}
		return
	}
	value := b.plant.Reading() + unit.Celsius(e.Offset)
	if e.Noise > 0 {
		value += unit.Celsius(float64(e.Noise) * b.deviate())
	}
	if e.SpikeChance > 0 && b.chance() < float64(e.SpikeChance) {
		value += unit.Celsius(e.Spike)
	}
	value = b.plant.par.Probe.round(value)
	if e.Stuck {
		value = b.frozen
	}
	b.frozen = value
	b.reading = sensors.Reading{Value: value, Taken: taken, Fault: sensors.None}
}

// chance is evenly spread over 0 <= x < 1.
func (b *Bench) chance() float64 { return float64(b.noise.Uint64()>>11) / (1 << 53) }

// deviate is a standard normal deviate (Box and Muller 1958).
func (b *Bench) deviate() float64 {
	return math.Sqrt(-2*math.Log(1-b.chance())) * math.Cos(2*math.Pi*b.chance())
}
