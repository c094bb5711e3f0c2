package rehearse

import (
	"bytes"
	"flag"
	"math"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
)

var spreadDays = flag.Int("spread-days", 12, "days of the spread that is held against single days")

// shortDay is a mash of 20 min with some promises, and what makes a day of it.
func shortDay(t testing.TB, all ...profile.Expectation) (u Unsure, day func(seed uint64) Run) {
	t.Helper()
	_, rig, _ := sample(t, "wheat-promised.yaml", "yard-kettle.yaml")
	p := profile.Profile{
		Name: "Short", Water: 24, Grain: profile.Grain{Mass: 4.2, Temperature: 18, Moisture: 0.04},
		Steps: []profile.Step{
			{Kind: profile.MashIn, Target: 60, For: 10 * time.Minute, Floor: 1},
			{Kind: profile.Rest, Target: 63, For: 10 * time.Minute, Floor: 1},
		},
		Expect: all,
	}
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		t.Fatal(problems)
	}
	u = Unsure{Plant: rig.Plant(), Load: config.Load(p), Delay: 2 * time.Minute}
	return u, func(seed uint64) Run {
		drawn := u.Draw(seed)
		run := On(rig, p, d, drawn.Kettle(p, nil, seed))
		run.Delay = drawn.Delay
		return run
	}
}

