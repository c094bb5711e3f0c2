package rehearse

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sim"
	"mashward/sim/fault"
)

// onlooker keeps its own account of a day, without the judge: seconds are counted,
// energy is summed up from what the plant's element gives, temperatures are the
// plant's.
type onlooker struct {
	kettle  *Simulated
	armed   time.Duration
	begun   bool
	grainIn time.Duration
	highest [9]float64       // by step
	reached [9]time.Duration // by step; 0: not
	offset  [9]float64       // by step, of the place at the step's target
	seen    [9]bool
	joules  float64
	length  time.Duration
}

func (o *onlooker) Watch(f *loop.Frame) {
	d := &f.Decision
	for _, e := range d.Events[:d.Count] {
		if e.Kind == controller.BatchStarted {
			o.begun, o.armed = true, f.Tick.Now
		}
	}
	if !o.begun {
		return
	}
	p := o.kettle.Bench.Plant()
	o.length = f.Tick.Now - o.armed
	o.joules += float64(p.Truth().Power)
	i, mash := int(d.Index), float64(p.Mash())
	if i >= len(o.highest) || d.Stage == controller.Pour {
		return // the grain is on its way: neither strike nor mash
	}
	if !o.seen[i] {
		o.seen[i], o.highest[i] = true, math.Inf(-1)
		if d.Kind == profile.MashIn {
			o.grainIn = o.length
		}
		if d.HasTarget && d.Kind != profile.Boil {
			o.offset[i] = float64(sim.Offset(p, d.Target))
		}
	}
	o.highest[i] = max(o.highest[i], mash-o.offset[i])
	if d.HasTarget && o.reached[i] == 0 && math.Abs(mash-o.offset[i]-float64(d.Target)) <= 0.3 {
		o.reached[i] = o.length
	}
}

// expecting rehearses the promised sample with other expectations.
func expecting(t *testing.T, script fault.Script, all []profile.Expectation, watch func(*Simulated) loop.Watcher) Result {
	t.Helper()
	p, rig, d := sample(t, "wheat-promised.yaml", "yard-kettle.yaml")
	if all != nil {
		p.Expect = all
	}
	k := asBuilt(t, p, rig, script)
	r := Run{Profile: p, Plan: d, Kettle: k}
	if watch != nil {
		r.Watchers = append(r.Watchers, watch(k))
	}
	result, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	return result
}

// TestEachPromiseIsJudgedByTheTruth sets the bound of each promise a hair on the
// one side and on the other of what an onlooker without the judge has seen.
func TestEachPromiseIsJudgedByTheTruth(t *testing.T) {
	o := &onlooker{}
	plain := expecting(t, nil, []profile.Expectation{}, func(k *Simulated) loop.Watcher { o.kettle = k; return o })
	if plain.Outcome != "complete" || len(plain.Expectations) != 0 || !plain.Kept() {
		t.Fatalf("%s, %+v", plain.Outcome, plain.Expectations)
	}
	const hair, second, wattHour = 0.002, time.Second, 3600
	there, boil := o.reached[2]-o.grainIn, time.Hour
	pairs := [][2]profile.Expectation{ // kept, broken
		{{Promise: profile.NeverAbove, Step: 2, Temperature: unit.Celsius(o.highest[2] + hair)}, {Promise: profile.NeverAbove, Step: 2, Temperature: unit.Celsius(o.highest[2] - hair)}},
		{{Promise: profile.NeverAbove, Step: 1, Temperature: unit.Celsius(o.highest[1] + hair)}, {Promise: profile.NeverAbove, Step: 1, Temperature: unit.Celsius(o.highest[1] - hair)}},
		{{Promise: profile.ReachedWithin, Step: 2, Time: there + second}, {Promise: profile.ReachedWithin, Step: 2, Time: there - 2*second}},
		{{Promise: profile.CountedAtLeast, Step: 6, Time: boil}, {Promise: profile.CountedAtLeast, Step: 6, Time: boil + 2*second}},
		{{Promise: profile.StrikeAtMost, Temperature: unit.Celsius(o.highest[0] + hair)}, {Promise: profile.StrikeAtMost, Temperature: unit.Celsius(o.highest[0] - hair)}},
		{{Promise: profile.DoneWithin, Time: o.length}, {Promise: profile.DoneWithin, Time: o.length - second}},
		{{Promise: profile.EnergyAtMost, Energy: unit.Joules(o.joules + wattHour)}, {Promise: profile.EnergyAtMost, Energy: unit.Joules(o.joules - wattHour)}},
	}
	var all []profile.Expectation
	for _, p := range pairs {
		all = append(all, p[0], p[1])
	}
	got := expecting(t, nil, all, nil)
	if len(got.Expectations) != len(all) || got.Kept() || len(got.Broken()) != len(pairs) {
		t.Fatalf("%+v", got.Expectations)
	}
	for i, e := range got.Expectations {
		t.Logf("kept %v: %s", e.Kept, e)
		if e.Kept != (i%2 == 0) || e.Step != all[i].Step || e.Promise != all[i].Promise.String() {
			t.Errorf("%+v", e)
		}
		if n := count(e.PromisedCelsius, e.PromisedSeconds, e.PromisedJoules); n != 1 || count(e.WasCelsius, e.WasSeconds, e.WasJoules) != 1 {
			t.Errorf("%d bounds: %+v", n, e)
		}
	}
	// Without the broken ones the day is a good one.
	if only := expecting(t, nil, []profile.Expectation{pairs[0][0], pairs[6][0]}, nil); !only.Kept() {
		t.Errorf("%+v", only.Expectations)
	}
}

