// Package w1 reads a DS18B20 through the kernel's 1-wire driver (w1_therm): the
// file w1_slave of the device, which shows the bytes as they came.
//
// It does not read the driver's other files. temperature hides the bytes, so
// that a shorted wire shows as 0 °C; and of a failed checksum w1_slave itself
// prints the temperature before it once more. Only the bytes tell.
package w1

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"

	"mashward/controller/unit"
	"mashward/sensors"
	"mashward/sensors/ds18b20"
	"mashward/sensors/sysfs"
)

// address is a DS18B20 as the kernel lists it: family 28 and serial number.
var address = regexp.MustCompile(`^28-[0-9a-f]{12}$`)

// Source is one thermometer.
type Source struct{ file sysfs.File }

// New names a thermometer by its address, such as 28-0000075a1c3f. Root is
// where the tree of files begins, / on a real system. That the file is there
// is not asked yet: a probe may come and go.
func New(root, id string) (*Source, error) {
	if !address.MatchString(id) {
		return nil, fmt.Errorf("probe %q is no DS18B20: its address begins with 28-; list yours with `ls /sys/bus/w1/devices`", id)
	}
	return &Source{sysfs.File{Path: filepath.Join(root, "sys/bus/w1/devices", id, "w1_slave")}}, nil
}

// Read asks the thermometer once. The kernel converts meanwhile: that takes
// 750 ms and may take longer.
func (s *Source) Read() (unit.Celsius, sensors.Fault) {
	text, err := s.file.Read()
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return 0, sensors.Open // unplugged for so long that the kernel gave it up
	case err != nil:
		return 0, sensors.Bus
	}
	return Parse(text)
}

// lines is what the driver prints: the nine bytes with the verdict on their
// checksum, then the bytes of the last good answer with its temperature in
// thousandths of a degree.
var lines = regexp.MustCompile(`^((?:[0-9a-f]{2} ){9}): crc=([0-9a-f]{2}) (YES|NO)\n((?:[0-9a-f]{2} ){9})t=(-?[0-9]{1,6})\n?$`)

// Parse is the temperature in the text of w1_slave, or why it has none. Empty
// is what the driver leaves when nothing answers. NO is a failed checksum, and
// the temperature printed below it an older one.
func Parse(text []byte) (unit.Celsius, sensors.Fault) {
	if len(text) == 0 {
		return 0, sensors.Open
	}
	m := lines.FindSubmatch(text)
	if m == nil {
		return 0, sensors.Bus
	}
	if string(m[3]) == "NO" {
		return 0, sensors.Checksum
	}
	pad, crc := unhex(m[1]), unhex(m[2])
	value, fault := ds18b20.Decode(pad)
	switch {
	case fault != sensors.None:
		return 0, fault
	case crc[0] != pad[len(pad)-1]:
		return 0, sensors.Checksum
	case !bytes.Equal(m[1], m[4]) || !near(value, m[5]):
		return 0, sensors.Bus // the two lines do not tell of one answer
	}
	return value, sensors.None
}

// near tells whether the driver's own temperature is that of the bytes. It
// cuts off what is below a thousandth, and keeps the undefined bits of a coarse
// resolution, which are up to 0.4375 K.
func near(value unit.Celsius, thousandths []byte) bool {
	t, err := strconv.Atoi(string(thousandths))
	gap := float64(t)/1000 - float64(value)
	return err == nil && gap > -0.002 && gap < 0.5
}

// unhex reads two-digit bytes; the pattern has seen that they are.
func unhex(text []byte) []byte {
	b, err := hex.AppendDecode(nil, bytes.ReplaceAll(text, []byte(" "), nil))
	if err != nil {
		return make([]byte, ds18b20.Bytes) // reads as a shorted wire
	}
	return b
}
