//go:build linux

package hardware

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller/line"
	"mashward/controller/unit"
	"mashward/sensors"
)

// TestMain lets this program be the keeper that the tests start.
func TestMain(m *testing.M) {
	if len(os.Args) >= 4 && os.Args[1] == "keep" {
		if Keep(Line{os.Args[2], os.Args[3]}, len(os.Args) == 5 && os.Args[4] == Behind, os.Stdin, os.Stdout) != nil {
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// rig is a kettle of files with a pump.
func rig(t *testing.T) config.Rig {
	t.Helper()
	folder := t.TempDir()
	path := func(name, text string) string {
		p := filepath.Join(folder, name)
		put(t, p, text)
		return p
	}
	return config.Rig{
		Element: config.Element{Power: 3000, Relay: config.Relay{Driver: "sysfs", Line: path("element", "1\n")}},
		Pump:    config.Pump{Relay: config.Relay{Driver: "sysfs", Line: path("pump", "1\n")}},
		Probe:   config.Probe{Driver: "sysfs", ID: path("probe", "20125\n")},
	}
}

func put(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func shows(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Error(err)
	}
	return strings.TrimSpace(string(text))
}

func want(t *testing.T, r config.Rig, element, pump, when string) {
	t.Helper()
	if e, p := shows(t, r.Element.Relay.Line), shows(t, r.Pump.Relay.Line); e != element || p != pump {
		t.Errorf("%s element and pump show %s and %s, want %s and %s", when, e, p, element, pump)
	}
}

func open(r config.Rig) (*Kettle, error) {
	return Open(r, "/", "keep", slog.New(slog.DiscardHandler), os.Stderr)
}

func TestARealKettleIsTakenOffDrivenAndGivenBackOff(t *testing.T) {
	r := rig(t)
	k, err := open(r)
	if err != nil {
		t.Fatal(err)
	}
	want(t, r, "0", "0", "once it is ours")
	now, ok := k.Next()
	if reading := k.Latest(); !ok || now < 900*time.Millisecond || !reading.Good() || reading.Value != 20.125 || reading.Age(now) < 0 || reading.Age(now) > time.Second {
		t.Errorf("after the first tick at %v the reading is %+v", now, reading)
	}
	for what, l := range map[string]line.Line{"element": k.Element(), "pump": k.Pump()} {
		if err := l.Hold(unit.On, line.MaxLease); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
	want(t, r, "1", "1", "when held")
	if k.Element().Applied() != unit.On {
		t.Error("the element does not count as on")
	}
	if _, err := open(r); !errors.Is(err, line.ErrTaken) {
		t.Errorf("a second one is told %v", err)
	}
	want(t, r, "1", "1", "after a second one was refused")
	if err := k.Close(); err != nil {
		t.Error(err)
	}
	want(t, r, "0", "0", "when it is closed")
	if err := k.Close(); err != nil {
		t.Errorf("closed twice: %v", err)
	}
	again, err := open(r)
	if err != nil {
		t.Fatalf("when it was given back: %v", err)
	}
	if err := again.Close(); err != nil {
		t.Error(err)
	}
}

// A reading that was begun since the tick began must not come from its future.
func TestNoReadingComesFromAfterItsTick(t *testing.T) {
	k, err := open(rig(t))
	if err != nil {
		t.Fatal(err)
	}
	defer k.Close()
	if _, ok := k.Next(); !ok {
		t.Fatal("no tick")
	}
	k.now = time.Millisecond
	if r := k.Latest(); r.Taken > k.now || r.Fault != sensors.None {
		t.Errorf("the reading is %+v in a tick at %v", r, k.now)
	}
}

func TestWhatCannotBeDrivenIsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*config.Rig)
		says   string
		kind   error
	}{
		"a line that is not there": {func(r *config.Rig) { r.Element.Relay.Line += "-none" }, "the element (sysfs ", fs.ErrNotExist},
		"a pump that is not there": {func(r *config.Rig) { r.Pump.Relay.Line += "-none" }, "the pump (sysfs ", fs.ErrNotExist},
		"a line of a board that has none": {func(r *config.Rig) {
			r.Element.Relay = config.Relay{Driver: "gpio", Line: "no such line"}
		}, "the element (gpio no such line)", nil},
		"a probe not built yet": {func(r *config.Rig) { r.Probe.Driver = "max31865" }, "probe driver max31865 is not built yet", nil},
		"a probe of another chip": {func(r *config.Rig) {
			r.Probe = config.Probe{Driver: "w1", ID: "10-000802b4b7d6"}
		}, "is no DS18B20", nil},
		"a contactor that is not there": {func(r *config.Rig) {
			r.Contactor = config.Relay{Driver: "sysfs", Line: r.Pump.Relay.Line + "-none"}
		}, "the contactor (sysfs ", fs.ErrNotExist},
		"an emergency stop and a lamp": {func(r *config.Rig) {
			r.Inputs.Emergency, r.Signals.Lamp = "GPIO26", "GPIO16"
		}, `["inputs" "signals"] is declared`, nil},
	} {
		r := rig(t)
		c.change(&r)
		k, err := open(r)
		if err == nil {
			k.Close()
			t.Errorf("%s is taken", name)
			continue
		}
		if !strings.Contains(err.Error(), c.says) || c.kind != nil && !errors.Is(err, c.kind) {
			t.Errorf("%s: %v, want %q", name, err, c.says)
		}
	}
}

func TestFileOfLinesReadsBack(t *testing.T) {
	lines := Lines(rig(t), "/")
	if got := ParseLines(FormatLines(lines)); len(lines) != 2 || !reflect.DeepEqual(got, lines) {
		t.Errorf("%v becomes %v", lines, got)
	}
	if got := ParseLines("\n gpio  GPIO17 \r\n\nsysfs /a b\nmorse"); !reflect.DeepEqual(got, []Line{{"gpio", "GPIO17"}, {"sysfs", "/a b"}, {"morse", ""}}) {
		t.Errorf("%q", got)
	}
	if got := ParseLines(""); got != nil {
		t.Errorf("nothing becomes %v", got)
	}
}

// A daemon that has died reads no answers. To answer into a pipe that nobody
// reads ends a program, if it does not see to that; it would end with the line on.
func TestAKeeperOutlivesTheReaderOfItsAnswers(t *testing.T) {
	relay := rig(t).Element.Relay.Line
	keeper := exec.Command(os.Args[0], "keep", "sysfs", relay)
	in, err := keeper.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := keeper.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := keeper.Start(); err != nil {
		t.Fatal(err)
	}
	if first, err := bufio.NewReader(out).ReadString('\n'); err != nil || !strings.HasPrefix(first, "ready ") {
		t.Fatalf("it says %q, %v", first, err)
	}
	out.Close()
	for n := range 20 { // the answer to each is lost
		fmt.Fprintf(in, "on %d 0\n", n)
	}
	for began := time.Now(); shows(t, relay) != "1"; <-time.After(time.Millisecond) {
		if time.Since(began) > 10*time.Second {
			t.Fatal("the line does not go on")
		}
	}
	in.Close()
	if err := keeper.Wait(); err != nil {
		t.Errorf("it ends with %v", err)
	}
	if text := shows(t, relay); text != "0" {
		t.Errorf("the line shows %s at the end", text)
	}
}