func count(all ...*float64) (n int) {
	for _, v := range all {
		if v != nil {
			n++
		}
	}
	return n
}

// TestTheSamplePromisesAreKeptAndAColdProbeBreaksOne: a probe that reads 3 K too
// low has the mash 3 K too hot, which no controller sees and the judge does.
func TestTheSamplePromisesAreKeptAndAColdProbeBreaksOne(t *testing.T) {
	if good := expecting(t, nil, nil, nil); !good.Kept() || len(good.Expectations) != 6 {
		t.Errorf("%+v", good.Expectations)
	}
	low := struck(fault.ProbeOffset, at63, 10*time.Minute)
	low.Kelvin = -3
	got := expecting(t, fault.Script{low}, nil, nil)
	if got.Outcome != "complete" || got.Kept() {
		t.Fatalf("%s, %+v", got.Outcome, got.Expectations)
	}
	broken := got.Broken()
	if len(broken) == 0 || broken[0].Promise != "never_above" || !(*broken[0].WasCelsius > 65 && *broken[0].WasCelsius < 67) {
		t.Errorf("%+v", broken)
	}
	var text bytes.Buffer
	_, _, d := sample(t, "wheat-promised.yaml", "yard-kettle.yaml")
	if err := Text(&text, d, got); err != nil {
		t.Fatal(err)
	}
	for _, words := range []string{"\nPromised\n  BROKEN  never above 64 °C in step 2 (rest at 63 °C): highest 6", "  kept    done within 5 h: took 3:"} {
		if !strings.Contains(text.String(), words) {
			t.Errorf("%q is not in\n%s", words, text.String())
		}
	}
}

// TestADayThatIsNotCompleteKeepsNothingItDidNotComeTo: the element is dead from
// the rest at 63 °C on, so that the batch is held there.
func TestADayThatIsNotCompleteKeepsNothingItDidNotComeTo(t *testing.T) {
	got := expecting(t, fault.Script{struck(fault.RelayOpen, at63, 0)}, []profile.Expectation{
		{Promise: profile.StrikeAtMost, Temperature: 60},
		{Promise: profile.NeverAbove, Step: 1, Temperature: 60},
		{Promise: profile.ReachedWithin, Step: 2, Time: 2 * time.Hour},
		{Promise: profile.NeverAbove, Step: 2, Temperature: 80},
		{Promise: profile.CountedAtLeast, Step: 2, Time: time.Second},
		{Promise: profile.NeverAbove, Step: 3, Temperature: 80},
		{Promise: profile.ReachedWithin, Step: 3, Time: 9 * time.Hour},
		{Promise: profile.CountedAtLeast, Step: 3, Time: time.Second},
		{Promise: profile.DoneWithin, Time: 9 * time.Hour},
		{Promise: profile.EnergyAtMost, Energy: 99 * 3.6e6},
	}, nil)
	if got.Outcome != "held" || got.Kept() {
		t.Fatalf("%s (%s)", got.Outcome, got.Reason)
	}
	for i, e := range got.Expectations {
		t.Log(e)
		if e.Kept != (i < 3) {
			t.Errorf("kept %v: %s", e.Kept, e)
		}
	}
}
