//go:build unix

package house

import (
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// TestMain lets this program be a kettle in a process of its own, which knows
// mashward by two files only.
func TestMain(m *testing.M) {
	if folder := os.Getenv("MASHWARD_TEST_KETTLE"); folder != "" {
		go func() {
			_, _ = io.Copy(io.Discard, os.Stdin) // it ends with the test
			os.Exit(0)
		}()
		os.Exit(boil(folder))
	}
	code := m.Run()
	if shared.folder != "" {
		os.RemoveAll(shared.folder)
	}
	os.Exit(code)
}

// The kettle behind the files: 5 L of water in a light pot over 6 kW, stirred
// well; what its probe shows lags by 1 s. That is quick enough to be watched.
const (
	plantPower  = 6000.0       // W
	plantHeat   = 5*4180 + 500 // J/K
	plantLoss   = 40.0         // W/K, to a room of 20 °C: a lid far off
	plantLag    = 1.0          // s
	plantStep   = 20 * time.Millisecond
	plantStart  = 40.8
	plantTarget = 41.5
)

const plantRig = `rig: Quick pot
kettle: {capacity: 10 L, element_covered_at: 1.5 L, vessel: 500 J/K, loss: 40 W/K}
element: {power: 6 kW, relay: {driver: sysfs, line: %[1]s/relay, type: solid-state}}
probe: {driver: sysfs, id: %[1]s/probe, place: outlet, covered_at: 1 L}
site: {tap: 40 °C, room: 20 °C}
`

const plantDay = `profile: Quick warmth
water: 5 L
steps:
  - {rest: 41.5 °C, for: 3 s}
`

// boil is the kettle: it reads the relay's file and writes the probe's, fifty
// times a second, by the time that really passes.
func boil(folder string) int {
	water, probe, before := plantStart, plantStart, time.Now()
	for {
		<-time.After(plantStep)
		now := time.Now()
		dt := now.Sub(before).Seconds()
		before = now
		relay, err := os.ReadFile(filepath.Join(folder, "relay"))
		if err != nil {
			return 1
		}
		power := 0.0
		if strings.HasPrefix(string(relay), "1") {
			power = plantPower
		}
		water += (power - plantLoss*(water-20)) * dt / plantHeat
		probe += (water - probe) * (1 - math.Exp(-dt/plantLag))
		text := strconv.Itoa(int(math.Round(probe*1000))) + "\n"
		if os.WriteFile(filepath.Join(folder, "probe.new"), []byte(text), 0o644) != nil ||
			os.Rename(filepath.Join(folder, "probe.new"), filepath.Join(folder, "probe")) != nil {
			return 1
		}
		fmt.Printf("%.3f %.0f\n", water, power/plantPower) // the truth, for the judge
	}
}

// truth collects what the kettle says about itself.
type truth struct {
	mu   sync.Mutex
	text strings.Builder
}

func (tr *truth) Write(b []byte) (int, error) {
	tr.mu.Lock()
	defer tr.mu.Unlock()
	return tr.text.Write(b)
}

// judge gives the newest and the highest temperature, and how often the relay
// closed.
func (tr *truth) judge(t *testing.T) (now, peak float64, closings int) {
	t.Helper()
	tr.mu.Lock()
	defer tr.mu.Unlock()
	was := 0.0
	for row := range strings.Lines(tr.text.String()) {
		var relay float64
		if n, err := fmt.Sscanf(row, "%f %f\n", &now, &relay); n != 2 || err != nil {
			continue // the last one is still being written
		}
		peak = max(peak, now)
		if relay > was {
			closings++
		}
		was = relay
	}
	return now, peak, closings
}

func TestScenarioAKettleInAnotherProcessIsHeatedToItsRest(t *testing.T) {
	t.Parallel()
	p := build(t)
	p.files(plantRig, plantDay, plantStart)
	kettle := exec.Command(os.Args[0])
	kettle.Env = append(os.Environ(), "MASHWARD_TEST_KETTLE="+p.folder)
	told := &truth{}
	kettle.Stdout = told
	held, err := kettle.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	d := p.daemon() // it writes off first, and so the kettle begins cold
	if err := kettle.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { held.Close(); _ = kettle.Wait() })
	began := time.Now()
	d.heat(5)
	d.until(30*time.Second, "the rest is not over", func() bool { return strings.Contains(d.text(), "state=complete") })
	now, peak, closings := told.judge(t)
	t.Logf("rest of 3 s at 41.5 °C over after %.0f s: true water %.2f °C, at most %.2f °C; the relay closed %d times", time.Since(began).Seconds(), now, peak, closings)
	if math.Abs(now-plantTarget) > 0.5 || peak > plantTarget+0.5 || closings < 2 {
		t.Errorf("water %.2f °C, at most %.2f °C, %d closings; want 41.5 ± 0.5 °C, held by more than one", now, peak, closings)
	}
	d.stays(time.Second, "when the batch was complete")
	d.signal(syscall.SIGTERM)
	if err := d.cmd.Wait(); err != nil || !strings.Contains(d.text(), "ended, not heating") {
		t.Errorf("it ends with %v\n%s", err, d.text())
	}
	if records, err := filepath.Glob(filepath.Join(p.folder, "state/records/*.batch")); err != nil || len(records) != 1 {
		t.Errorf("%d records, %v", len(records), err)
	} else if a := p.must(0, "record", "show", "state/records/"+filepath.Base(records[0])); strings.Contains(a.out, "simulated") {
		t.Errorf("the record of a real batch says that it was simulated:\n%s", a.out)
	} else {
		p.must(0, "record", "replay", "state/records/"+filepath.Base(records[0]))
	}
}
