package house

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The scenarios look at the program from outside: arguments in; output, files
// and exit code out.

func TestScenarioTheDemoInAPipe(t *testing.T) {
	a := build(t).must(0, "demo", "--speed", "0")
	lines := strings.Split(strings.TrimSuffix(a.out, "\n"), "\n")
	for _, line := range lines {
		if !strings.Contains(line, "simulated") {
			t.Errorf("a line does not say that it is simulated: %q", line)
		}
		if strings.ContainsAny(line, "\x1b\r") {
			t.Errorf("a line in a pipe has control characters: %q", line)
		}
	}
	for _, step := range []string{"strike", "mash-in", "rest", "mash-out", "lift", "boil", "chill"} {
		if !strings.Contains(a.out, step) {
			t.Errorf("the demo does not show %s", step)
		}
	}
	if a.err != "" {
		t.Errorf("the demo complains: %s", a.err)
	}
}

// days are the sample profiles with a kettle that can carry them.
var days = [][2]string{
	{"profiles/rye-four-rests.yaml", "rigs/yard-kettle.yaml"},
	{"profiles/one-rest.yaml", "rigs/yard-kettle.yaml"},
	{"profiles/congress-45-70.yaml", "rigs/yard-kettle.yaml"},
	{"profiles/water-only.yaml", "rigs/yard-kettle.yaml"},
	{"profiles/wheat-promised.yaml", "rigs/yard-kettle.yaml"},
	{"profiles/small-batch.yaml", "rigs/small-pot.yaml"},
}

func TestScenarioEverySampleIsCheckedPlannedAndRehearsed(t *testing.T) {
	p := build(t)
	for _, d := range days {
		profile, rig := sample(t, d[0]), sample(t, d[1])
		p.must(0, "check", "--rig", rig, profile)
		if a := p.must(0, "plan", "--rig", rig, profile); strings.Count(a.out, "\n") < 5 {
			t.Errorf("the plan of %s is thin:\n%s", d[0], a.out)
		}
		var plan struct {
			Steps  []any   `json:"steps"`
			Finish float64 `json:"finish_seconds"`
			Energy float64 `json:"energy_joules"`
		}
		p.decode(&plan, "plan", "--rig", rig, "--format", "json", profile)
		run := p.rehearse("--rig", rig, profile)
		if run.Outcome != "complete" || !run.Simulated {
			t.Errorf("%s ends %s (%s)", d[0], run.Outcome, run.Reason)
		}
		if len(plan.Steps) != len(run.Steps) {
			t.Errorf("%s: %d steps planned, %d rehearsed", d[0], len(plan.Steps), len(run.Steps))
		}
		// The plant is built from the rig here: what was planned comes about.
		if math.Abs(run.Duration-plan.Finish) > 0.15*plan.Finish {
			t.Errorf("%s: planned to take %.0f s, took %.0f s", d[0], plan.Finish, run.Duration)
		}
		if math.Abs(run.Energy-plan.Energy) > 0.2*plan.Energy {
			t.Errorf("%s: planned with %.0f J, used %.0f J", d[0], plan.Energy, run.Energy)
		}
	}
}

// rehearsal is the part of a dryrun's summary that the scenarios look at.
type rehearsal struct {
	Outcome   string  `json:"outcome"`
	Reason    string  `json:"reason"`
	Simulated bool    `json:"simulated"`
	Duration  float64 `json:"duration_seconds"`
	Energy    float64 `json:"energy_joules"`
	Switches  int     `json:"element_switches"`
	Steps     []struct {
		Kind   string   `json:"kind"`
		Index  int      `json:"index"`
		Target *float64 `json:"target_celsius"`
		Start  float64  `json:"start_seconds"`
		Worst  *float64 `json:"hold_worst_kelvin"`
	} `json:"steps"`
	Trips []struct {
		ID string  `json:"id"`
		At float64 `json:"at_seconds"`
	} `json:"trips"`
	Cuts []struct {
		ID string  `json:"id"`
		At float64 `json:"at_seconds"`
	} `json:"cuts"`
}

