package rehearse

import (
	"bytes"
	"flag"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/fault"
)

var update = flag.Bool("update", false, "write golden files anew; commit only what you understand")

const samples = "../../../testdata"

// sample loads a profile and a rig of testdata and works out the day.
func sample(t testing.TB, profileName, rigName string) (profile.Profile, config.Rig, plan.Plan) {
	t.Helper()
	p, _, err := config.LoadProfile(filepath.Join(samples, "profiles", profileName))
	if err != nil {
		t.Fatal(err)
	}
	rig, _, err := config.LoadRig(filepath.Join(samples, "rigs", rigName))
	if err != nil {
		t.Fatal(err)
	}
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		t.Fatal(problems)
	}
	return p, rig, d
}

// asBuilt is the sample plant on a bench, with faults.
func asBuilt(t testing.TB, p profile.Profile, rig config.Rig, script fault.Script) *Simulated {
	t.Helper()
	params, _, err := config.LoadPlant(filepath.Join(samples, "plants", "yard-kettle-as-built.yaml"), rig.Plant())
	if err != nil {
		t.Fatal(err)
	}
	injector := fault.New(script, FromStart(p)...)
	return &Simulated{Bench: sim.NewBench(sim.New(params, config.Load(p), 1), injector, 1), Faults: injector}
}

// runSample rehearses the sample brew with faults and a watcher.
func runSample(t testing.TB, script fault.Script, watchers ...loop.Watcher) Result {
	t.Helper()
	p, rig, d := sample(t, "rye-four-rests.yaml", "yard-kettle.yaml")
	r := Run{Profile: p, Plan: d, Kettle: asBuilt(t, p, rig, script), Watchers: watchers}
	result, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	return result
}

// TestGoldenTraceOfTheSampleBrew holds the sample brew to a trace in testdata:
// one row a minute, rounded to what differs between machines. Behaviour lives
// in git as text; a change of it must be committed as such:
//
//	go test ./cmd/internal/rehearse -run Golden -update
func TestGoldenTraceOfTheSampleBrew(t *testing.T) {
	if runtime.GOARCH != "amd64" {
		t.Skip("the trace is of amd64: machines that fuse a multiplication with an addition come to other last digits, and pulses")
	}
	p, rig, d := sample(t, "rye-four-rests.yaml", "yard-kettle.yaml")
	var full bytes.Buffer
	r := Run{Profile: p, Plan: d, Kettle: asBuilt(t, p, rig, nil), Trace: NewTrace(&full)}
	if _, err := r.Go(); err != nil {
		t.Fatal(err)
	}
	got := minuteRows(t, full.String())
	path := filepath.Join(samples, "golden", "rye-four-rests.csv")
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	wantRows, gotRows := strings.Split(string(want), "\n"), strings.Split(got, "\n")
	for i := range min(len(wantRows), len(gotRows)) {
		if wantRows[i] != gotRows[i] {
			t.Fatalf("row %d is\n%s\nand was\n%s\nIf that is meant: go test ./cmd/internal/rehearse -run Golden -update", i, gotRows[i], wantRows[i])
		}
	}
	if len(wantRows) != len(gotRows) {
		t.Fatalf("%d rows, were %d", len(gotRows), len(wantRows))
	}
}

// minuteRows keeps a row a minute and a tenth of a kelvin: what is left is the
// same on machines that round differently.
func minuteRows(t *testing.T, trace string) string {
	t.Helper()
	var b strings.Builder
	for i, row := range strings.Split(strings.TrimSpace(trace), "\n") {
		if i == 0 {
			b.WriteString(row + "\n")
		} else if (i-1)%60 == 0 {
			cells := strings.Split(row, ",")
			for c := 3; c < 11; c++ {
				if dot := strings.IndexByte(cells[c], '.'); dot >= 0 {
					cells[c] = cells[c][:dot+2]
				}
			}
			// Pulses of single seconds are left out: they hang on the last digit.
			cells[11], cells[12], cells[14] = "", "", ""
			b.WriteString(strings.Join(cells, ",") + "\n")
		}
	}
	return b.String()
}

