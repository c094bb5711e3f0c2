//go:build linux

package gpio

import (
	"errors"
	"io/fs"
	"slices"
	"strings"
	"syscall"
	"testing"
	"unsafe"

	"mashward/controller/line"
	"mashward/controller/unit"
)

var _ line.Driver = (*Driver)(nil)

// The numbers that a C compiler makes of linux/gpio.h, on 32 and 64 bit ARM and
// x86 alike; the size of each structure is in them.
func TestRequestsAreTheKernels(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want uintptr
	}{
		{"GPIO_GET_CHIPINFO_IOCTL", getChip, 0x8044B401},
		{"GPIO_V2_GET_LINEINFO_IOCTL", getInfo, 0xC100B405},
		{"GPIO_V2_GET_LINE_IOCTL", getLine, 0xC250B407},
		{"GPIO_V2_LINE_SET_VALUES_IOCTL", setValues, 0xC010B40F},
	} {
		if c.got != c.want {
			t.Errorf("%s is %#x, want %#x", c.name, c.got, c.want)
		}
	}
	var r lineRequest
	var i lineInfo
	for _, c := range []struct {
		name      string
		got, want uintptr
	}{
		{"gpio_v2_line_request.config", unsafe.Offsetof(r.Config), 288},
		{"gpio_v2_line_request.num_lines", unsafe.Offsetof(r.Lines), 560},
		{"gpio_v2_line_request.fd", unsafe.Offsetof(r.Descriptor), 588},
		{"gpio_v2_line_config.attrs", unsafe.Offsetof(r.Config.Attributes), 32},
		{"gpio_v2_line_info.flags", unsafe.Offsetof(i.Flags), 72},
	} {
		if c.got != c.want {
			t.Errorf("%s is at %d, want %d", c.name, c.got, c.want)
		}
	}
}

// board is a kernel of the tests' own, with chips and lines. It holds requests
// to the rules of the real one.
type board struct {
	t       *testing.T
	all     []*chip
	open_   map[int]any // descriptors: *chip or *wire
	next    int
	broken  error // what setting values ends with
	asked   int   // requests for a line
	refused error // what they end with
}

type chip struct {
	path, label string
	wires       []*wire
	locked      error
}

type wire struct {
	name, holder string
	output       bool
	levels       []uint64 // every level it had since it became an output
}

func newBoard(t *testing.T, chips ...*chip) *board {
	b := &board{t: t, all: chips, open_: map[int]any{}, next: 3}
	t.Cleanup(func() {
		if len(b.open_) > 0 {
			t.Errorf("%d descriptors are still open", len(b.open_))
		}
	})
	return b
}

func (b *board) chips() (paths []string, err error) {
	for _, c := range b.all {
		paths = append(paths, c.path)
	}
	return paths, nil
}

func (b *board) descriptor(of any) int {
	b.next++
	b.open_[b.next] = of
	return b.next
}

func (b *board) open(path string) (int, error) {
	for _, c := range b.all {
		if c.path == path {
			return b.descriptor(c), c.locked
		}
	}
	return -1, syscall.ENOENT
}

func (b *board) close(fd int) error {
	if w, ok := b.open_[fd].(*wire); ok {
		w.holder, w.output = "", false // as mainline does: an input again
	}
	if b.open_[fd] == nil {
		return syscall.EBADF
	}
	delete(b.open_, fd)
	return nil
}

func (b *board) ioctl(fd int, request uintptr, argument unsafe.Pointer) error {
	switch of := b.open_[fd].(type) {
	case *chip:
		switch request {
		case getChip:
			i := (*chipInfo)(argument)
			copy(i.Label[:], of.label)
			i.Lines = uint32(len(of.wires))
			return nil
		case getInfo:
			i := (*lineInfo)(argument)
			w := of.wires[i.Offset]
			copy(i.Name[:], w.name)
			copy(i.Consumer[:], w.holder)
			return nil
		case getLine:
			return b.request(of, (*lineRequest)(argument))
		}
	case *wire:
		if request == setValues && b.broken == nil {
			v := (*lineValues)(argument)
			if v.Mask != 1 || !of.output {
				return syscall.EPERM
			}
			of.levels = append(of.levels, v.Bits&1)
			return nil
		}
		return b.broken
	}
	return syscall.EINVAL
}

// request hands out a line. An output without values is low; one that was
// requested as it is keeps the level it had.
func (b *board) request(c *chip, r *lineRequest) error {
	b.asked++
	w := c.wires[r.Offsets[0]]
	switch {
	case b.refused != nil:
		return b.refused
	case w.holder != "":
		return syscall.EBUSY
	case r.Lines != 1 || r.Config.Flags != flagOutput || text(r.Consumer[:]) != "mashward":
		return syscall.EINVAL
	case r.Config.Count != 1 || r.Config.Attributes[0].ID != outputValues || r.Config.Attributes[0].Mask != 1:
		b.t.Error("the line is requested without saying that it is off")
	}
	w.holder, w.output = "mashward", true
	w.levels = append(w.levels, r.Config.Attributes[0].Value&1)
	r.Descriptor = int32(b.descriptor(w))
	return nil
}

