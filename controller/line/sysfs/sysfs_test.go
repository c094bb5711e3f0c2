//go:build unix

package sysfs

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"mashward/controller/line"
	"mashward/controller/unit"
)

var _ line.Driver = (*Driver)(nil)

// relay is a file that stands for a line, left on.
func relay(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "value")
	if err := os.WriteFile(path, []byte("1\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func wantText(t *testing.T, path, want, when string) {
	t.Helper()
	if got, err := os.ReadFile(path); err != nil || string(got) != want {
		t.Errorf("%s the line shows %q, %v; want %q", when, got, err, want)
	}
}

func TestOffIsWrittenFirstAndLast(t *testing.T) {
	path := relay(t)
	d, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	wantText(t, path, "0\n", "after Open")
	for _, r := range []unit.Relay{unit.On, unit.On, unit.Off, unit.Off, unit.On, 2, unit.On} {
		if err := d.Set(r); err != nil {
			t.Error(err)
		}
		wantText(t, path, map[bool]string{true: "1\n", false: "0\n"}[r == unit.On], "after Set "+r.String())
	}
	if err := d.Close(); err != nil {
		t.Error(err)
	}
	wantText(t, path, "0\n", "after Close")
}

func TestTwoNeverHoldOneLine(t *testing.T) {
	path := relay(t)
	first, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := first.Set(unit.On); err != nil {
		t.Fatal(err)
	}
	other := path + "-by-another-name"
	if err := os.Link(path, other); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{path, other} {
		if _, err := Open(name); !errors.Is(err, line.ErrTaken) {
			t.Errorf("the second is told %v, want %v", err, line.ErrTaken)
		}
		wantText(t, path, "1\n", "after a second was refused")
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	second, err := Open(path)
	if err != nil {
		t.Fatalf("after the first has ended: %v", err)
	}
	second.Close()
}

func TestOffNeedsNobodysLeave(t *testing.T) {
	path := relay(t)
	if err := Off(path); err != nil {
		t.Error(err)
	}
	wantText(t, path, "0\n", "after Off")
	d, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if err := d.Set(unit.On); err != nil {
		t.Fatal(err)
	}
	if err := Off(path); !errors.Is(err, line.ErrTaken) {
		t.Errorf("off beside a holder says %v, want %v", err, line.ErrTaken)
	}
	wantText(t, path, "0\n", "after Off beside a holder")
}

func TestMissingLineIsNotMade(t *testing.T) {
	path := filepath.Join(t.TempDir(), "value")
	_, opened := Open(path)
	for _, err := range []error{opened, Off(path)} {
		if !errors.Is(err, fs.ErrNotExist) || !strings.Contains(err.Error(), path) {
			t.Errorf("without a line: %v", err)
		}
	}
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		t.Error("a file was made where the line should be")
	}
}

// /dev/full takes no byte; a file that has been closed is a line that is gone.
func TestFailedWriteIsAnError(t *testing.T) {
	if _, err := Open("/dev/full"); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("opening a line that takes nothing: %v", err)
	}
	if err := Off("/dev/full"); !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("off on a line that takes nothing: %v", err)
	}
	d, err := Open(relay(t))
	if err != nil {
		t.Fatal(err)
	}
	d.close()
	for _, r := range []unit.Relay{unit.On, unit.Off} {
		if err := d.Set(r); !errors.Is(err, fs.ErrClosed) {
			t.Errorf("Set %v on a line that is gone: %v", r, err)
		}
	}
}

func TestLineIsANumberOrAWholePath(t *testing.T) {
	for name, want := range map[string]string{
		"17": "/sys/class/gpio/gpio17/value", "GPIO17": "/sys/class/gpio/gpio17/value",
		"/sys/class/leds/relay/brightness": "/sys/class/leds/relay/brightness",
	} {
		if got, err := Path(name); got != want || err != nil {
			t.Errorf("%s: %q, %v; want %q", name, got, err, want)
		}
	}
	for _, name := range []string{"", "value", "./value", "-1", "12345", "gpiochip0:17"} {
		if got, err := Path(name); err == nil {
			t.Errorf("%q is taken as %s", name, got)
		}
	}
}
