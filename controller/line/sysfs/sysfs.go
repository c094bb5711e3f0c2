//go:build unix

// Package sysfs drives a relay line that the kernel shows as a file taking 0
// and 1.
//
// It knows of no inverted lines: 1 is on. What an undriven line does is decided
// by the pull-down at the relay, not here.
package sysfs

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"syscall"

	"mashward/controller/line"
	"mashward/controller/unit"
)

// Driver is one opened line. It implements line.Driver.
//
// The file is open twice: the kernel lets the writes to one opening wait for each
// other, and off must not wait for an on that is stuck.
type Driver struct{ on, off *os.File }

// number is a line of the kernel's older numbering, with or without its prefix.
var number = regexp.MustCompile(`^(?:GPIO|gpio)?([0-9]{1,4})$`)

// Path is the file of a line as a rig writes it: a whole path, or the number of
// a line that has been exported as an output.
func Path(name string) (string, error) {
	if m := number.FindStringSubmatch(name); m != nil {
		return "/sys/class/gpio/gpio" + m[1] + "/value", nil
	}
	if !filepath.IsAbs(name) {
		return "", fmt.Errorf("line %q is not a whole path: write one such as /sys/class/leds/relay/brightness, or the number of an exported line", name)
	}
	return name, nil
}

// Open takes the file for this process alone, and writes off before anything
// else. While it is open no other process can open it so; the error is then
// line.ErrTaken.
func Open(path string) (*Driver, error) {
	d, err := open(path)
	if err != nil {
		return nil, err
	}
	if err := lock(d.off); err != nil {
		d.close()
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if err := d.Set(unit.Off); err != nil {
		d.close()
		return nil, err
	}
	return d, nil
}

// Off writes off without asking who holds the line: off needs nobody's leave.
// The error is line.ErrTaken if off was written and another process holds the
// line, which may switch it on again.
func Off(path string) error {
	d, err := open(path)
	if err != nil {
		return err
	}
	defer d.close()
	if err := d.Set(unit.Off); err != nil {
		return err
	}
	if err := lock(d.off); err != nil {
		return fmt.Errorf("%s: off was written, but %w", path, err)
	}
	return d.Set(unit.Off) // whoever held it until just now may have written last
}

// open opens what is there; it never makes a file where a device should be.
func open(path string) (*Driver, error) {
	var both [2]*os.File
	for i := range both {
		file, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			both[0].Close() // which may be nil
			return nil, fmt.Errorf("the relay's line cannot be opened: %w", err)
		}
		both[i] = file
	}
	return &Driver{on: both[0], off: both[1]}, nil
}

func lock(file *os.File) error {
	err := syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return line.ErrTaken
	}
	return err
}

// Set implements line.Driver. It writes at the beginning of the file.
func (d *Driver) Set(r unit.Relay) error {
	file, text := d.off, "0\n"
	if r == unit.On {
		file, text = d.on, "1\n"
	}
	if _, err := file.WriteAt([]byte(text), 0); err != nil {
		return fmt.Errorf("switching the relay %s: %w", r, err)
	}
	return nil
}

// Close writes off once more and gives the line free.
func (d *Driver) Close() error { return errors.Join(d.Set(unit.Off), d.close()) }

func (d *Driver) close() error { return errors.Join(d.on.Close(), d.off.Close()) }
