package rehearse

import (
	"bufio"
	"io"
	"strconv"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
)

// TraceHeader is the first line of a trace.
const TraceHeader = "seconds,step,phase,wort_celsius,grain_celsius,mash_celsius,element_wort_celsius,probe_place_celsius," +
	"reading_celsius,estimate_celsius,target_celsius,duty_ratio,relay,pump,power_watts"

// Trace writes one row a tick: what was decided in it and the kettle's state
// at its end. It is a Watcher; a failing writer is told at the end.
type Trace struct {
	out    *bufio.Writer
	kettle Kettle
	armed  time.Duration
	begun  bool
	tick   controller.Decision // the tick whose end is not seen yet
	row    []byte
}

// NewTrace writes the header to w and then rows.
func NewTrace(w io.Writer) *Trace {
	t := &Trace{out: bufio.NewWriterSize(w, 1<<16), row: make([]byte, 0, 256)}
	t.out.WriteString(TraceHeader + "\n")
	return t
}

// Watch writes the row of the tick that has just ended.
func (t *Trace) Watch(f *loop.Frame) {
	if t.begun {
		t.write(f)
	}
	for _, e := range f.Decision.Events[:f.Decision.Count] {
		if e.Kind == controller.BatchStarted {
			t.begun, t.armed = true, f.Tick.Now
		}
	}
	t.tick = f.Decision
}

func (t *Trace) write(f *loop.Frame) {
	d := &t.tick
	b := t.row[:0]
	b = strconv.AppendInt(b, int64((f.Tick.Now-t.armed)/time.Second), 10)
	b = append(b, ',')
	b = strconv.AppendInt(b, int64(d.Index), 10)
	b = append(b, ',')
	b = append(b, d.Phase.String()...)
	b = t.truth(b)
	b = number(b, float64(f.Tick.Reading.Value), f.Tick.Reading.Good())
	b = number(b, float64(f.Decision.Estimate), f.Decision.HasEstimate)
	b = number(b, float64(d.Target), d.HasTarget)
	b = number(b, float64(d.Duty), true)
	b = append(b, ',')
	b = strconv.AppendInt(b, int64(f.Tick.Applied), 10)
	b = append(b, ',')
	b = strconv.AppendInt(b, int64(d.Pump), 10)
	b = t.power(b)
	t.row = append(b, '\n')
	t.out.Write(t.row)
}

// truth adds the five true temperatures, empty where unknown.
func (t *Trace) truth(b []byte) []byte {
	p := t.kettle.Plant()
	if p == nil {
		b = append(b, ",,"...)
		b = number(b, float64(t.kettle.Mash()), true)
		return append(b, ",,"...)
	}
	u := p.Truth()
	b = number(b, float64(u.Wort), true)
	b = number(b, float64(u.Grain), u.HasGrain)
	b = number(b, float64(u.Mash), true)
	b = number(b, float64(u.ElementWort), true)
	return number(b, float64(u.ProbePlace), true)
}

func (t *Trace) power(b []byte) []byte {
	p := t.kettle.Plant()
	if p == nil {
		return append(b, ',')
	}
	b = append(b, ',')
	return strconv.AppendFloat(b, float64(p.Truth().Power), 'f', 1, 64)
}

// number adds a comma and a figure with four decimals, or nothing.
func number(b []byte, x float64, known bool) []byte {
	b = append(b, ',')
	if !known {
		return b
	}
	return strconv.AppendFloat(b, x, 'f', 4, 64)
}

func (t *Trace) flush() error { return t.out.Flush() }
