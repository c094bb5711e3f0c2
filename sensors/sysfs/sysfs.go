// Package sysfs reads a thermometer of which the kernel shows one number in a
// file, in thousandths of a degree Celsius: in_temp_input of an IIO device,
// temp1_input of a hwmon device, and their like.
//
// Such a file hides what the chip really said. A DS18B20 is better read with
// driver w1, which sees the traps that a number hides.
package sysfs

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"

	"mashward/controller/unit"
	"mashward/sensors"
)

// MostBytes is more than any file that a probe shows itself in.
const MostBytes = 4096

// What a probe in a kettle can say at all; everything else is a broken file or
// a number that is not in thousandths.
const (
	coldest unit.Celsius = -55
	hottest unit.Celsius = 200
)

// Source is one file.
type Source struct{ file File }

// New names the file, as a path from the root of the tree of files; root is /
// on a real system. That the file is there is not asked yet: a probe may come
// and go.
func New(root, path string) (*Source, error) {
	if !filepath.IsAbs(path) {
		return nil, fmt.Errorf("probe %q is not a whole path: write one such as /sys/bus/iio/devices/iio:device0/in_temp_input", path)
	}
	return &Source{File{Path: filepath.Join(root, path)}}, nil
}

// Read reads the file once, which may take as long as the chip takes.
func (s *Source) Read() (unit.Celsius, sensors.Fault) {
	text, err := s.file.Read()
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return 0, sensors.Open
	case err != nil:
		return 0, sensors.Bus
	}
	return Parse(text)
}

// number is a whole number; some drivers add a fraction of zeros.
var number = regexp.MustCompile(`^(-?[0-9]{1,7})(?:\.[0-9]{1,9})?\n?$`)

// Parse is the temperature in the text of such a file, or why it has none. A
// driver that got no answer leaves the file empty.
func Parse(text []byte) (unit.Celsius, sensors.Fault) {
	if len(text) == 0 {
		return 0, sensors.Open
	}
	m := number.FindSubmatch(text)
	if m == nil {
		return 0, sensors.Bus
	}
	thousandths, err := strconv.Atoi(string(m[1]))
	if err != nil {
		return 0, sensors.Bus
	}
	value := unit.Celsius(float64(thousandths) / 1000)
	if value < coldest || value > hottest {
		return 0, sensors.Range
	}
	return value, sensors.None
}

var errTooLong = errors.New("the file is longer than any probe's")

// File is a small file that is read again and again. It stays open, so that a
// process without a descriptor left can still read its probe; the kernel fills
// it anew for each read from its beginning (Linux, sysfs.rst). The zero value but
// for Path is ready. One goroutine may use it.
type File struct {
	Path string

	open *os.File
	is   fs.FileInfo // what was opened
}

// Read reads the file whole, as it is now: one that was put in place of the
// other is opened anew.
func (f *File) Read() ([]byte, error) {
	is, err := os.Stat(f.Path)
	if err == nil && f.open != nil && os.SameFile(is, f.is) {
		text, err := whole(io.NewSectionReader(f.open, 0, MostBytes+1))
		if err == nil {
			return text, nil
		}
	}
	f.close() // a device that was unplugged gives errors to all who have it open
	if err != nil {
		return nil, err
	}
	file, err := os.Open(f.Path)
	if err != nil {
		return nil, err
	}
	text, err := whole(file)
	if err != nil || !is.Mode().IsRegular() {
		return text, errors.Join(err, file.Close())
	}
	f.open = file
	f.is, err = file.Stat()
	return text, err
}

func (f *File) close() {
	if f.open != nil {
		f.open.Close() // opened for reading: nothing to lose
		f.open = nil
	}
}

func whole(r io.Reader) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(r, MostBytes+1))
	if err == nil && len(text) > MostBytes {
		return nil, errTooLong
	}
	return text, err
}