// pi has the lines of one chip among those of another.
func pi(t *testing.T) (*board, *wire) {
	relay := &wire{name: "GPIO17"}
	return newBoard(t,
		&chip{path: "/dev/gpiochip0", label: "pinctrl-rp1", wires: []*wire{{name: "ID_SDA"}, {}, relay}},
		&chip{path: "/dev/gpiochip1", label: "raspberrypi-exp-gpio", wires: []*wire{{name: "BT_ON"}, {name: "GPIO1"}}},
	), relay
}

func TestLineIsRequestedOnceAndOffFromTheFirstMoment(t *testing.T) {
	for _, name := range []string{"GPIO17", "pinctrl-rp1:2"} {
		b, relay := pi(t)
		d, err := open(b, name)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range []unit.Relay{unit.On, unit.Off, 2, unit.On} {
			if err := d.Set(r); err != nil {
				t.Error(err)
			}
		}
		if err := d.Close(); err != nil {
			t.Error(err)
		}
		if want := []uint64{0, 1, 0, 0, 1, 0}; !slices.Equal(relay.levels, want) || b.asked != 1 {
			t.Errorf("%s: levels %v with %d requests, want %v with one", name, relay.levels, b.asked, want)
		}
	}
}

func TestTwoNeverHoldOneLine(t *testing.T) {
	b, relay := pi(t)
	first, err := open(b, "GPIO17")
	if err != nil {
		t.Fatal(err)
	}
	if err := first.Set(unit.On); err != nil {
		t.Fatal(err)
	}
	if _, err := open(b, "GPIO17"); !errors.Is(err, line.ErrTaken) || !strings.Contains(err.Error(), `held by "mashward"`) {
		t.Errorf("the second is told %v", err)
	}
	if want := []uint64{0, 1}; !slices.Equal(relay.levels, want) {
		t.Errorf("levels %v, want %v: the second changed them", relay.levels, want)
	}
	if err := first.Close(); err != nil {
		t.Error(err)
	}
	again, err := open(b, "GPIO17")
	if err != nil {
		t.Fatal(err)
	}
	if err := again.Close(); err != nil {
		t.Error(err)
	}
}

func TestErrorsOfTheKernelAreKept(t *testing.T) {
	b, _ := pi(t)
	b.refused = syscall.EINVAL
	if _, err := open(b, "GPIO17"); !errors.Is(err, syscall.EINVAL) || errors.Is(err, line.ErrTaken) {
		t.Errorf("a line that cannot be an output: %v", err)
	}
	b.refused = nil
	d, err := open(b, "GPIO17")
	if err != nil {
		t.Fatal(err)
	}
	b.broken = syscall.EIO
	for _, r := range []unit.Relay{unit.On, unit.Off} {
		if err := d.Set(r); !errors.Is(err, syscall.EIO) || !strings.Contains(err.Error(), "GPIO17") {
			t.Errorf("Set %v: %v", r, err)
		}
	}
	if err := d.Close(); !errors.Is(err, syscall.EIO) {
		t.Errorf("Close: %v", err)
	}
}

func TestLineIsFoundByNameOrNotAtAll(t *testing.T) {
	b, _ := pi(t)
	for name, says := range map[string]string{
		"GPIO18":        "no line is called GPIO18",
		"":              "no line is called", // lines without a name there are
		"17":            "no line is called 17",
		"gpiochip0:2":   "no line is called", // numbers of chips change
		"pinctrl-rp1:9": "no line is called",
		"pinctrl-rp1:x": "no line is called",
	} {
		if _, err := open(b, name); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, want %q", name, err, says)
		}
	}
	b.all[1].wires[1].name = "GPIO17"
	if _, err := open(b, "GPIO17"); err == nil || !strings.Contains(err.Error(), "2 lines are called GPIO17") {
		t.Errorf("a name that two lines have: %v", err)
	}
	if _, err := open(newBoard(t), "GPIO17"); err == nil || !strings.Contains(err.Error(), "there is no /dev/gpiochip*") {
		t.Errorf("without a chip: %v", err)
	}
}

func TestNoPermissionIsSaid(t *testing.T) {
	b, _ := pi(t)
	for _, c := range b.all {
		c.locked = syscall.EACCES
	}
	_, err := open(b, "GPIO17")
	b.open_ = nil // nothing was really opened
	if !errors.Is(err, fs.ErrPermission) {
		t.Errorf("without permission: %v", err)
	}
}
