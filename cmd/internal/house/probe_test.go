//go:build unix

package house

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A kettle with a 1-wire probe in a tree of files like the kernel's.
const wiredRig = `rig: Kettle of files
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K}
element: {power: 3000 W, relay: {driver: sysfs, line: %[1]s/relay, type: solid-state}}
probe: {driver: w1, id: 28-0000075a1c3f, place: outlet, covered_at: 9 L}
`

// What the kernel prints: at 20 °C, and what is none. The checksums are those of
// Maxim's Application Note 27, worked out apart.
const (
	at20      = "40 01 4b 46 7f ff 0c 10 %[1]s : crc=%[1]s YES\n40 01 4b 46 7f ff 0c 10 %[1]s t=20000\n"
	crcOf20   = "bc"
	failedCRC = "40 01 4b 46 7f ff 0c 11 bc : crc=e2 NO\n40 01 4b 46 7f ff 0c 10 bc t=20000\n"
	powerOn   = "50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n"
	shorted   = "00 00 00 00 00 00 00 00 00 : crc=00 YES\n00 00 00 00 00 00 00 00 00 t=0\n"
)

// Whatever the probe does, what is no reading beyond doubt takes the heat away:
// the last good one is trusted for 5 s, and a tick more.
func TestScenarioNothingAProbeDoesPassesForAReading(t *testing.T) {
	t.Parallel()
	p := build(t)
	write := func(text string) func(path string) error {
		return func(path string) error { return os.WriteFile(path, []byte(text), 0o644) }
	}
	for name, c := range map[string]struct {
		harm func(path string) error
		says string // the fault that the interface names; "" where the old reading just ages
	}{
		"a failed checksum, with an older temperature": {write(failedCRC), "checksum"},
		"the value before the first conversion":        {write(powerOn), "power-on value"},
		"a shorted wire":                               {write(shorted), "shorted"},
		"an empty file":                                {write(""), "open"},
		"a file without end":                           {write(strings.Repeat("40 ", 1<<20)), "bus error"},
		"the probe is gone":                            {func(path string) error { return os.RemoveAll(filepath.Dir(path)) }, "open"},
		"a read that hangs": {func(path string) error {
			// In one step: a file that is not there for a moment is another fault.
			hung := path + ".hung"
			if err := syscall.Mkfifo(hung, 0o644); err != nil {
				return err
			}
			return os.Rename(hung, path)
		}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := p.in(t)
			p.files(wiredRig, bigProfile, 0)
			probe := filepath.Join(p.folder, "sys/bus/w1/devices/28-0000075a1c3f/w1_slave")
			if err := os.MkdirAll(filepath.Dir(probe), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := write(fmt.Sprintf(at20, crcOf20))(probe); err != nil {
				t.Fatal(err)
			}
			p.write("rig.yaml", strings.ReplaceAll(wiredRig, "%[1]s", "")) // paths begin at the root
			d := p.daemonAt(p.folder)
			d.heat(25)
			if err := c.harm(probe); err != nil {
				t.Fatal(err)
			}
			took := d.until(offWithin, "it still heats", func() bool { return !d.on() })
			fault := d.fault()
			t.Logf("%-46s relay off after %.1f s; %q", name, took.Seconds(), fault)
			if took > 6500*time.Millisecond || fault != c.says {
				t.Errorf("off after %v with %q, want 6.5 s and %q", took, fault, c.says)
			}
		})
	}
}

// fault is what the interface says is wrong with the probe.
func (d *daemon) fault() string {
	d.t.Helper()
	var state struct {
		Probe struct {
			Fault string `json:"fault"`
		} `json:"probe"`
	}
	if err := json.Unmarshal([]byte(get(d.t, d.address+"/api/v1/state")), &state); err != nil {
		d.t.Fatal(err)
	}
	return state.Probe.Fault
}
