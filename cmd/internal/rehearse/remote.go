package rehearse

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math"
	"net"
	"strconv"
	"sync/atomic"
	"time"

	"mashward/controller/line"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors"
	"mashward/sim"
)

// Load is what a plant in another process is told about the batch.
type Load struct {
	Water            unit.Litres
	Grain            unit.Kilograms
	GrainTemperature unit.Celsius
}

// answerWithin is how long a plant in another process may think about a tick.
const answerWithin = 30 * time.Second

// Remote is a kettle whose plant runs in another process, in lock-step: a line
// of JSON each way a tick. Nothing passes in it but when Next is called.
type Remote struct {
	conn    net.Conn
	in      *bufio.Reader
	tick    int
	now     time.Duration
	element remoteLine
	pump    remoteLine
	events  []sim.Kind
	reading sensors.Reading
	mash    unit.Celsius
	power   unit.Watts
	energy  unit.Joules
	err     error
	line    []byte
}

// Dial connects to a plant that listens on a unix socket and tells it the load.
func Dial(path string, load Load, power unit.Watts) (*Remote, error) {
	conn, err := net.Dial("unix", path)
	if err != nil {
		return nil, fmt.Errorf("the plant at %s does not answer: %w; start it first", path, err)
	}
	r := &Remote{conn: conn, in: bufio.NewReaderSize(conn, 1<<16), power: power}
	r.element.now, r.pump.now = &r.now, &r.now
	first := fmt.Sprintf("{\"water_litres\": %s, \"grain_kilograms\": %s, \"grain_celsius\": %s}\n",
		short(float64(load.Water)), short(float64(load.Grain)), short(float64(load.GrainTemperature)))
	if _, err := r.exchange([]byte(first)); err != nil {
		conn.Close()
		return nil, err
	}
	return r, nil
}

// exchange sends one line and reads one.
func (r *Remote) exchange(out []byte) ([]byte, error) {
	if err := r.conn.SetDeadline(time.Now().Add(answerWithin)); err != nil {
		return nil, err
	}
	if _, err := r.conn.Write(out); err != nil {
		return nil, fmt.Errorf("the plant has gone: %w", err)
	}
	answer, err := r.in.ReadSlice('\n')
	if err != nil {
		return nil, fmt.Errorf("the plant gave no whole line in answer to tick %d: %w", r.tick, err)
	}
	return answer, nil
}

// answer is the plant's line after a tick.
type answer struct {
	Reading *float64 `json:"reading"`
	Fault   string   `json:"fault"`
	Mash    *float64 `json:"true_mash"`
}

// Next lets the plant pass the second that begins now.
func (r *Remote) Next() (time.Duration, bool) {
	if r.err != nil {
		return r.now, false
	}
	event := ""
	if len(r.events) > 0 {
		event, r.events = r.events[0].String(), r.events[1:]
	}
	r.line = appendTick(r.line[:0], r.tick, r.element.start(), r.pump.start(), event)
	text, err := r.exchange(r.line)
	if err == nil {
		err = r.take(text)
	}
	if err != nil {
		r.err = err
		return r.now, false
	}
	r.tick++
	r.now += time.Second
	if r.element.applied == unit.On {
		r.energy += unit.Joules(r.power)
	}
	r.reading.Taken = r.now
	return r.now, true
}

func appendTick(b []byte, tick int, element, pump unit.Relay, event string) []byte {
	b = append(b, `{"tick": `...)
	b = strconv.AppendInt(b, int64(tick), 10)
	b = append(b, `, "relay": `...)
	b = strconv.AppendBool(b, element == unit.On)
	b = append(b, `, "pump": `...)
	b = strconv.AppendBool(b, pump == unit.On)
	b = append(b, `, "event": "`...)
	b = append(b, event...)
	return append(b, "\"}\n"...)
}

