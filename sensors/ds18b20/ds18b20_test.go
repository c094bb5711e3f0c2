package ds18b20

import (
	"encoding/hex"
	"strings"
	"testing"

	"mashward/controller/unit"
	"mashward/sensors"
)

// answer is an answer written as the kernel prints it, with its checksum added.
func answer(t *testing.T, eight string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(eight, " ", ""))
	if err != nil || len(b) != Bytes-1 {
		t.Fatalf("%q: %d bytes, %v", eight, len(b), err)
	}
	return append(b, Checksum(b))
}

// The checksums of Maxim's Application Note 27, and answers seen on real buses.
func TestChecksumsOfTheApplicationNote(t *testing.T) {
	for text, want := range map[string]byte{
		"02 1C B8 01 00 00 00":    0xA2, // the note's own example
		"50 05 FF FF F0 FF FF FF": 0x5C, // printed by a kernel as "crc=5c YES"
		"50 05 4B 46 7F FF 0C 10": 0x1C, // the power-on answer
		"91 01 4B 46 7F FF 0C 10": 0x70,
		"A2 00 4B 46 7F FF 0C 10": 0x74,
		"90 FC 4B 46 7F FF 0C 10": 0x4F,
		"D0 07 4B 46 7F FF 0C 10": 0xF4,
		"10 04 4B 46 7F FF 0C 10": 0x68,
		"40 06 4B 46 7F FF 0C 10": 0x0F,
		"00 00 00 00 00 00 00 00": 0x00, // the trap: a shorted wire passes
		"FF FF FF FF FF FF FF FF": 0xC9, // and an open one does not
	} {
		b, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
		if err != nil {
			t.Fatal(err)
		}
		if got := Checksum(b); got != want {
			t.Errorf("%s: %02X, want %02X", text, got, want)
		}
	}
	if got := Checksum([]byte("123456789")); got != 0xA1 { // the known check value of this CRC
		t.Errorf("123456789: %02X, want A1", got)
	}
}

// The datasheet's table of temperatures, and what the chip never measures.
func TestEveryCodeOfTheDatasheet(t *testing.T) {
	for _, c := range []struct {
		eight string
		want  unit.Celsius
		fault sensors.Fault
	}{
		{"D0 07 4B 46 7F FF 0C 10", 125, sensors.None},
		{"50 05 4B 46 7F FF 10 10", 85, sensors.None}, // a measured one
		{"91 01 4B 46 7F FF 0F 10", 25.0625, sensors.None},
		{"A2 00 4B 46 7F FF 0E 10", 10.125, sensors.None},
		{"08 00 4B 46 7F FF 08 10", 0.5, sensors.None},
		{"00 00 4B 46 7F FF 10 10", 0, sensors.None},
		{"F8 FF 4B 46 7F FF 08 10", -0.5, sensors.None},
		{"5E FF 4B 46 7F FF 02 10", -10.125, sensors.None},
		{"6F FE 4B 46 7F FF 01 10", -25.0625, sensors.None},
		{"90 FC 4B 46 7F FF 10 10", -55, sensors.None},
		{"10 04 4B 46 7F FF 0C 10", 65, sensors.None}, // 0C alone means nothing
		{"40 06 4B 46 7F FF 0C 10", 100, sensors.None},

		{"50 05 4B 46 7F FF 0C 10", 0, sensors.PowerOn},
		{"50 05 FF FF F0 FF FF FF", 0, sensors.PowerOn}, // 85 °C, and no configuration the chip can have
		{"FF 07 4B 46 7F FF 0C 10", 0, sensors.PowerOn}, // 127.94 °C, brown-out
		{"FF 07 4B 46 7F FF 01 10", 0, sensors.Range},
		{"D1 07 4B 46 7F FF 0F 10", 0, sensors.Range}, // 125.0625 °C
		{"8F FC 4B 46 7F FF 01 10", 0, sensors.Range}, // -55.0625 °C
		{"00 80 4B 46 7F FF 10 10", 0, sensors.Range}, // -2048 °C
	} {
		got, fault := Decode(answer(t, c.eight))
		if got != c.want || fault != c.fault {
			t.Errorf("%s: %v °C, %v; want %v °C, %v", c.eight, got, fault, c.want, c.fault)
		}
	}
}

// At a coarser resolution the lowest bits are undefined: they must not count.
func TestUndefinedBitsDoNotCount(t *testing.T) {
	for config, want := range map[string]unit.Celsius{"1F": 25.5, "3F": 25.75, "5F": 25.875, "7F": 25.9375, "FF": 25.9375} {
		if got, fault := Decode(answer(t, "9F 01 4B 46 "+config+" FF 01 10")); got != want || fault != sensors.None {
			t.Errorf("configuration %s: %v °C, %v; want %v °C", config, got, fault, want)
		}
	}
}

func TestWhatIsNoAnswerIsAFault(t *testing.T) {
	good := answer(t, "10 04 4B 46 7F FF 0C 10")
	for name, c := range map[string]struct {
		pad  []byte
		want sensors.Fault
	}{
		"nothing":       {nil, sensors.Bus},
		"eight bytes":   {good[:8], sensors.Bus},
		"ten bytes":     {append([]byte{}, append(good, 0)...), sensors.Bus},
		"wire shorted":  {make([]byte, Bytes), sensors.Shorted},
		"wire open":     {[]byte{255, 255, 255, 255, 255, 255, 255, 255, 255}, sensors.Open},
		"open, 8 bytes": {append([]byte{255, 255, 255, 255, 255, 255, 255, 255}, 0xC9), sensors.Open},
	} {
		if got, fault := Decode(c.pad); got != 0 || fault != c.want {
			t.Errorf("%s: %v °C, %v; want %v", name, got, fault, c.want)
		}
	}
	for at := range good {
		for bit := range 8 {
			bad := append([]byte{}, good...)
			bad[at] ^= 1 << bit
			if _, fault := Decode(bad); fault != sensors.Checksum {
				t.Errorf("bit %d of byte %d turned over: %v, want %v", bit, at, fault, sensors.Checksum)
			}
		}
	}
}

// FuzzDecode: whatever comes, a value is within what the chip can measure, and
// never without a right checksum.
func FuzzDecode(f *testing.F) {
	f.Add([]byte{0x10, 0x04, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x68})
	f.Add(make([]byte, Bytes))
	f.Fuzz(func(t *testing.T, pad []byte) {
		got, fault := Decode(pad)
		if fault != sensors.None {
			if got != 0 {
				t.Errorf("%x: %v with a value, %v", pad, fault, got)
			}
			return
		}
		if len(pad) != Bytes || Checksum(pad[:8]) != pad[8] || got < -55 || got > 125 {
			t.Errorf("%x: %v °C is believed", pad, got)
		}
	})
}
