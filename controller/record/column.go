package record

import (
	"fmt"
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/gravity"
	"mashward/sensors"
)

// switches are all that is on or off in a tick, one bit each. The order is part
// of the format.
func (t *Tick) switches() [switchCount]bool {
	return [switchCount]bool{
		t.In.Applied != unit.Off, t.Wanted != unit.Off, t.Permitted != unit.Off, t.Pump != unit.Off,
		t.In.Inhibited, t.LineFault, t.Reached, t.HasTarget, t.HasEstimate,
		t.Facts.Armed, t.Facts.Heats, t.Facts.Clear, t.In.Weak,
	}
}

const switchCount = 13

func (t *Tick) setSwitches(on *[switchCount]bool) {
	t.In.Applied, t.Wanted = unit.RelayOf(on[0]), unit.RelayOf(on[1])
	t.Permitted, t.Pump = unit.RelayOf(on[2]), unit.RelayOf(on[3])
	t.In.Inhibited, t.LineFault, t.Reached = on[4], on[5], on[6]
	t.HasTarget, t.HasEstimate = on[7], on[8]
	t.Facts.Armed, t.Facts.Heats, t.Facts.Clear, t.In.Weak = on[9], on[10], on[11], on[12]
}

// columns lays the tick out as a row.
func (t *Tick) columns(c *[columns]uint64) {
	for i, on := range t.switches() {
		if on {
			c[colSwitches] |= 1 << i
		}
	}
	for i, on := range t.Alarms {
		if on {
			c[colAlarms] |= 1 << i
		}
	}
	if t.In.Proposal.Present {
		c[colProposal] = 1
	}
	c[colNumber], c[colNow] = t.Number, uint64(t.In.Now)
	c[colValue], c[colTaken], c[colFault] = float(t.In.Reading.Value), uint64(t.In.Reading.Taken), uint64(t.In.Reading.Fault)
	c[colTripTold], c[colWish] = uint64(t.In.Trip), uint64(t.In.Command.Wish)
	c[colVolumeGiven], c[colBy] = float(t.In.Command.Volume), uint64(t.In.Command.By)
	c[colAt], c[colDrawn] = float(t.In.Command.At), float(t.Facts.Drawn)
	c[colWhich] = uint64(t.In.Command.Which)
	c[colGrain], c[colRead] = float(t.In.Command.Grain), float(t.In.Command.Value)
	c[colSpot], c[colInstrument] = uint64(t.In.Command.Spot), uint64(t.In.Command.Instrument)
	c[colCalibrated] = float(t.In.Command.Calibrated)
	c[colVolume], c[colStatement] = float(t.Facts.Volume), uint64(t.Facts.Statement)
	c[colFactStage], c[colEmpty] = uint64(t.Facts.Stage), uint64(t.Facts.EmptySwitch)
	c[colFinding], c[colCut] = uint64(t.Facts.Finding), uint64(t.Cut)
	c[colTrip], c[colSince] = uint64(t.Trip), uint64(t.Since)
	c[colDuty], c[colTarget], c[colEstimate] = float(t.Duty), float(t.Target), float(t.Estimate)
	c[colMode], c[colReason], c[colIndex] = uint64(t.Mode), uint64(t.Reason), uint64(t.Index)
	c[colKind], c[colStage], c[colPhase] = uint64(t.Kind), uint64(t.Stage), uint64(t.Phase)
	c[colPrompt], c[colClock], c[colEarned] = uint64(t.Prompt), uint64(t.Clock), uint64(t.Earned)
	c[colOfStep] = uint64(t.In.Command.Step)
	c[colEvents], c[colLost] = uint64(len(t.Events)), uint64(t.Lost)
}

func float[F ~float64](f F) uint64 { return math.Float64bits(float64(f)) }

