// Package ds248x reads a DS18B20 through a DS2482 or DS2483, a chip that speaks
// 1-wire by its own clock and is reached over I²C. It sees a shorted wire for
// what it is, and powers the conversion.
//
// The chip is driven by periph; of the thermometer's answer only the nine bytes
// are taken from there. Periph's own DS18B20 takes a shorted wire for 0 °C and
// the power-on value for 85 °C.
//
// No board was at hand: what is shown is shown on periph's fakes.
package ds248x

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
	"mashward/sensors/ds18b20"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/onewire"
	"periph.io/x/devices/v3/ds248x"
	"periph.io/x/host/v3/sysfs"
)

// Where the chip is looked for: the I²C bus on the header of a Raspberry Pi and
// its like, and the address a DS2483 always has and a DS2482 with its address
// pins low.
const (
	BusNumber = 1
	Address   = 0x18
)

// Commands of the thermometer, and what a conversion of 12 bits takes (DS18B20,
// datasheet).
const (
	convert        = 0x44
	readScratchpad = 0xBE
	conversion     = 750 * time.Millisecond
	family         = 0x28
)

// Source is one thermometer. One goroutine may use it.
type Source struct {
	address onewire.Address
	open    func() (onewire.Bus, error)
	wait    func(time.Duration)
	bus     onewire.Bus // nil before the first question, and after an error of the chip
}

// New names a thermometer by its address as the kernel writes it, such as
// 28-0000075a1c3f. That it is there is not asked yet: a probe may come and go.
func New(id string) (*Source, error) {
	var wires i2c.BusCloser
	return source(id, time.Sleep, func() (onewire.Bus, error) {
		if wires == nil {
			opened, err := sysfs.NewI2C(BusNumber)
			if err != nil {
				return nil, err
			}
			wires = opened
		}
		return chip(wires)
	})
}

// chip sets the chip up anew.
func chip(wires i2c.Bus) (onewire.Bus, error) { return ds248x.New(wires, Address, &ds248x.DefaultOpts) }

func source(id string, wait func(time.Duration), open func() (onewire.Bus, error)) (*Source, error) {
	address, err := parse(id)
	if err != nil {
		return nil, err
	}
	return &Source{address: address, open: open, wait: wait}, nil
}

// written is a DS18B20's address as the kernel writes it: family, and the six
// bytes of its number with the highest first.
var written = regexp.MustCompile(`^28-([0-9a-f]{12})$`)

// parse makes the address that goes over the wire: family, number with the
// lowest byte first, checksum.
func parse(id string) (onewire.Address, error) {
	m := written.FindStringSubmatch(id)
	if m == nil {
		return 0, fmt.Errorf("probe %q is no DS18B20: its address begins with 28- and has twelve digits more, such as 28-0000075a1c3f", id)
	}
	number, err := strconv.ParseUint(m[1], 16, 48)
	if err != nil {
		return 0, err
	}
	seven := number<<8 | family
	var bytes [7]byte
	for i := range bytes {
		bytes[i] = byte(seven >> (8 * i))
	}
	return onewire.Address(uint64(ds18b20.Checksum(bytes[:]))<<56 | seven), nil
}

// Read asks the thermometer once, which takes 750 ms and some.
func (s *Source) Read() (unit.Celsius, sensors.Fault) {
	if s.bus == nil {
		bus, err := s.open()
		if err != nil {
			return 0, sensors.Bus
		}
		s.bus = bus
	}
	probe := onewire.Dev{Bus: s.bus, Addr: s.address}
	if err := probe.TxPower([]byte{convert}, nil); err != nil {
		return 0, s.fault(err)
	}
	s.wait(conversion)
	var pad [ds18b20.Bytes]byte
	if err := probe.Tx([]byte{readScratchpad}, pad[:]); err != nil {
		return 0, s.fault(err)
	}
	return ds18b20.Decode(pad[:])
}

// fault sorts an error. After one of the chip itself periph's driver answers no
// more: the chip is set up anew with the next question.
func (s *Source) fault(err error) sensors.Fault {
	var shorted onewire.ShortedBusError
	var bus onewire.BusError
	switch {
	case errors.As(err, &shorted) && shorted.IsShorted():
		return sensors.Shorted
	case errors.As(err, &bus) && bus.BusError():
		return sensors.Open
	}
	s.bus = nil
	return sensors.Bus
}
