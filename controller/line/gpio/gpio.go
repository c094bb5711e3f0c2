//go:build linux

// Package gpio drives a relay line of a board through the kernel's character
// device (GPIO v2, Linux 5.10 or newer).
//
// It asks the kernel itself and uses no library for it. A relay's line must be
// requested as an output that is off in one step: requested first and set
// afterwards it pulses, and asking some libraries for the level of an output
// turns it into an input with a pull-up, which is on. The kernel's error is kept
// too: a line that another process holds is told apart from one that is not there.
//
// No board was at hand: what is shown is shown on a kernel of the tests' own, and
// on a real one in an emulator (deploy/board).
package gpio

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"syscall"
	"unsafe"

	"mashward/controller/line"
	"mashward/controller/unit"
)

// Driver is one requested line. It implements line.Driver.
type Driver struct {
	kernel kernel
	name   string
	fd     int
}

// Open requests a line for this process alone, as an output that is off. The
// name is the line's own, such as GPIO17, or the label of its chip and the place
// of the line on it, such as pinctrl-rp1:17; numbers of chips change from boot to
// boot and are not taken. If another process has the line, the error is
// line.ErrTaken.
func Open(name string) (*Driver, error) { return open(system{}, name) }

func open(k kernel, name string) (*Driver, error) {
	found, err := find(k, name)
	if err != nil {
		return nil, err
	}
	chip, err := k.open(found.chip)
	if err != nil {
		return nil, fmt.Errorf("the chip of line %s cannot be opened: %w", name, err)
	}
	defer k.close(chip)
	r := lineRequest{Lines: 1}
	r.Offsets[0] = found.offset
	copy(r.Consumer[:], "mashward")
	r.Config.Flags = flagOutput
	r.Config.Attributes[0] = configAttribute{attribute: attribute{ID: outputValues, Value: 0}, Mask: 1}
	r.Config.Count = 1
	switch err := k.ioctl(chip, getLine, unsafe.Pointer(&r)); {
	case errors.Is(err, syscall.EBUSY):
		return nil, fmt.Errorf("line %s (held by %q): %w", name, found.holder, line.ErrTaken)
	case err != nil:
		return nil, fmt.Errorf("line %s cannot be had as an output: %w", name, err)
	}
	return &Driver{k, name, int(r.Descriptor)}, nil
}

// Off requests a line as an output that is off and gives it back. If another
// process has it, nothing can be done here; the error is line.ErrTaken.
func Off(name string) error {
	d, err := Open(name)
	if err != nil {
		return err
	}
	return d.Close()
}

// Set implements line.Driver. Calls do not wait for each other.
func (d *Driver) Set(r unit.Relay) error {
	v := lineValues{Mask: 1}
	if r == unit.On {
		v.Bits = 1
	}
	if err := d.kernel.ioctl(d.fd, setValues, unsafe.Pointer(&v)); err != nil {
		return fmt.Errorf("switching line %s %s: %w", d.name, r, err)
	}
	return nil
}

// Close has the line off once more and gives it back. What it does then is
// decided by the kernel, and by the pull-down.
func (d *Driver) Close() error { return errors.Join(d.Set(unit.Off), d.kernel.close(d.fd)) }

// place is where a line was found.
type place struct {
	chip   string // its device
	offset uint32
	holder string // who has it; "" if nobody told
}

// find looks through all chips. A name that two lines have is refused: one of
// them may be anything.
func find(k kernel, name string) (place, error) {
	chips, err := k.chips()
	if err != nil {
		return place{}, err
	}
	if len(chips) == 0 {
		return place{}, errors.New("there is no /dev/gpiochip*: this board has no such lines, or its kernel does not show them")
	}
	var found []place
	var trouble []error
	for _, path := range chips {
		more, err := findOn(k, path, name)
		found = append(found, more...)
		trouble = append(trouble, err)
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return place{}, errors.Join(append([]error{fmt.Errorf("no line is called %s; `gpioinfo` lists those there are", name)}, trouble...)...)
	}
	return place{}, fmt.Errorf("%d lines are called %s: name the chip's label and the place of the line, such as pinctrl-rp1:17", len(found), name)
}

// findOn looks through one chip.
func findOn(k kernel, path, name string) ([]place, error) {
	chip, err := k.open(path)
	if err != nil {
		return nil, err
	}
	defer k.close(chip)
	var c chipInfo
	if err := k.ioctl(chip, getChip, unsafe.Pointer(&c)); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	label, number, byPlace := strings.Cut(name, ":")
	wanted, err := strconv.ParseUint(number, 10, 32)
	byPlace = byPlace && err == nil && label == text(c.Label[:])
	var found []place
	for at := range c.Lines {
		i := lineInfo{Offset: at}
		if err := k.ioctl(chip, getInfo, unsafe.Pointer(&i)); err != nil {
			return found, fmt.Errorf("%s: line %d: %w", path, at, err)
		}
		if name != "" && text(i.Name[:]) == name || byPlace && uint64(at) == wanted {
			found = append(found, place{path, at, text(i.Consumer[:])})
		}
	}
	return found, nil
}

// text is a name as the kernel gives it, up to the first zero.
func text(b []byte) string {
	before, _, _ := bytes.Cut(b, []byte{0})
	return string(before)
}