// take reads what the plant says of the end of a tick.
func (r *Remote) take(text []byte) error {
	var a answer
	if err := json.Unmarshal(text, &a); err != nil {
		return fmt.Errorf("the plant's answer to tick %d is no JSON object: %w", r.tick, err)
	}
	if a.Mash == nil || math.IsNaN(*a.Mash) {
		return fmt.Errorf("the plant's answer to tick %d has no true_mash", r.tick)
	}
	r.mash = unit.Celsius(*a.Mash)
	r.reading = sensors.Reading{Fault: faultNamed(a.Fault)}
	switch {
	case a.Reading != nil:
		r.reading.Value = unit.Celsius(*a.Reading)
	case r.reading.Fault == sensors.None:
		r.reading.Fault = sensors.Open
	}
	return nil
}

// faultNamed reads the fault words of the plant's side; an unknown one is a
// bus error: never a good reading.
func faultNamed(name string) sensors.Fault {
	switch name {
	case "":
		return sensors.None
	case "open", "probe-open":
		return sensors.Open
	case "shorted", "probe-shorted":
		return sensors.Shorted
	case "crc", "checksum", "probe-crc":
		return sensors.Checksum
	case "power-on", "probe-power-on":
		return sensors.PowerOn
	}
	return sensors.Bus
}

func short(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// Latest implements sensors.Probe.
func (r *Remote) Latest() sensors.Reading { return r.reading }

// Element is the element's line.
func (r *Remote) Element() loop.Element { return &r.element }

// Pump is the pump's line.
func (r *Remote) Pump() line.Line { return &r.pump }

// Do sends an event with the next tick that has none yet.
func (r *Remote) Do(k sim.Kind) {
	if k == sim.ChillerHung { // the protocol has no word for it
		return
	}
	r.events = append(r.events, k)
}

// Mash is what the plant says of its true mash.
func (r *Remote) Mash() unit.Celsius { return r.mash }

// Plant is nil: the plant is not here.
func (r *Remote) Plant() *sim.Plant { return nil }

// PowerLost is false: such a plant tells nothing of it.
func (r *Remote) PowerLost() bool { return false }

// Told does nothing: faults are the other side's.
func (r *Remote) Told(Moment, int) {}

// Switches counts the closings of the element's relay.
func (r *Remote) Switches() int { return r.element.closings }

// Energy is by the declared power.
func (r *Remote) Energy() unit.Joules { return r.energy }

// Err is why Next ended early.
func (r *Remote) Err() error { return r.err }

// Close ends the connection.
func (r *Remote) Close() error { return r.conn.Close() }

// remoteLine is a leased line that is read once a tick.
type remoteLine struct {
	now      *time.Duration
	held     unit.Relay
	until    time.Duration
	dropped  atomic.Bool
	applied  unit.Relay
	closings int
}

// Hold implements line.Line.
func (l *remoteLine) Hold(r unit.Relay, lease time.Duration) error {
	l.held, l.until = unit.Off, *l.now
	if r == unit.On && !l.dropped.Load() {
		l.held, l.until = unit.On, *l.now+lease
	}
	return nil
}

// Drop implements line.Line. It may be called from anywhere.
func (l *remoteLine) Drop() { l.dropped.Store(true) }

// Applied is what the line did in the last tick.
func (l *remoteLine) Applied() unit.Relay { return l.applied }

// start gives the line's state for the second that begins now.
func (l *remoteLine) start() unit.Relay {
	r := unit.RelayOf(l.held == unit.On && !l.dropped.Load() && l.until >= *l.now+time.Second)
	if r == unit.On && l.applied == unit.Off {
		l.closings++
	}
	l.applied = r
	return r
}

// FromStart are the steps in which nothing is to be reached: faults wait for
// their start instead.
func FromStart(p profile.Profile) []int {
	var steps []int
	for i, s := range p.Steps {
		if s.Kind == profile.Lift || s.Kind == profile.Chill || s.Kind == profile.MashIn {
			steps = append(steps, i+1)
		}
	}
	return steps
}