// TestASpreadIsItsDays runs days one by one, each seen by an onlooker, and holds
// the spread to what they were: which seeds broke a promise whose bound lies among
// them, quantiles, and equal sums on one processor and on all.
func TestASpreadIsItsDays(t *testing.T) {
	const from = 100
	_, plain := shortDay(t)
	lengths, tops := map[uint64]float64{}, map[uint64]float64{}
	var sorted []float64
	for seed := uint64(from); seed < from+uint64(*spreadDays); seed++ {
		run := plain(seed)
		o := &onlooker{kettle: run.Kettle.(*Simulated)}
		run.Watchers = append(run.Watchers, o)
		if result, err := run.Go(); err != nil || result.Outcome != "complete" {
			t.Fatal(seed, result.Outcome, err)
		}
		lengths[seed], tops[seed] = o.length.Seconds(), o.highest[2]
		sorted = append(sorted, o.length.Seconds())
	}
	slices.Sort(sorted)
	length := time.Duration(sorted[len(sorted)/2]) * time.Second
	promises := []profile.Expectation{
		{Promise: profile.DoneWithin, Time: length},
		{Promise: profile.NeverAbove, Step: 2, Temperature: 63.2},
		{Promise: profile.EnergyAtMost, Energy: 99 * 3.6e6},
	}
	_, day := shortDay(t, promises...)
	got, err := Many(*spreadDays, from, day)
	if err != nil {
		t.Fatal(err)
	}
	kept := *spreadDays
	for seed := range lengths {
		late, hot := lengths[seed] > length.Seconds(), tops[seed] > 63.2
		if slices.Contains(got.Expectations[0].Broken, seed) != late || slices.Contains(got.Expectations[1].Broken, seed) != hot {
			t.Errorf("seed %d: %.0f s, highest %.3f °C; the spread has %v and %v", seed, lengths[seed], tops[seed], got.Expectations[0].Broken, got.Expectations[1].Broken)
		}
		if late || hot {
			kept--
		}
	}
	if n := len(got.Expectations[0].Broken); n == 0 || n == *spreadDays || len(got.Expectations[1].Broken) == 0 {
		t.Errorf("nothing is shown by %d late and %d hot days", n, len(got.Expectations[1].Broken))
	}
	if got.Kept != kept || got.AllKept() || got.Complete != *spreadDays || got.Expectations[2].Kept != *spreadDays {
		t.Errorf("kept %d, want %d: %+v", got.Kept, kept, got)
	}
	if r := got.Duration; r.Low < sorted[0] || r.High > sorted[len(sorted)-1] || r.Median < r.Low || r.Median > r.High {
		t.Errorf("%+v of %v", r, sorted)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if one, err := Many(4, from, day); err != nil || !reflect.DeepEqual(one, spreadOfFirst(t, day, from, 4)) {
		t.Errorf("on one processor: %+v, %v", one, err)
	}
}

// spreadOfFirst sums days up that were run one after the other.
func spreadOfFirst(t *testing.T, day func(uint64) Run, from uint64, n int) Spread {
	t.Helper()
	var results []Result
	for i := range n {
		run := day(from + uint64(i))
		run.Brief = true
		r, err := run.Go()
		if err != nil {
			t.Fatal(err)
		}
		results = append(results, r)
	}
	return spreadOf(from, results)
}

// TestQuantilesLieBetweenTheirNeighbours: worked out by hand by definition 7 of
// Hyndman and Fan, "Sample quantiles in statistical packages" (1996).
func TestQuantilesLieBetweenTheirNeighbours(t *testing.T) {
	for _, c := range []struct {
		all  []float64
		want Range
	}{
		{[]float64{10, 1, 3, 4, 2}, Range{1.2, 3, 8.8}},
		{[]float64{7}, Range{7, 7, 7}},
		{[]float64{2, 1}, Range{1.05, 1.5, 1.95}},
	} {
		got := rangeOf(c.all)
		if math.Abs(got.Low-c.want.Low)+math.Abs(got.Median-c.want.Median)+math.Abs(got.High-c.want.High) > 1e-12 {
			t.Errorf("%v: %+v, want %+v", c.all, got, c.want)
		}
	}
	if rangeOf(nil) != nil {
		t.Error("a range of nothing")
	}
}

// TestASpreadOfBadDaysSaysSo: days that are not complete keep no promise about the
// day, and are named with their reason.
func TestASpreadOfBadDaysSaysSo(t *testing.T) {
	good := Result{Outcome: "complete", Duration: 100, Expectations: []Expectation{{Promise: "done_within", Words: "done within 1 h", Kept: true}}}
	bad := Result{Outcome: "held", Reason: "probe lost", Duration: 9, Trips: []Instant{{ID: "stale"}}, Expectations: []Expectation{{Promise: "done_within", Words: "done within 1 h"}}}
	s := spreadOf(40, []Result{good, bad, good})
	if s.Complete != 2 || s.Kept != 2 || s.AllKept() || s.Cut != 1 || len(s.Incomplete) != 1 || s.Incomplete[0] != (Ending{41, "held", "probe lost"}) {
		t.Errorf("%+v", s)
	}
	if s.Duration.High != 100 || s.Duration.Low != 100 {
		t.Errorf("the length of a day that was not complete counts: %+v", s.Duration)
	}
	var text bytes.Buffer
	if err := SpreadText(&text, "Short", Unsure{Delay: time.Minute}, s); err != nil {
		t.Fatal(err)
	}
	for _, words := range []string{
		"2 of 3 were complete; heat was cut in 1.\n  seed 41: held (probe lost)\n", "kept in 2 of 3  done within 1 h\n    BROKEN by seed 41\n",
		"--spread 1 --seed 41", "answered after up to 1 min",
	} {
		if !strings.Contains(text.String(), words) {
			t.Errorf("%q is not in\n%s", words, text.String())
		}
	}
}

// TestWhenIsJudgedApartFromWhatTheProbeReadsWrong: with a probe that reads 0.4 K too
// high the mash never is within 0.3 K of its target, and it is there in time.
func TestWhenIsJudgedApartFromWhatTheProbeReadsWrong(t *testing.T) {
	u, day := shortDay(t, profile.Expectation{Promise: profile.ReachedWithin, Step: 2, Time: 30 * time.Minute})
	plain := day(1)
	params := u.Plant
	params.Probe.Offset = unit.Kelvin(0.5)
	plain.Kettle = Bench(plain.Profile, params, u.Load, nil, 1)
	result, err := plain.Go()
	if err != nil {
		t.Fatal(err)
	}
	if rest := result.Steps[2]; rest.Reached != nil || rest.arrived == nil || !result.Kept() {
		t.Errorf("%+v\n%+v", rest, result.Expectations)
	}
}

// BenchmarkSpread is the cost of one day of a spread on all processors: the sample
// with a boil, as dryrun runs it. A hundred of them are meant to take 15 s at most
// on two free cores.
func BenchmarkSpread(b *testing.B) {
	p, rig, d := sample(b, "wheat-promised.yaml", "yard-kettle.yaml")
	u := Unsure{Plant: rig.Plant(), Load: config.Load(p)}
	const days = 8
	for range b.N {
		if s, err := Many(days, 1, func(seed uint64) Run { return On(rig, p, d, u.Draw(seed).Kettle(p, nil, seed)) }); err != nil || s.Complete != days {
			b.Fatal(err, s)
		}
	}
	b.ReportMetric(100*b.Elapsed().Seconds()/float64(b.N*days), "s/100days")
}