// set fills the tick in from a row. What a column cannot hold is refused.
func (t *Tick) set(c *[columns]uint64) error {
	for col, x := range c {
		if most := highest(col); x > most {
			return fmt.Errorf("column %d holds %d, more than %d", col, x, most)
		}
	}
	var on [switchCount]bool
	for i := range on {
		on[i] = c[colSwitches]>>i&1 == 1
	}
	t.setSwitches(&on)
	for i := range t.Alarms {
		t.Alarms[i] = c[colAlarms]>>i&1 == 1
	}
	t.Number, t.In.Now = c[colNumber], time.Duration(c[colNow])
	t.In.Reading = sensors.Reading{Value: unit.Celsius(number(c[colValue])), Taken: time.Duration(c[colTaken]), Fault: sensors.Fault(c[colFault])}
	t.In.Trip = controller.Reason(c[colTripTold])
	t.In.Command = controller.Command{
		Wish: controller.Wish(c[colWish]), Volume: unit.Litres(number(c[colVolumeGiven])),
		At: unit.Celsius(number(c[colAt])), By: time.Duration(c[colBy]), Step: uint8(c[colOfStep]),
		Grain: unit.Kilograms(number(c[colGrain])), Value: number(c[colRead]),
		Spot: controller.Spot(c[colSpot]), Instrument: gravity.Kind(c[colInstrument]),
		Calibrated: unit.Celsius(number(c[colCalibrated])), Which: uint8(c[colWhich]),
	}
	t.Duty, t.Target, t.Estimate = unit.Duty(number(c[colDuty])), unit.Celsius(number(c[colTarget])), unit.Celsius(number(c[colEstimate]))
	t.Mode, t.Reason, t.Index = controller.Mode(c[colMode]), controller.Reason(c[colReason]), uint8(c[colIndex])
	t.Kind, t.Stage, t.Phase = profile.Kind(c[colKind]), controller.Stage(c[colStage]), controller.Phase(c[colPhase])
	t.Prompt, t.Clock, t.Earned = controller.Prompt(c[colPrompt]), time.Duration(c[colClock]), time.Duration(c[colEarned])
	t.Cut, t.Trip, t.Since = interlock.Rule(c[colCut]), interlock.Rule(c[colTrip]), time.Duration(c[colSince])
	t.Lost = uint8(c[colLost])
	t.setFacts(c)
	return nil
}

// setFacts puts together what the interlock was told: much of it is what the
// core was told, or wanted.
func (t *Tick) setFacts(c *[columns]uint64) {
	f := &t.Facts
	f.Now, f.Reading, f.Wanted, f.Applied = t.In.Now, t.In.Reading, t.Wanted, t.In.Applied
	f.Drawn = unit.Litres(number(c[colDrawn]))
	f.Volume, f.Statement = unit.Litres(number(c[colVolume])), uint32(c[colStatement])
	f.Stage, f.EmptySwitch = interlock.Stage(c[colFactStage]), interlock.Switch(c[colEmpty])
	f.Finding = interlock.Rule(c[colFinding])
}

func number(bits uint64) float64 { return math.Float64frombits(bits) }

// highest is the greatest number a column may hold.
func highest(col int) uint64 {
	switch col {
	case colSwitches:
		return 1<<switchCount - 1
	case colAlarms:
		return 1<<controller.AlarmCount - 1
	case colProposal:
		return 1
	case colEvents:
		return controller.MaxEvents
	case colStatement:
		return math.MaxUint32
	case colFault, colCut, colTrip, colTripTold, colIndex, colKind, colMode, colReason, colStage, colPhase, colPrompt,
		colWish, colFactStage, colEmpty, colFinding, colLost, colSpot, colInstrument, colOfStep, colWhich:
		return math.MaxUint8
	}
	return math.MaxUint64
}

// take fills the tick in from a frame. It keeps no part of it but the events,
// which must be used before the frame changes.
func (t *Tick) take(f *loop.Frame) {
	d := &f.Decision
	*t = Tick{
		Number: f.Number, In: f.Tick, Facts: f.Facts, Cut: f.Verdict.Cut, Trip: f.Verdict.Trip, Since: f.Verdict.Since,
		Events: d.Events[:min(d.Count, controller.MaxEvents)], Lost: d.Dropped,
		Duty: d.Duty, Wanted: d.Wanted, Permitted: f.Permitted, Pump: d.Pump, LineFault: f.LineFault != nil,
		Mode: d.Mode, Reason: d.Reason, Index: d.Index, Kind: d.Kind, Stage: d.Stage, Phase: d.Phase, Prompt: d.Prompt,
		Alarms: d.Alarms, Clock: d.Clock, Earned: d.Earned, Reached: d.Reached,
		Target: d.Target, HasTarget: d.HasTarget, Estimate: d.Estimate, HasEstimate: d.HasEstimate,
		Hash: hashPlain(d),
	}
}