// decode runs the program and reads its JSON; unknown fields may come.
func (p program) decode(to any, args ...string) {
	p.t.Helper()
	a := p.must(0, args...)
	if err := json.Unmarshal([]byte(a.out), to); err != nil {
		p.t.Fatalf("mashward %s: %v", strings.Join(args, " "), err)
	}
}

func (p program) rehearse(args ...string) (r rehearsal) {
	p.t.Helper()
	a := p.run(append([]string{"dryrun", "--format", "json"}, args...)...)
	if err := json.Unmarshal([]byte(a.out), &r); err != nil {
		p.t.Fatalf("dryrun %s: %v\n%s", strings.Join(args, " "), err, a.err)
	}
	if want := map[bool]int{true: 0, false: 1}[r.Outcome == "complete"]; a.code != want {
		p.t.Errorf("dryrun %s: %s, and exit code %d", strings.Join(args, " "), r.Outcome, a.code)
	}
	return r
}

const traceHeader = "seconds,step,phase,wort_celsius,grain_celsius,mash_celsius,element_wort_celsius,probe_place_celsius," +
	"reading_celsius,estimate_celsius,target_celsius,duty_ratio,relay,pump,power_watts"

// The trace is judged against the summary: two ways to the same figures.
func TestScenarioTheTraceBearsOutTheSummary(t *testing.T) {
	p := build(t)
	run := p.rehearse("--rig", sample(t, days[0][1]), "--plant", sample(t, "plants/yard-kettle-as-built.yaml"), "--trace", "day.csv", sample(t, days[0][0]))
	text, err := os.ReadFile(filepath.Join(p.folder, "day.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if header, _, _ := strings.Cut(string(text), "\n"); header != traceHeader {
		t.Errorf("the header of the trace is\n%s", header)
	}
	rows, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := func(name string) int { return slices.Index(rows[0], name) }
	var energy, hottest float64
	closings, before := 0, "0"
	for _, row := range rows[1:] {
		energy += number(t, row[column("power_watts")])
		hottest = max(hottest, number(t, row[column("mash_celsius")]))
		if relay := row[column("relay")]; relay != before {
			before = relay
			if relay == "1" {
				closings++
			}
		}
	}
	if n := float64(len(rows) - 1); math.Abs(n-run.Duration) > 2 {
		t.Errorf("%.0f rows for %.0f s", n, run.Duration)
	}
	if math.Abs(energy-run.Energy) > 0.001*run.Energy {
		t.Errorf("the trace has %.0f J, the summary %.0f J", energy, run.Energy)
	}
	if closings != run.Switches {
		t.Errorf("the relay closes %d times in the trace, %d times in the summary", closings, run.Switches)
	}
	if hottest < 97 || hottest > 101 {
		t.Errorf("the hottest wort of a day that boils at 340 m is %.2f °C", hottest)
	}
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestScenarioOneSeedOneDay(t *testing.T) {
	p := build(t)
	trace := func(name, seed string) string {
		p.must(0, "dryrun", "--rig", sample(t, days[0][1]), "--seed", seed, "--trace", name, sample(t, days[0][0]))
		text, err := os.ReadFile(filepath.Join(p.folder, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	first, again, other := trace("a.csv", "7"), trace("b.csv", "7"), trace("c.csv", "8")
	if first != again {
		t.Error("one seed gave two days")
	}
	if first == other {
		t.Error("two seeds gave one day: the seed does nothing")
	}
}

// What protects is in force in a rehearsal as on a kettle.
func TestScenarioFaultsEndAsTheyMust(t *testing.T) {
	p := build(t)
	cases := []struct{ name, script, id, outcome string }{
		{"probe gone for a moment", "{at: 60 min, fault: probe-open, for: 20 s}", "stale", "complete"},
		{"no reading for good", "{at: 60 min, fault: probe-open}", "stale", "held"},
		{"relay welded in a rest", "{at: {step: 2, after: 5 min}, fault: relay-welded}", "heating-while-off", "held"},
		{"a late tick", "{at: 60 min, fault: tick-late}", "tick-late", "complete"},
		{"power cut", "{at: 60 min, fault: power-cut}", "", "held"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p := p.in(t)
			script := p.write("faults.yaml", "faults:\n  - "+c.script+"\n")
			r := p.rehearse("--rig", sample(t, days[0][1]), "--faults", script, sample(t, days[0][0]))
			if r.Outcome != c.outcome {
				t.Errorf("it ends %s (%s), not %s", r.Outcome, r.Reason, c.outcome)
			}
			var ids []string
			for _, e := range append(r.Trips, r.Cuts...) {
				ids = append(ids, e.ID)
			}
			if c.id != "" && !slices.Contains(ids, c.id) {
				t.Errorf("no %s among %q", c.id, ids)
			}
		})
	}
}

// Exit codes follow BSD's sysexits.h.
func TestScenarioExitCodes(t *testing.T) {
	p := build(t)
	rig, profile := sample(t, days[0][1]), sample(t, days[0][0])
	stopped := p.write("stopped.yaml", "faults:\n  - {at: 30 min, fault: probe-open}\n")
	noProfile := p.write("profile.yaml", "profile: Half\nwater: 63\n")
	noRig := p.write("rig.yaml", "rig: Half\n")
	cases := []struct {
		code int
		args []string
	}{
		{0, []string{"help"}},
		{0, []string{"version"}},
		{0, []string{"dryrun", "--help"}},
		{0, []string{"dryrun", "--rig", rig, profile}},
		{0, []string{"dryrun", profile, "--rig", rig}},
		{1, []string{"dryrun", "--rig", rig, "--faults", stopped, profile}},
		{64, nil},
		{64, []string{"brew"}},
		{64, []string{"dryrun", profile}},
		{64, []string{"dryrun", "--rig", rig}},
		{64, []string{"dryrun", "--rig", rig, profile, profile}},
		{64, []string{"dryrun", "--rig", rig, "--sped", "3", profile}},
		{64, []string{"dryrun", "--rig", rig, "--format", "xml", profile}},
		{64, []string{"dryrun", "--rig", rig, "--seed", "x", profile}},
		{64, []string{"dryrun", "--rig", rig, "--spread", "1001", profile}},
		{64, []string{"demo", profile}},
		{64, []string{"serve", "--rig", rig, "--speed", "2"}},
		{64, []string{"element-off"}},
		{64, []string{"serve", "--rig", rig, "--simulate", "--listen", "0.0.0.0:0"}},
		{64, []string{"tune", "--rig", rig}},
		{64, []string{"check"}},
		{64, []string{"record"}},
		{65, []string{"plan", "--rig", rig, noProfile}},
		{65, []string{"dryrun", "--rig", rig, "--plant", noProfile, profile}},
		{65, []string{"dryrun", "--rig", rig, "--faults", noProfile, profile}},
		{65, []string{"dryrun", "--rig", sample(t, "rigs/small-pot.yaml"), profile}},
		{65, []string{"check", noProfile}},
		{66, []string{"plan", "--rig", rig, "nowhere.yaml"}},
		{66, []string{"plan", "--rig", "nowhere.yaml", profile}},
		{66, []string{"dryrun", "--rig", rig, "--plant", "nowhere.yaml", profile}},
		{66, []string{"dryrun", "--rig", rig, "--faults", "nowhere.yaml", profile}},
		{66, []string{"dryrun", "--rig", rig, "--tuning", "nowhere.yaml", profile}},
		{66, []string{"record", "show", "nowhere.batch"}},
		{69, []string{"dryrun", "--rig", rig, "--plant", "unix:nowhere", profile}},
		{69, []string{"tune", "--rig", rig, "--plant", "unix:nowhere", "--out", "t.yaml"}},
		{69, []string{"serve", "--rig", rig, "--listen", "127.0.0.1:0"}},
		{78, []string{"plan", "--rig", noRig, profile}},
		{78, []string{"dryrun", "--rig", noRig, profile}},
		{78, []string{"dryrun", "--rig", sample(t, "bad/rig-loosened-limit.yaml"), profile}},
	}
	for _, c := range cases {
		a := p.must(c.code, c.args...)
		if c.code >= 64 && len(c.args) > 0 && a.err == "" {
			t.Errorf("mashward %s says nothing about what is wrong", strings.Join(c.args, " "))
		}
		if c.code >= 64 && len(c.args) > 0 && a.out != "" && c.args[0] == "dryrun" {
			t.Errorf("mashward %s prints a result all the same: %s", strings.Join(c.args, " "), a.out)
		}
	}
}

func TestScenarioARehearsalIsRecordedShownExportedAndReplayed(t *testing.T) {
	p := build(t)
	p.must(0, "dryrun", "--rig", sample(t, days[0][1]), "--record", "day.batch", sample(t, days[0][0]))
	if a := p.must(0, "record", "list", "."); !strings.Contains(a.out, "complete") || !strings.Contains(a.out, "simulated") {
		t.Errorf("the list says %q", a.out)
	}
	if a := p.must(0, "record", "show", "day.batch"); !strings.Contains(a.out, "simulated") {
		t.Errorf("the record does not say that it is simulated:\n%s", a.out)
	}
	rows, err := csv.NewReader(strings.NewReader(p.must(0, "record", "export", "day.batch").out)).ReadAll()
	if err != nil || len(rows) < 3*3600 {
		t.Errorf("%d rows exported: %v", len(rows), err)
	}
	p.must(0, "record", "replay", "day.batch")

	// Half of it is still a record; a byte turned over is noticed.
	whole, err := os.ReadFile(filepath.Join(p.folder, "day.batch"))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("the record has %.1f bytes a tick", float64(len(whole))/float64(len(rows)-1))
	p.write("half.batch", string(whole[:len(whole)/2]))
	p.must(0, "record", "replay", "half.batch")
	whole[len(whole)/2] ^= 1
	p.write("turned.batch", string(whole))
	if a := p.run("record", "show", "turned.batch"); !strings.Contains(a.out+a.err, "damage") {
		t.Errorf("a damaged record is not called so (exit code %d):\n%s%s", a.code, a.out, a.err)
	}
}

// The goal of the simulator: 10,000 x real time with record, over a day of
// eight hours, the start of the process included.
func TestScenarioADayOfEightHoursTakesSeconds(t *testing.T) {
	p := build(t)
	profile := p.write("long.yaml", `profile: Eight hours
water: 26 L
grain: {mass: 4.6 kg, temperature: 18 °C}
steps:
  - {mash-in: 44 °C, for: 2 h}
  - {rest: 63 °C, for: 150 min}
  - {rest: 71 °C, for: 1 h}
  - {mash-out: 77 °C, for: 10 min}
  - lift
  - {boil: 75 min}
  - {chill: 18 °C}
`)
	for _, extra := range [][]string{nil, {"--record", "long.batch"}} {
		began := time.Now()
		r := p.rehearse(append([]string{"--rig", sample(t, days[0][1]), profile}, extra...)...)
		took := time.Since(began).Seconds()
		speed := r.Duration / took
		t.Logf("%.0f s simulated in %.2f s: %.0f x real time %s", r.Duration, took, speed, strings.Join(extra, " "))
		if r.Duration < 8*3600 || speed < 10_000 {
			t.Errorf("%.0f s at %.0f x real time: below 8 h or 10,000 x", r.Duration, speed)
		}
	}
}
