package rehearse

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"mashward/profile"
)

// MostRuns bounds a spread.
const MostRuns = 1000

// Spread is how many rehearsals went, each on another of the days that are left
// open, in the form of dryrun's JSON. Run i has the seed of the first plus i.
type Spread struct {
	Runs         int                 `json:"runs"`
	Seed         uint64              `json:"seed"` // of the first run
	Simulated    bool                `json:"simulated"`
	Kept         int                 `json:"kept"` // complete, with all promises kept
	Complete     int                 `json:"complete"`
	Cut          int                 `json:"heat_was_cut"` // in so many
	Incomplete   []Ending            `json:"incomplete"`
	Duration     *Range              `json:"duration_seconds"` // of the complete ones, as Energy; null: none was
	Energy       *Range              `json:"energy_joules"`
	Steps        []SpreadStep        `json:"steps"`
	Expectations []SpreadExpectation `json:"expectations,omitempty"`
}

// Ending is a run that was not complete.
type Ending struct {
	Seed    uint64 `json:"seed"`
	Outcome string `json:"outcome"`
	Reason  string `json:"reason"`
}

// Range is where the middle nine tenths of the runs lie, by linear interpolation
// between them in their order.
type Range struct {
	Low    float64 `json:"p5"`
	Median float64 `json:"median"`
	High   float64 `json:"p95"`
}

// SpreadStep is how one step went in the runs that came to it; null where no run
// has a figure. They are those of Step, but that Reached leaves out what the probe
// reads wrong for good: that is in the overshoot.
type SpreadStep struct {
	Index     int      `json:"index"`
	Kind      string   `json:"kind"`
	Name      string   `json:"name"`
	Target    *float64 `json:"target_celsius"`
	Begun     int      `json:"begun"`   // in so many runs
	Arrived   int      `json:"arrived"` // of them at the target
	Reached   *Range   `json:"reached_seconds"`
	Overshoot *Range   `json:"overshoot_kelvin"`
}

// SpreadExpectation is in how many runs a promise was kept.
type SpreadExpectation struct {
	Promise string   `json:"promise"`
	Step    int      `json:"step,omitempty"`
	Words   string   `json:"words"`
	Kept    int      `json:"kept"`
	Broken  []uint64 `json:"broken_seeds"` // by the seeds of the runs that broke it

	WasCelsius *Range `json:"was_celsius,omitempty"`
	WasSeconds *Range `json:"was_seconds,omitempty"`
	WasJoules  *Range `json:"was_joules,omitempty"`
}

// AllKept tells whether every run was complete and kept every promise.
func (s Spread) AllKept() bool { return s.Kept == s.Runs }

// Many rehearses as many days as runs, from a seed on, on all processors; day makes
// the run of a seed. The same runs give the same spread on any number of them.
func Many(runs int, seed uint64, day func(seed uint64) Run) (Spread, error) {
	results, errs := make([]Result, runs), make([]error, runs)
	var next atomic.Int64
	var all sync.WaitGroup
	for range min(runs, runtime.GOMAXPROCS(0)) {
		all.Go(func() {
			for i := int(next.Add(1)) - 1; i < runs; i = int(next.Add(1)) - 1 {
				run := day(seed + uint64(i))
				run.Brief = true
				results[i], errs[i] = run.Go()
			}
		})
	}
	all.Wait()
	for _, err := range errs {
		if err != nil {
			return Spread{}, err
		}
	}
	return spreadOf(seed, results), nil
}

// spreadOf sums results up; that of index i has the seed plus i.
func spreadOf(seed uint64, results []Result) Spread {
	s := Spread{Runs: len(results), Seed: seed, Simulated: true, Incomplete: []Ending{}, Steps: []SpreadStep{}}
	var durations, energies []float64
	for i, r := range results {
		if r.Kept() {
			s.Kept++
		}
		if len(r.Cuts)+len(r.Trips) > 0 {
			s.Cut++
		}
		if !r.complete() {
			s.Incomplete = append(s.Incomplete, Ending{seed + uint64(i), r.Outcome, r.Reason})
			continue
		}
		s.Complete++
		durations, energies = append(durations, r.Duration), append(energies, r.Energy)
	}
	s.Duration, s.Energy = rangeOf(durations), rangeOf(energies)
	s.steps(results)
	s.promises(seed, results)
	return s
}

// steps sums up step by step, in the order of the day.
func (s *Spread) steps(results []Result) {
	type figures struct{ reached, overshoot []float64 }
	at := map[int]int{} // place in Steps by index
	var all []figures
	for _, r := range results {
		for _, step := range r.Steps {
			i, known := at[step.Index]
			if !known {
				i = len(s.Steps)
				at[step.Index] = i
				s.Steps = append(s.Steps, SpreadStep{Index: step.Index, Kind: step.Kind, Name: step.Name, Target: step.Target})
				all = append(all, figures{})
			}
			s.Steps[i].Begun++
			if step.arrived != nil {
				s.Steps[i].Arrived++
				all[i].reached = append(all[i].reached, *step.arrived)
			}
			if step.Overshoot != nil {
				all[i].overshoot = append(all[i].overshoot, *step.Overshoot)
			}
		}
	}
	for i := range s.Steps {
		s.Steps[i].Reached, s.Steps[i].Overshoot = rangeOf(all[i].reached), rangeOf(all[i].overshoot)
	}
}

// promises sums up promise by promise. Every run has all of them.
func (s *Spread) promises(seed uint64, results []Result) {
	if len(results) == 0 {
		return
	}
	for k, first := range results[0].Expectations {
		e := SpreadExpectation{Promise: first.Promise, Step: first.Step, Words: first.Words, Broken: []uint64{}}
		var celsius, seconds, joules []float64
		for i, r := range results {
			one := r.Expectations[k]
			if one.Kept {
				e.Kept++
			} else {
				e.Broken = append(e.Broken, seed+uint64(i))
			}
			celsius, seconds, joules = with(celsius, one.WasCelsius), with(seconds, one.WasSeconds), with(joules, one.WasJoules)
		}
		e.WasCelsius, e.WasSeconds, e.WasJoules = rangeOf(celsius), rangeOf(seconds), rangeOf(joules)
		s.Expectations = append(s.Expectations, e)
	}
}

func with(all []float64, v *float64) []float64 {
	if v == nil {
		return all
	}
	return append(all, *v)
}

// rangeOf is the range of some figures; nil if there are none.
func rangeOf(all []float64) *Range {
	if len(all) == 0 {
		return nil
	}
	all = slices.Clone(all)
	slices.Sort(all)
	return &Range{quantile(all, 0.05), quantile(all, 0.5), quantile(all, 0.95)}
}

// quantile lies between the two nearest of figures in their order, the lowest being
// 0 and the highest 1 (definition 7 of Hyndman and Fan 1996).
func quantile(sorted []float64, share float64) float64 {
	place := share * float64(len(sorted)-1)
	below := int(math.Floor(place))
	above := min(below+1, len(sorted)-1)
	return sorted[below] + (place-float64(below))*(sorted[above]-sorted[below])
}

// targeted tells whether a step has a temperature of its own to be reached.
func (s SpreadStep) targeted() bool { return s.Target != nil && s.Kind != profile.Chill.String() }
