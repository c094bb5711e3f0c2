package record

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
	"mashward/profile"
)

// Tick is one tick as it was recorded: all that went into it, and what came of
// it as far as it is compared or shown. The rest comes back by a replay.
type Tick struct {
	Number uint64
	In     controller.Tick // what the core was told
	Facts  interlock.Facts // what the interlock was told
	Cut    interlock.Rule  // the verdict
	Trip   interlock.Rule  //
	Since  time.Duration   // run clock at which Trip, or else Cut, began
	Events []controller.Event
	Lost   uint8 // events of this tick beyond controller.MaxEvents

	Duty      unit.Duty
	Wanted    unit.Relay
	Permitted unit.Relay
	Pump      unit.Relay
	LineFault bool // a line refused

	Mode        controller.Mode
	Reason      controller.Reason
	Index       uint8 // step
	Kind        profile.Kind
	Stage       controller.Stage
	Phase       controller.Phase
	Prompt      controller.Prompt
	Alarms      controller.Alarms
	Clock       time.Duration // since arming
	Earned      time.Duration
	Reached     bool
	Target      unit.Celsius
	HasTarget   bool
	Estimate    unit.Celsius
	HasEstimate bool

	Hash uint32 // of the whole decision
}

// The columns of a row. Those that are seldom as foreseen stand first, so that
// the set of bits that names them is short. The order is part of the format.
const (
	colSwitches = iota
	colEstimate
	colDuty
	colValue
	colTaken
	colNow
	colEvents
	colEarned
	colStage
	colPhase
	colAlarms
	colPrompt
	colFault
	colCut
	colTrip
	colSince
	colTarget
	colIndex
	colKind
	colMode
	colReason
	colClock
	colWish
	colVolumeGiven
	colBy
	colProposal
	colTripTold
	colNumber
	colVolume
	colStatement
	colFactStage
	colEmpty
	colFinding
	colLost
	colAt
	colDrawn
	colGrain
	colRead
	colSpot
	colInstrument
	colCalibrated
	colOfStep
	colWhich
	columns
)

// foresight is how a column is foreseen from the row before.
type foresight uint8

const (
	same   foresight = iota // as it was
	fresh                   // zero
	next                    // one more
	steady                  // as much later as this tick is after the last
	pacing                  // as steady if it went so the last time, else as it was
)

// column says how a column is foreseen, and whether its bits are a float's.
type column struct {
	see   foresight
	float bool
}

var layout = [columns]column{
	colEstimate: {float: true}, colDuty: {float: true}, colValue: {float: true}, colTarget: {float: true},
	colVolume: {float: true}, colVolumeGiven: {see: fresh, float: true}, colAt: {see: fresh, float: true}, colDrawn: {float: true},
	colGrain: {see: fresh, float: true}, colRead: {see: fresh, float: true}, colSpot: {see: fresh}, colInstrument: {see: fresh}, colCalibrated: {see: fresh, float: true}, colOfStep: {see: fresh},
	colNow: {see: steady}, colTaken: {see: steady}, colEarned: {see: pacing}, colClock: {see: pacing},
	colEvents: {see: fresh}, colWish: {see: fresh}, colBy: {see: fresh}, colWhich: {see: fresh}, colProposal: {see: fresh}, colLost: {see: fresh},
	colNumber: {see: next},
}

// rows remembers the row before. Writer and reader keep the same memory.
type rows struct {
	last  [columns]uint64
	step  uint64 // from the tick before the last to the last
	paced [columns]bool
}

// foresee is what a column should be. step is from the last tick to this one.
func (r *rows) foresee(c int, step uint64) uint64 {
	switch see := layout[c].see; {
	case see == fresh:
		return 0
	case see == next:
		return r.last[c] + 1
	case see == steady, see == pacing && r.paced[c]:
		return r.last[c] + step
	}
	return r.last[c]
}

// keep remembers a row for the next.
func (r *rows) keep(now *[columns]uint64) {
	r.step = now[colNow] - r.last[colNow]
	for c := range now {
		r.paced[c] = now[c]-r.last[c] == r.step
	}
	r.last = *now
}

