package ds248x

import (
	"errors"
	"slices"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
	"mashward/sensors/ds18b20"

	"periph.io/x/conn/v3/i2c/i2ctest"
	"periph.io/x/conn/v3/onewire"
	"periph.io/x/conn/v3/onewire/onewiretest"
)

const id = "28-0000075a1c3f"

// chosen is the command before each of the thermometer's: match ROM (55h), and
// its address with the lowest byte first.
func chosen(t *testing.T, command byte) []byte {
	t.Helper()
	rom := []byte{0x28, 0x3F, 0x1C, 0x5A, 0x07, 0x00, 0x00}
	return append(append([]byte{0x55}, append(rom, ds18b20.Checksum(rom))...), command)
}

// pad is an answer with its checksum.
func pad(eight ...byte) []byte { return append(eight, ds18b20.Checksum(eight)) }

// asked is what one question puts on the 1-wire bus.
func asked(t *testing.T, answer []byte) []onewiretest.IO {
	return []onewiretest.IO{
		{W: chosen(t, convert), Pull: onewire.StrongPullup},
		{W: chosen(t, readScratchpad), R: answer},
	}
}

func TestEveryCodeOfTheDatasheet(t *testing.T) {
	for _, c := range []struct {
		pad   []byte
		want  unit.Celsius
		fault sensors.Fault
	}{
		{pad(0xD0, 0x07, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), 125, sensors.None},
		{pad(0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x10, 0x10), 85, sensors.None},
		{pad(0x91, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), 25.0625, sensors.None},
		{pad(0xA2, 0x00, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), 10.125, sensors.None},
		{pad(0x08, 0x00, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), 0.5, sensors.None},
		{pad(0x00, 0x00, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), 0, sensors.None},
		{pad(0xF8, 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), -0.5, sensors.None},
		{pad(0x5E, 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), -10.125, sensors.None},
		{pad(0x6F, 0xFE, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), -25.0625, sensors.None},
		{pad(0x90, 0xFC, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), -55, sensors.None},

		{pad(0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), 0, sensors.PowerOn},
		{pad(0xFF, 0x07, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10), 0, sensors.PowerOn},
		{make([]byte, 9), 0, sensors.Shorted},
		{[]byte{255, 255, 255, 255, 255, 255, 255, 255, 255}, 0, sensors.Open},
		{[]byte{0x10, 0x04, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x11, 0x68}, 0, sensors.Checksum},
	} {
		bus := &onewiretest.Playback{Ops: asked(t, c.pad), DontPanic: true}
		var waited time.Duration
		s, err := source(id, func(d time.Duration) { waited += d }, func() (onewire.Bus, error) { return bus, nil })
		if err != nil {
			t.Fatal(err)
		}
		if got, fault := s.Read(); got != c.want || fault != c.fault {
			t.Errorf("% X: %v °C, %v; want %v °C, %v", c.pad, got, fault, c.want, c.fault)
		}
		if err := bus.Close(); err != nil || waited != conversion {
			t.Errorf("% X: %v; waited %v for the conversion, want %v", c.pad, err, waited, conversion)
		}
	}
}

// The same through periph's driver of the chip: every byte on the I²C bus.
func TestThroughTheChip(t *testing.T) {
	const (
		idle  = 0x0A // status: presence seen, nothing under way
		none  = 0x08 // nobody answered the reset
		short = 0x0C
	)
	op := func(w []byte, r ...byte) i2ctest.IO { return i2ctest.IO{Addr: Address, W: w, R: r} }
	setUp := []i2ctest.IO{
		op([]byte{0xF0}), op([]byte{0xE1, 0xF0}, 0x18), op([]byte{0xD2, 0xE1}, 0x01),
		op([]byte{0xE1, 0xB4}), op([]byte{0xC3, 0x06, 0x26, 0x46, 0x66, 0x86}),
	}
	reset := func(status byte) []i2ctest.IO { return []i2ctest.IO{op([]byte{0xB4}), op(nil, status)} }
	put := func(bytes []byte, strong bool) (ops []i2ctest.IO) {
		for i, b := range bytes {
			if strong && i == len(bytes)-1 {
				ops = append(ops, op([]byte{0xD2, 0xA5}))
			}
			ops = append(ops, op([]byte{0xA5, b}), op(nil, idle))
		}
		return ops
	}
	take := func(bytes []byte) (ops []i2ctest.IO) {
		for _, b := range bytes {
			ops = append(ops, op([]byte{0x96}, 0), op(nil, idle), op([]byte{0xE1, 0xE1}, b))
		}
		return ops
	}
	measured := slices.Concat(reset(idle), put(chosen(t, convert), true), reset(idle), put(chosen(t, readScratchpad), false),
		take(pad(0x10, 0x04, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10)))
	wires := &i2ctest.Playback{DontPanic: true, Ops: slices.Concat(setUp, measured, reset(short), reset(none), measured)}
	s, err := source(id, func(time.Duration) {}, func() (onewire.Bus, error) { return chip(wires) })
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []sensors.Fault{sensors.None, sensors.Shorted, sensors.Open, sensors.None} {
		got, fault := s.Read()
		if fault != want || fault == sensors.None && got != 65 {
			t.Errorf("%v °C, %v; want 65 °C or %v", got, fault, want)
		}
	}
	// Now the chip is gone: nothing answers, and it is looked for with each question.
	for range 2 {
		if _, fault := s.Read(); fault != sensors.Bus {
			t.Errorf("without the chip: %v, want %v", fault, sensors.Bus)
		}
	}
	if err := wires.Close(); err != nil {
		t.Error(err)
	}
}

// Periph's driver of the chip is dead after one error: it is made anew.
func TestChipThatFailedIsSetUpAnew(t *testing.T) {
	good := pad(0x10, 0x04, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10)
	buses := []onewire.Bus{broken{}, nil, &onewiretest.Playback{Ops: asked(t, good), DontPanic: true}}
	opened := 0
	s, err := source(id, func(time.Duration) {}, func() (onewire.Bus, error) {
		opened++
		if bus := buses[opened-1]; bus != nil {
			return bus, nil
		}
		return nil, errors.New("no such bus")
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []sensors.Fault{sensors.Bus, sensors.Bus, sensors.None} {
		if got, fault := s.Read(); fault != want || fault == sensors.None && got != 65 {
			t.Errorf("%v °C, %v; want %v", got, fault, want)
		}
	}
	if opened != 3 {
		t.Errorf("opened %d times, want 3", opened)
	}
}

// broken is a chip that does not answer.
type broken struct{ onewire.Bus }

func (broken) Tx([]byte, []byte, onewire.Pullup) error { return errors.New("remote I/O error") }
func (broken) String() string                          { return "broken" }

// The address that periph's documentation of onewire.Address has as an example.
func TestAddressIsTheOneOnTheWire(t *testing.T) {
	if got, err := parse("28-000001318252"); err != nil || got != 0x7a00000131825228 {
		t.Errorf("%#x, %v; want 0x7a00000131825228", uint64(got), err)
	}
	for _, no := range []string{"", "28-0000075A1C3F", "10-0000075a1c3f", "0x28", "28-0000075a1c3f0"} {
		if _, err := New(no); err == nil {
			t.Errorf("%q is taken", no)
		}
	}
}
