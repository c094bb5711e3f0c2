// Package ds18b20 understands the nine bytes that a DS18B20 thermometer
// answers with, whatever bus they came over. What is not a measurement beyond
// doubt is a fault: two traps pass the chip's own checksum.
//
// Datasheet: DS18B20, Maxim Integrated (now Analog Devices), 19-7487.
package ds18b20

import (
	"mashward/controller/unit"
	"mashward/sensors"
)

// Bytes is the length of an answer: the chip's scratchpad with its checksum.
const Bytes = 9

// Places of the bytes in an answer (datasheet, memory map).
const (
	low      = 0
	high     = 1
	config   = 4
	reserved = 6
	checksum = 8
)

// Raw values, in sixteenths of a degree.
const (
	powerOn  = 0x0550 // 85 °C: in the register until the first conversion (datasheet)
	brownOut = 0x07FF // 127.94 °C: too little power to convert (Linux, w1_therm)
	coldest  = -55 * 16
	hottest  = 125 * 16
)

// unconverted is what the reserved byte 6 holds as long as nothing has been
// converted (Linux, w1_therm). It may hold it later too: alone it means nothing.
const unconverted = 0x0C

// Decode is the temperature of an answer, or why it has none.
func Decode(pad []byte) (unit.Celsius, sensors.Fault) {
	switch {
	case len(pad) != Bytes:
		return 0, sensors.Bus
	case all(pad, 0x00):
		return 0, sensors.Shorted // the checksum of eight zeros is zero
	case all(pad[:checksum], 0xFF):
		return 0, sensors.Open // nobody pulls the wire down
	case Checksum(pad[:checksum]) != pad[checksum]:
		return 0, sensors.Checksum
	}
	raw := int16(uint16(pad[high])<<8 | uint16(pad[low]))
	switch {
	case raw == powerOn && (pad[reserved] == unconverted || !configured(pad[config])):
		return 0, sensors.PowerOn
	case raw == brownOut && pad[reserved] == unconverted:
		return 0, sensors.PowerOn
	}
	raw &^= undefined(pad[config])
	if raw < coldest || raw > hottest {
		return 0, sensors.Range
	}
	return unit.Celsius(float64(raw) / 16), sensors.None
}

// configured tells whether a byte can be the configuration of this chip: bit 7
// is zero and the five lowest are ones (datasheet).
func configured(b byte) bool { return b&0x9F == 0x1F }

// undefined are the low bits that a coarser resolution leaves undefined: none
// at 12 bits, three at 9 (datasheet).
func undefined(config byte) int16 {
	if !configured(config) {
		return 0
	}
	return 1<<(3-config>>5&3) - 1
}

func all(pad []byte, b byte) bool {
	for _, p := range pad {
		if p != b {
			return false
		}
	}
	return true
}

// Checksum is the CRC of the 1-wire bus over some bytes: x^8+x^5+x^4+1, lowest
// bit first, beginning with zero (Maxim, Application Note 27).
func Checksum(bytes []byte) byte {
	var sum byte
	for _, b := range bytes {
		sum ^= b
		for range 8 {
			odd := sum & 1
			sum >>= 1
			if odd != 0 {
				sum ^= 0x8C
			}
		}
	}
	return sum
}