// TestTraceHasARowForEverySecond: the header of the contract, and a row a tick
// with the state at its end.
func TestTraceHasARowForEverySecond(t *testing.T) {
	p, rig, d := sample(t, "rye-four-rests.yaml", "yard-kettle.yaml")
	var full bytes.Buffer
	r := Run{Profile: p, Plan: d, Kettle: asBuilt(t, p, rig, nil), Trace: NewTrace(&full)}
	result, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	rows := strings.Split(strings.TrimSpace(full.String()), "\n")
	const header = "seconds,step,phase,wort_celsius,grain_celsius,mash_celsius,element_wort_celsius,probe_place_celsius,reading_celsius,estimate_celsius,target_celsius,duty_ratio,relay,pump,power_watts"
	if rows[0] != header {
		t.Fatalf("header is %s", rows[0])
	}
	if got := len(rows) - 1; math.Abs(float64(got)-result.Duration) > 1 {
		t.Errorf("%d rows for %.0f s", got, result.Duration)
	}
	for i, row := range rows[1:] {
		cells := strings.Split(row, ",")
		if len(cells) != 15 {
			t.Fatalf("row %d has %d cells: %s", i, len(cells), row)
		}
	}
}

// TestCongressProgrammeIsFollowed runs the EBC Congress programme (EBC Analytica
// 4.5.1: 45 °C for 30 min, 1 °C a minute to 70 °C, 60 min there) on a plant
// that can follow it: from the end of the first rest on, the true mash stays
// within 0.3 K of the programme, offset taken out.
func TestCongressProgrammeIsFollowed(t *testing.T) {
	p, rig, d := sample(t, "congress-45-70.yaml", "yard-kettle.yaml")
	r := Run{Profile: p, Plan: d, Kettle: asBuilt(t, p, rig, nil)}
	result, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	low, high := result.Steps[1], result.Steps[2]
	if math.Abs(low.Earned-1800) > 1 || math.Abs(high.Earned-3600) > 1 {
		t.Errorf("the rests earned %.0f and %.0f s; want 1800 and 3600", low.Earned, high.Earned)
	}
	begin := r.witness.judge.steps[2].start
	worst, at := 0.0, 0
	for second := begin - 900; second <= r.witness.judge.steps[2].end; second++ {
		since := float64(second - begin)
		programme := min(max(45, 45+since/60), 70)
		share := (programme - 45) / 25
		offset := *low.Offset + share*(*high.Offset-*low.Offset)
		if miss := math.Abs(r.witness.judge.at(second) - programme - offset); miss > worst {
			worst, at = miss, second-begin
		}
	}
	t.Logf("furthest from the programme: %.2f K, %d s after the ramp began", worst, at)
	if worst > 0.3 {
		t.Errorf("%.2f K from the programme %d s after the ramp began; want at most 0.3 K", worst, at)
	}
}

// TestRecordOfARehearsalReplays: what was recorded, fed through the core again,
// gives the same decisions; a tick takes at most 120 bytes.
func TestRecordOfARehearsalReplays(t *testing.T) {
	p, rig, d := sample(t, "rye-four-rests.yaml", "yard-kettle.yaml")
	r := Run{Profile: p, Plan: d, Kettle: asBuilt(t, p, rig, nil)}
	var memory record.Memory
	recorder, err := r.Record(&memory, record.Head{Simulated: true, Profile: p.Name})
	if err != nil {
		t.Fatal(err)
	}
	result, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	recorder.End()
	reader, err := record.Read(&memory)
	if err != nil {
		t.Fatal(err)
	}
	replayed, err := record.Replay(reader)
	if err != nil || replayed.Difference != nil {
		t.Fatalf("%v, %v", err, replayed.Difference)
	}
	if math.Abs(float64(replayed.Ticks)-result.Duration) > 2 {
		t.Errorf("%d ticks replayed of a batch of %.0f s", replayed.Ticks, result.Duration)
	}
	if perTick := float64(len(memory.Bytes)) / float64(replayed.Ticks); perTick > 120 {
		t.Errorf("%.0f bytes a tick; want at most 120", perTick)
	}
}

// TestPersonWhoTakesFiveMinutes: prompts answered late make the day longer, and
// the batch still ends complete.
func TestPersonWhoTakesFiveMinutes(t *testing.T) {
	p, rig, d := sample(t, "rye-four-rests.yaml", "yard-kettle.yaml")
	quick := runSample(t, nil)
	r := Run{Profile: p, Plan: d, Kettle: asBuilt(t, p, rig, nil), Delay: 5 * time.Minute}
	slow, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	if slow.Outcome != "complete" {
		t.Fatalf("%s (%s)", slow.Outcome, slow.Reason)
	}
	// Seven prompts: pour, grain in, lift, bag clear, drained, here, chiller.
	if more := slow.Duration - quick.Duration; more < 5*300 || more > 8*300 {
		t.Errorf("five minutes at each prompt made the day %.0f s longer; want about 7 times 300", more)
	}
}
