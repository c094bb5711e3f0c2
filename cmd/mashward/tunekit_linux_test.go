package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller/unit"
	"mashward/deploy/yardstick"
	"mashward/sensors"
	"mashward/sensors/ds18b20"
	"mashward/sensors/w1"
	"mashward/sim"
)

// A kettle of files for a water test. Lines, keepers and the bytes of the probe
// are as on a real one; what is not, is that a second lasts as long as a test
// wants: half an hour would else take half an hour. The element's file is read,
// the plant of the simulator lives for a second, and the probe's file is written.

const testedRig = `rig: Kettle of files
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K}
element: {power: 3000 W, relay: {driver: sysfs, line: /element, type: solid-state}}
pump: {relay: {driver: sysfs, line: /pump, type: mechanical}, in_boil: no}
probe: {driver: w1, id: 28-0000075a1c3f, place: outlet, covered_at: 9 L}
`

// withContactor is the same with a contactor in series with the element's relay.
const withContactor = testedRig + "contactor: {relay: {driver: sysfs, line: /contactor}}\n"

// madeOfFiles writes such a kettle into a folder.
func madeOfFiles(t *testing.T, rig string) (folder string) {
	t.Helper()
	folder = t.TempDir()
	for name, text := range map[string]string{
		"rig.yaml": rig, "element": "1\n", "pump": "1\n", "contactor": "1\n", // as a board may leave them
		"sys/bus/w1/devices/28-0000075a1c3f/w1_slave": slave(12), "kettle.tuning.yaml": asItWas,
	} {
		path := filepath.Join(folder, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return folder
}

const asItWas = "as it was\n"

// slave is what the kernel's driver shows of a DS18B20 at 12 bits.
func slave(t unit.Celsius) string {
	raw := int16(float64(t)*16 + 0.5)
	pad := []byte{byte(raw), byte(raw >> 8), 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10}
	pad = append(pad, ds18b20.Checksum(pad))
	return fmt.Sprintf("% x : crc=%02x YES\n% x t=%d\n", pad, pad[8], pad, int(raw)*1000/16)
}

// filed is the kettle in a folder, with a plant behind its files.
type filed struct {
	realKettle
	folder string
	plant  *sim.Plant
	probe  *w1.Source
	now    time.Duration
	heated int // seconds

	series     bool       // there is a contactor
	contactor  unit.Relay // in the last second
	powered    int        // seconds in which the element took power
	closedLate int        // times that the contactor closed on a relay that was on
	variant
}

// variant is what is other than in a good test.
type variant struct {
	change func(*tuneCall, *call)
	pace   func(heating bool) // before each second
	welded bool               // the contacts of the relay
	away   time.Duration      // for so long nobody is there, after some seconds of heat
}

// openFiled takes the lines of the rig, as the program does.
func openFiled(t *tuneCall, rig config.Rig, complaints io.Writer, v variant) (*filed, error) {
	k, err := t.openReal(rig, complaints)
	if err != nil {
		return nil, err
	}
	probe, err := w1.New(t.root, rig.Probe.ID)
	params := rig.Plant()
	params.Element.Power = truePower
	params.Probe.Noise, params.Probe.Step = 0.03, 0.0625
	return &filed{realKettle: k, folder: t.root, plant: sim.New(params, sim.Load{Water: 25}, 1), probe: probe, series: rig.Contactor.Present(), variant: v}, err
}

const truePower unit.Watts = 2800

// Next implements loop.Pacer.
func (f *filed) Next() (time.Duration, bool) {
	on := func(name string) unit.Relay {
		text, _ := os.ReadFile(filepath.Join(f.folder, name))
		return unit.RelayOf(strings.HasPrefix(string(text), "1"))
	}
	element := on("element")
	if f.pace != nil {
		f.pace(element == unit.On)
	}
	if element == unit.On {
		f.heated++
	}
	power := unit.RelayOf(f.welded || element == unit.On)
	if f.series {
		if power == unit.On && f.contactor == unit.Off && on("contactor") == unit.On && !f.welded {
			f.closedLate++
		}
		f.contactor = on("contactor")
		power = power.And(f.contactor)
	}
	f.powered += int(power)
	f.plant.Advance(power, on("pump"))
	f.now += time.Second
	if f.heated == 30 {
		f.now += f.away
		f.away = 0
	}
	_ = os.WriteFile(filepath.Join(f.folder, "sys/bus/w1/devices/28-0000075a1c3f/w1_slave"), []byte(slave(f.plant.Reading())), 0o644)
	return f.now, true
}

// Latest implements sensors.Probe.
func (f *filed) Latest() sensors.Reading {
	value, fault := f.probe.Read()
	return sensors.Reading{Value: value, Taken: f.now, Fault: fault}
}

// tested is a call of tune on a kettle of files, by a person at a terminal.
type tested struct {
	t      *testing.T
	folder string
	typist *yardstick.Typist
	kettle *filed // once it is taken
	ended  chan int
	out    strings.Builder
}

// beginTest begins one in this process.
func beginTest(t *testing.T, folder string, v variant) *tested {
	t.Helper()
	outer, inner := yardstick.PseudoTerminal(t)
	x := &tested{t: t, folder: folder, typist: yardstick.NewTypist(t, outer), ended: make(chan int, 1)}
	c := &call{in: inner, out: &x.out, err: inner}
	call := &tuneCall{
		rig: filepath.Join(folder, "rig.yaml"), out: filepath.Join(folder, "kettle.tuning.yaml"), state: filepath.Join(folder, "state"), root: folder,
		format: "text", now: time.Now,
	}
	call.open = func(rig config.Rig, complaints io.Writer) (realKettle, error) {
		k, err := openFiled(call, rig, complaints, v)
		if err != nil {
			return nil, err
		}
		x.kettle = k
		return k, nil
	}
	if v.change != nil {
		v.change(call, c)
	}
	go func() {
		code := exitCode(call.run(c), c.err)
		inner.Close() // and so all that was said can be read
		x.ended <- code
	}()
	return x
}

// answers types what is asked for, in order.
func answers(y *yardstick.Typist, all ...string) {
	questions := []string{"litres of cold water:", "if it is so:", "if it is so:", "if it is so:", "if it is so:", "Type heat if it is so:"}
	for i, answer := range all {
		y.Sees(questions[i], 10*time.Second)
		y.Types(answer)
	}
}

// armed are all answers that heat.
var armed = []string{"25\n", "yes\n", "yes\n", "yes\n", "yes\n", "heat\n"}

// ends waits for the end and wants an exit code.
func (x *tested) ends(code int) {
	x.t.Helper()
	patience := time.NewTimer(time.Minute)
	defer patience.Stop()
	select {
	case got := <-x.ended:
		if got != code {
			x.t.Errorf("exit code %d, not %d\n%s%s", got, code, x.typist.Ends(), x.out.String())
		}
	case <-patience.C:
		x.t.Fatalf("it does not end\n%s", x.typist.All())
	}
}

// off wants the lines off and the tuning as it was.
func (x *tested) off() {
	x.t.Helper()
	for name, want := range map[string]string{"element": "0", "pump": "0", "kettle.tuning.yaml": strings.TrimSpace(asItWas)} {
		if got := contents(x.t, x.folder, name); strings.TrimSpace(got) != want {
			x.t.Errorf("%s shows %q, want %q", name, got, want)
		}
	}
}

func contents(t *testing.T, folder, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(folder, name))
	if err != nil {
		t.Error(err)
	}
	return string(text)
}
