//go:build linux

package gpio

import (
	"path/filepath"
	"slices"
	"syscall"
	"unsafe"
)

// What the kernel is asked with: linux/gpio.h, version 2 of its interface.

const (
	namesBytes    = 32
	mostLines     = 64
	mostAttribute = 10

	flagOutput   = 1 << 3 // GPIO_V2_LINE_FLAG_OUTPUT
	outputValues = 2      // GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES
)

// chipInfo is struct gpiochip_info.
type chipInfo struct {
	Name, Label [namesBytes]byte
	Lines       uint32
}

// attribute is struct gpio_v2_line_attribute.
type attribute struct {
	ID    uint32
	_     uint32
	Value uint64
}

// configAttribute is struct gpio_v2_line_config_attribute.
type configAttribute struct {
	attribute
	Mask uint64
}

// lineConfig is struct gpio_v2_line_config.
type lineConfig struct {
	Flags      uint64
	Count      uint32
	_          [5]uint32
	Attributes [mostAttribute]configAttribute
}

// lineRequest is struct gpio_v2_line_request.
type lineRequest struct {
	Offsets     [mostLines]uint32
	Consumer    [namesBytes]byte
	Config      lineConfig
	Lines       uint32
	EventBuffer uint32
	_           [5]uint32
	Descriptor  int32
}

// lineInfo is struct gpio_v2_line_info.
type lineInfo struct {
	Name, Consumer [namesBytes]byte
	Offset, Count  uint32
	Flags          uint64
	Attributes     [mostAttribute]attribute
	_              [4]uint32
}

// lineValues is struct gpio_v2_line_values.
type lineValues struct{ Bits, Mask uint64 }

// The requests, as _IOR and _IOWR make them of direction, size, 0xB4 and a
// number.
const (
	getChip   = 2<<30 | uintptr(unsafe.Sizeof(chipInfo{}))<<16 | 0xB4<<8 | 0x01
	getInfo   = 3<<30 | uintptr(unsafe.Sizeof(lineInfo{}))<<16 | 0xB4<<8 | 0x05
	getLine   = 3<<30 | uintptr(unsafe.Sizeof(lineRequest{}))<<16 | 0xB4<<8 | 0x07
	setValues = 3<<30 | uintptr(unsafe.Sizeof(lineValues{}))<<16 | 0xB4<<8 | 0x0F
)

// kernel is what is asked of the kernel; the tests have one of their own.
type kernel interface {
	chips() ([]string, error) // devices, each once
	open(path string) (int, error)
	ioctl(fd int, request uintptr, argument unsafe.Pointer) error
	close(fd int) error
}

// system is the real one.
type system struct{}

// chips leaves out second names: newer boards keep an old number as a link.
func (system) chips() ([]string, error) {
	names, err := filepath.Glob("/dev/gpiochip*")
	if err != nil {
		return nil, err
	}
	for i, name := range names {
		if names[i], err = filepath.EvalSymlinks(name); err != nil {
			return nil, err
		}
	}
	slices.Sort(names)
	return slices.Compact(names), nil
}

func (system) open(path string) (int, error) {
	return syscall.Open(path, syscall.O_RDWR|syscall.O_CLOEXEC, 0)
}

func (system) ioctl(fd int, request uintptr, argument unsafe.Pointer) error {
	for {
		switch _, _, err := syscall.Syscall(syscall.SYS_IOCTL, uintptr(fd), request, uintptr(argument)); err {
		case 0:
			return nil
		case syscall.EINTR: // asked again: no answer was given
		default:
			return err
		}
	}
}

func (system) close(fd int) error { return syscall.Close(fd) }
