package house

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
	"unsafe"
)

// A daemon that may have no more memory than it has, and needs more, dies of it.
// Heat goes with it, and the next one offers the batch.
func TestScenarioHeatEndsWithADaemonThatRunsOutOfMemory(t *testing.T) {
	t.Parallel()
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	d := p.daemon()
	d.heat(25)
	before := d.state()
	noMoreMemory(t, d.cmd.Process.Pid)
	starved := time.Now()
	ended := make(chan *os.ProcessState, 1)
	go func() {
		how, _ := d.cmd.Process.Wait() // not for its keeper, which has its output too
		ended <- how
	}()
	var how *os.ProcessState
	for waiting := true; waiting; {
		select {
		case how = <-ended:
			waiting = false
		default:
			if time.Since(starved) > 30*time.Second {
				t.Fatalf("it goes on without memory\n%s", d.text())
			}
			d.crowd(20)
		}
	}
	died := time.Now()
	took := d.until(offWithin, "it still heats", func() bool { return !d.on() })
	t.Logf("without memory it died after %.1f s, and the relay was off %d ms after that was seen", died.Sub(starved).Seconds(), took.Milliseconds())
	if took > atOnce {
		t.Errorf("off after %v, want %v", took, atOnce)
	}
	if <-d.all; how == nil || how.Success() || !strings.Contains(d.text(), "memory") {
		t.Fatalf("it ended with %v, not for want of memory:\n%.2000s", how, d.text())
	}
	next := p.daemon()
	next.until(10*time.Second, "it is not ready", func() bool { return next.state().Number > 1 })
	after := next.state()
	if after.Batch.State != "offered" || after.Batch.ID != before.Batch.ID || after.Heating || next.on() {
		t.Errorf("the next one shows %+v, before it was %+v", after, before)
	}
}

// shown is what some tests look at in the state.
type shown struct {
	Number  int
	Heating bool
	Batch   struct{ ID, State, Reason string }
}

func (d *daemon) state() (s shown) {
	d.t.Helper()
	if err := json.Unmarshal([]byte(get(d.t, d.address+"/api/v1/state")), &s); err != nil {
		d.t.Error(err)
	}
	return s
}

// crowd asks for many pages at once; whether they are answered does not matter.
func (d *daemon) crowd(n int) {
	client := http.Client{Timeout: 2 * time.Second}
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() {
			if r, err := client.Get(d.address + []string{"/", "/chart.svg?wide=1", "/metrics", "/profile/day"}[i%4]); err == nil {
				r.Body.Close()
			}
		})
	}
	all.Wait()
}

// noMoreMemory forbids a process any memory beyond what it has (prlimit(2): the
// kernel counts what is private and writable).
func noMoreMemory(t *testing.T, pid int) {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(text), "VmData:")
	kilobytes, err := strconv.ParseUint(strings.Fields(after)[0], 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	limit := syscall.Rlimit{Cur: kilobytes << 10, Max: kilobytes << 10}
	if _, _, errno := syscall.RawSyscall6(syscall.SYS_PRLIMIT64, uintptr(pid), syscall.RLIMIT_DATA, uintptr(unsafe.Pointer(&limit)), 0, 0, 0); errno != 0 {
		t.Fatal(errno)
	}
}
