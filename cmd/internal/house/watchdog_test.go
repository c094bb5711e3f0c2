//go:build unix

package house

import (
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The service manager hears of each whole tick, and of none once the probe
// hangs: a pipe that nobody writes into is a read that never returns.
func TestScenarioTheWatchdogIsFedByWholeTicksAlone(t *testing.T) {
	t.Parallel()
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	socket := filepath.Join(t.TempDir(), "notify")
	manager, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { manager.Close() })
	next := func(patience time.Duration) string {
		if err := manager.SetReadDeadline(time.Now().Add(patience)); err != nil {
			t.Fatal(err)
		}
		b := make([]byte, 256)
		n, err := manager.Read(b)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			return ""
		}
		return string(b[:n])
	}
	d := p.daemon("env", "NOTIFY_SOCKET="+socket)
	if got := next(10 * time.Second); got != "READY=1\nWATCHDOG=1" {
		t.Errorf("first it tells %q", got)
	}
	for range 3 {
		if got := next(10 * time.Second); got != "WATCHDOG=1" {
			t.Errorf("then it tells %q", got)
		}
	}
	probe := filepath.Join(p.folder, "probe")
	if err := os.Remove(probe); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(probe, 0o644); err != nil {
		t.Fatal(err)
	}
	// A reading counts for 5 s. What was told by then may be read late here.
	hung, last := time.Now(), time.Duration(0)
	for time.Since(hung) < 8*time.Second {
		if next(8*time.Second-time.Since(hung)) != "" {
			last = time.Since(hung)
		}
	}
	for next(time.Millisecond) != "" {
		last = time.Since(hung)
	}
	if got := next(3 * time.Second); got != "" {
		t.Errorf("with a probe that hangs for %v it still tells %q", time.Since(hung), got)
	}
	t.Logf("the last sign of life was read %.1f s after the probe began to hang", last.Seconds())
	d.signal(syscall.SIGTERM)
	if got := next(5 * time.Second); got != "STOPPING=1" {
		t.Errorf("at the end it tells %q", got)
	}
	if err := d.ends(); err != nil || !strings.Contains(d.text(), "ended, not heating") {
		t.Errorf("it ends with %v\n%s", err, d.text())
	}
}
