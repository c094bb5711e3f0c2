package systemd

import (
	"errors"
	"net"
	"path/filepath"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/deploy/yardstick"
	"mashward/sensors"
)

// manager listens as a service manager does.
func manager(t *testing.T, name string) (path string, next func() string) {
	t.Helper()
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: name, Net: "unixgram"})
	if err != nil {
		yardstick.Missing(t, "no such socket can be made here: "+err.Error())
	}
	t.Cleanup(func() { conn.Close() })
	return name, func() string {
		if err := conn.SetReadDeadline(time.Now().Add(10 * time.Second)); err != nil {
			t.Fatal(err)
		}
		b := make([]byte, 512)
		n, err := conn.Read(b)
		if err != nil {
			t.Fatalf("nothing was told: %v", err)
		}
		return string(b[:n])
	}
}

// frame is a tick at a minute, with a reading of that age.
func frame(age time.Duration, fault sensors.Fault, line error) *loop.Frame {
	now := time.Minute
	return &loop.Frame{Tick: controller.Tick{Now: now, Reading: sensors.Reading{Taken: now - age, Fault: fault}}, LineFault: line}
}

func TestOnlyAWholeTickCountsAsLife(t *testing.T) {
	for name, c := range map[string]struct {
		f     *loop.Frame
		whole bool
	}{
		"a fresh reading":              {frame(time.Second, sensors.None, nil), true},
		"the oldest that is fresh":     {frame(5*time.Second, sensors.None, nil), true},
		"a probe that says it is open": {frame(time.Second, sensors.Open, nil), true},
		"a probe that hangs":           {frame(5*time.Second+1, sensors.None, nil), false},
		"a reading from the future":    {frame(-1, sensors.None, nil), false},
		"no reading yet":               {frame(time.Second, sensors.NoReading, nil), false},
		"a line that does not answer":  {frame(time.Second, sensors.None, errors.New("wire loose")), false},
		"nothing at all":               {&loop.Frame{}, false},
	} {
		if got := Whole(c.f); got != c.whole {
			t.Errorf("%s: %v, want %v", name, got, c.whole)
		}
	}
}

func TestManagerIsToldReadyOnceAndLifeWithEachWholeTick(t *testing.T) {
	for _, name := range []string{filepath.Join(t.TempDir(), "notify"), "@mashward-test-" + filepath.Base(t.TempDir())} {
		path, next := manager(t, name)
		n, err := New(path)
		if err != nil {
			t.Fatal(err)
		}
		n.Watch(frame(time.Second, sensors.NoReading, nil))
		n.Watch(frame(time.Second, sensors.None, nil))
		if got := next(); got != "READY=1\nWATCHDOG=1" {
			t.Errorf("first it says %q", got)
		}
		n.Watch(frame(time.Hour, sensors.None, nil))
		n.Watch(frame(time.Second, sensors.None, nil))
		if got := next(); got != "WATCHDOG=1" {
			t.Errorf("then it says %q", got)
		}
		n.Stopping()
		if got := next(); got != "STOPPING=1" {
			t.Errorf("at the end it says %q", got)
		}
	}
}

// A manager that does not read must not hold up the loop.
func TestLoopDoesNotWaitForTheManager(t *testing.T) {
	path, _ := manager(t, filepath.Join(t.TempDir(), "notify"))
	n, err := New(path)
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	for range 10_000 {
		n.Watch(frame(time.Second, sensors.None, nil))
	}
	if took := time.Since(began); took > 2*time.Second {
		t.Errorf("10,000 ticks took %v with a manager that does not read", took)
	}
}

func TestWithoutAManagerNobodyIsTold(t *testing.T) {
	n, err := New("")
	if err != nil {
		t.Fatal(err)
	}
	n.Watch(frame(time.Second, sensors.None, nil))
	n.Idle()
	n.Stopping()
	if _, err := New(filepath.Join(t.TempDir(), "nowhere")); err == nil {
		t.Error("a socket that is not there is no error")
	}
}