// append encodes the tick.
func (r *rows) append(dst []byte, t *Tick) []byte {
	var now [columns]uint64
	t.columns(&now)
	step, set := now[colNow]-r.last[colNow], uint64(0)
	var off [columns]uint64
	for c := range now {
		s := step
		if c == colNow {
			s = r.step
		}
		if seen := r.foresee(c, s); now[c] != seen {
			set |= 1 << c
			off[c] = now[c] - seen
			if layout[c].float {
				off[c] = now[c] ^ seen
			}
		}
	}
	dst = binary.AppendUvarint(dst, set)
	for rest := set; rest != 0; rest &= rest - 1 {
		c := bits.TrailingZeros64(rest)
		if layout[c].float {
			dst = appendTrimmed(dst, off[c])
		} else {
			dst = binary.AppendUvarint(dst, zigzag(int64(off[c])))
		}
	}
	r.keep(&now)
	return t.appendRest(dst)
}

// appendRest encodes what has no column: proposal, events and the hash.
func (t *Tick) appendRest(dst []byte) []byte {
	if t.In.Proposal.Present {
		dst = appendPlain(dst, &t.In.Proposal)
	}
	for _, e := range t.Events {
		dst = append(dst, byte(e.Kind), e.Step)
		dst = appendTrimmed(dst, math.Float64bits(e.Value))
	}
	return binary.LittleEndian.AppendUint32(dst, t.Hash)
}

// read decodes a tick. Nothing may be left over.
func (r *rows) read(src []byte, t *Tick) error {
	set, n := binary.Uvarint(src)
	if n <= 0 || set>>columns != 0 {
		return errors.New("the set of columns is none")
	}
	src = src[n:]
	var off, now [columns]uint64
	var err error
	for rest := set; rest != 0; rest &= rest - 1 {
		c := bits.TrailingZeros64(rest)
		if off[c], src, err = readOff(src, layout[c].float); err != nil {
			return err
		}
	}
	now[colNow] = r.foresee(colNow, r.step) + off[colNow]
	step := now[colNow] - r.last[colNow]
	for c := range now {
		switch {
		case c == colNow:
		case layout[c].float:
			now[c] = r.foresee(c, step) ^ off[c]
		default:
			now[c] = r.foresee(c, step) + off[c]
		}
	}
	if err := t.set(&now); err != nil {
		return err
	}
	r.keep(&now)
	return t.readRest(src, &now)
}

// readOff reads how far a column is off what was foreseen.
func readOff(src []byte, float bool) (off uint64, rest []byte, err error) {
	if float {
		return readTrimmed(src)
	}
	x, n := binary.Uvarint(src)
	if n <= 0 {
		return 0, src, errShort
	}
	return uint64(unzigzag(x)), src[n:], nil
}

// readRest decodes proposal, events and hash.
func (t *Tick) readRest(src []byte, now *[columns]uint64) (err error) {
	t.In.Proposal = controller.Proposal{}
	if now[colProposal] != 0 {
		if src, err = readPlain(src, &t.In.Proposal); err != nil {
			return err
		}
	}
	if now[colEvents] > controller.MaxEvents {
		return fmt.Errorf("%d events in one tick", now[colEvents])
	}
	t.Events = t.Events[:0]
	for range now[colEvents] {
		if len(src) < 2 {
			return errShort
		}
		e := controller.Event{Kind: controller.EventKind(src[0]), Step: src[1]}
		value, rest, err := readTrimmed(src[2:])
		if err != nil {
			return err
		}
		e.Value, src = math.Float64frombits(value), rest
		t.Events = append(t.Events, e)
	}
	if len(src) != 4 {
		return fmt.Errorf("%d bytes where the hash of 4 should be", len(src))
	}
	t.Hash = binary.LittleEndian.Uint32(src)
	return nil
}

// appendTrimmed writes the bits of a float, or of the difference of two,
// without the zero bytes at both ends: how many are missing in front and how
// many follow stand in the first byte.
func appendTrimmed(dst []byte, x uint64) []byte {
	if x == 0 {
		return append(dst, 0)
	}
	lead, trail := bits.LeadingZeros64(x)/8, bits.TrailingZeros64(x)/8
	n := 8 - lead - trail
	dst = append(dst, byte(lead<<4|n))
	for i := range n {
		dst = append(dst, byte(x>>(8*(7-lead-i))))
	}
	return dst
}

func readTrimmed(src []byte) (x uint64, rest []byte, err error) {
	if len(src) == 0 {
		return 0, src, errShort
	}
	lead, n := int(src[0]>>4), int(src[0]&15)
	if lead+n > 8 || len(src) < 1+n {
		return 0, src, errShort
	}
	for i := range n {
		x |= uint64(src[1+i]) << (8 * (7 - lead - i))
	}
	return x, src[1+n:], nil
}
