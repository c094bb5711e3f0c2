package sim

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os/exec"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/deploy/yardstick"
	"mashward/profile/heat"
)

// run is a stretch of seconds over which all inputs are held.
type run struct {
	Event    string `json:"event"`
	Seconds  int    `json:"seconds"`
	Element  int    `json:"element"`
	Pump     int    `json:"pump"`
	Stirring bool   `json:"stirring"`
	LidOff   bool   `json:"lid_off"`
	Chiller  bool   `json:"chiller"`
}

type caseFile struct {
	Figures map[string]any     `json:"figures"`
	Load    map[string]float64 `json:"load"`
	Begin   float64            `json:"begin"`
	Runs    []run              `json:"runs"`
}

func figures(p Params) map[string]any {
	return map[string]any{
		"power": float64(p.Element.Power), "sheath_capacity": float64(p.Element.Capacity), "transfer": float64(p.Element.Transfer),
		"wall_capacity": float64(p.Vessel.Capacity), "wall_transfer": float64(p.Vessel.Transfer),
		"lid_on": float64(p.Loss.LidOn), "lid_off": float64(p.Loss.LidOff),
		"vapour_on": float64(p.Evaporation.LidOn), "vapour_off": float64(p.Evaporation.LidOff),
		"flow": float64(p.Circulation.Flow), "bed_transfer": float64(p.Circulation.BedTransfer),
		"outside": float64(p.Circulation.OutsideBed), "delay": p.Circulation.Delay.Seconds(), "pipe_loss": float64(p.Circulation.PipeLoss),
		"place": p.Probe.Place.String(), "lag": p.Probe.Lag.Seconds(), "conversion": p.Probe.Conversion.Seconds(),
		"slaking": float64(p.Grain.Slaking), "retention": float64(p.Grain.Retention),
		"chiller": float64(p.Chiller.Transfer), "chiller_water": float64(p.Chiller.Water),
		"room": float64(p.Site.Room), "altitude": float64(p.Site.Altitude),
	}
}

// daySchedule drives a plant through a brew day with a coarse thermostat and
// writes down what was held for how long, and the nodes after each stretch.
type daySchedule struct {
	p     *Plant
	runs  []run
	nodes [][]float64
}

// stretch holds inputs until the next change; it is cut where stirring ends.
func (d *daySchedule) stretch(event Kind, element, pump unit.Relay, seconds int) {
	d.p.Do(Event{Kind: event})
	for seconds > 0 {
		part := seconds
		if d.p.stir > 0 {
			part = min(part, d.p.stir)
		}
		d.runs = append(d.runs, run{event.String(), part, int(element), int(pump), d.p.stir > 0, d.p.lidOff, d.p.chiller})
		for range part {
			d.p.Advance(element, pump)
		}
		d.nodes = append(d.nodes, append(append([]float64(nil), d.p.x[:nodeMass]...), d.p.x[nodeMass]))
		seconds -= part
		event = None
	}
}

// rest keeps the outlet near a temperature by pulses of 4 s in every 20.
func (d *daySchedule) rest(at unit.Celsius, seconds int) {
	for gone := 0; gone < seconds; gone += 20 {
		if d.p.Truth().ElementWort < at {
			d.stretch(None, unit.On, unit.On, 4)
			d.stretch(None, unit.Off, unit.On, 16)
		} else {
			d.stretch(None, unit.Off, unit.On, 20)
		}
	}
}

// heatTo keeps full power on, looking once a minute.
func (d *daySchedule) heatTo(at unit.Celsius) {
	for d.p.Truth().ElementWort < at {
		d.stretch(None, unit.On, unit.On, 60)
	}
}

func (d *daySchedule) mash() {
	d.heatTo(68)
	d.rest(68, 300)
	d.stretch(GrainIn, unit.Off, unit.Off, 300)
	d.rest(63, 1200)
	d.heatTo(71)
	d.rest(71, 1200)
	d.heatTo(77)
	d.rest(77, 300)
}

func (d *daySchedule) boilAndChill() {
	d.stretch(Lift, unit.Off, unit.Off, 60)
	d.stretch(LidOff, unit.On, unit.Off, 3600)
	d.stretch(ChillerOn, unit.Off, unit.On, 1800)
}

// python3 with SciPy is the yardstick; CI has it, a brewer need not.
func scipy(t *testing.T) string {
	t.Helper()
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import scipy.integrate, numpy").Run(); err != nil {
		yardstick.Missing(t, fmt.Sprintf("%s cannot import scipy and numpy (%v): install python3-scipy to run this check", python, err))
	}
	return python
}

// TestThePlantAgreesWithSciPyOverAWholeBrewDay holds every node against
// scipy.integrate.solve_ivp (LSODA, rtol 1e-10) on the same physics written
// down a second time in another language and another form.
func TestThePlantAgreesWithSciPyOverAWholeBrewDay(t *testing.T) {
	python := scipy(t)
	par, load := yard()
	par.Grain.Slaking = 10000
	small, smallLoad := DefaultsFor(1500, 15), Load{Water: 11, Grain: 2.2, GrainTemperature: 22, Moisture: 0.05}
	small.Circulation.Flow = 0.06
	small.Circulation.Delay = 2 * time.Second
	small.Site.Altitude = 1200
	for _, c := range []struct {
		name string
		par  Params
		load Load
		at   Place
	}{
		{"yard, probe at the outlet", par, load, Outlet},
		{"small, probe in the return", small, smallLoad, Return},
		{"small, probe in the bed", small, smallLoad, Bed},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.par.Probe.Place = c.at
			compareDay(t, python, c.par, c.load)
		})
	}
}

func compareDay(t *testing.T, python string, par Params, load Load) {
	d := &daySchedule{p: New(par, load, 1)}
	d.p.Warm(55)
	d.mash()
	mashRuns := len(d.runs)
	d.boilAndChill()
	want := solve(t, python, caseFile{
		Figures: figures(par), Begin: 55, Runs: d.runs,
		Load: map[string]float64{
			"water": float64(load.Water), "grain": float64(load.Grain),
			"grain_temperature": float64(load.GrainTemperature), "specific": heat.GrainHeat(load.Moisture),
		},
	})
	if len(want) != len(d.nodes) {
		t.Fatalf("%d rows came back for %d runs", len(want), len(d.nodes))
	}
	worst, worstNode, worstRun, worstMass := 0.0, 0, 0, 0.0
	for i, row := range want {
		for n := range nodeMass {
			if off := math.Abs(row[n] - d.nodes[i][n]); !(off <= worst) {
				worst, worstNode, worstRun = off, n, i
			}
		}
		worstMass = max(worstMass, math.Abs(row[nodeMass]-d.nodes[i][nodeMass]))
	}
	t.Logf("%d stretches (mash %d): worst node off by %.3g mK (node %d after stretch %d %+v), mass by %.3g g",
		len(want), mashRuns, worst*1000, worstNode, worstRun, d.runs[worstRun], worstMass*1000)
	if !(worst <= 0.002) {
		t.Errorf("node %d is %.4g K off SciPy after stretch %d, allowed 2 mK", worstNode, worst, worstRun)
	}
	if !(worstMass <= 0.001) {
		t.Errorf("the wort's mass is %.4g kg off SciPy, allowed 1 g", worstMass)
	}
}

func solve(t *testing.T, python string, c caseFile) [][]float64 {
	t.Helper()
	text, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "../deploy/reference/kettle.py")
	cmd.Stdin = bytes.NewReader(text)
	var complaint bytes.Buffer
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("the reference failed: %v\n%s", err, complaint.String())
	}
	var rows [][]float64
	if err := json.Unmarshal(out, &rows); err != nil {
		t.Fatal(err)
	}
	return rows
}
