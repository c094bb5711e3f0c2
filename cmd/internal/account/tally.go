package account

import (
	"cmp"
	"math"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile"
)

const (
	// mostSamples bounds what is kept of one step: a day of it.
	mostSamples = 24 * 3600
	// mostRuns bounds the steps and mostSpans what came and went, whatever a record
	// holds; as record.Summary does.
	mostRuns  = 1000
	mostSpans = 1000
	// mostPower is more than any element of this trade has; a record that claims more
	// is not counted with.
	mostPower unit.Watts = 1e6
)

// Tally adds a batch up as it goes: by step, by window, by wait. It is a
// loop.Watcher. Without Energy the relay's time is counted at Power.
type Tally struct {
	Power  unit.Watts
	Energy func() unit.Joules // a counter of what went in

	begun  bool
	clock  time.Duration
	runs   []run
	mash   windows
	waits  []Wait
	prompt controller.Prompt
	judged Troubles
	cut    string
	trip   string
	alarms controller.Alarms
	filled *float64
	before unit.Joules
	total  float64 // joules
	taught Taught
}

// run is one step as it goes.
type run struct {
	index   uint8
	kind    profile.Kind
	start   time.Duration
	from    float64 // estimate at the start
	reached time.Duration
	there   bool
	peak    float64 // estimate when it was reached
	target  float64
	energy  float64
	waited  time.Duration
	samples []sample
	over    bool
	vapour  vapour
}

// sample is the estimate at one tick of a step.
type sample struct {
	at   time.Duration
	mash float32
	warm bool // from here on it speaks for the step: the grain is in and mixed
}

// Watch takes one frame.
func (t *Tally) Watch(f *loop.Frame) {
	d := &f.Decision
	for _, e := range d.Events[:d.Count] {
		t.hear(e, d)
	}
	if !t.begun {
		if t.Energy != nil {
			t.before = t.Energy()
		}
		return
	}
	gap := d.Clock - t.clock
	t.clock = d.Clock
	if t.filled == nil && f.Tick.Reading.Good() {
		t.filled = figure(float64(f.Tick.Reading.Value))
	}
	spent := t.spend(gap, f.Tick.Applied)
	if n := len(t.runs); n > 0 && !t.runs[n-1].over {
		t.step(&t.runs[n-1], gap, spent, d)
	}
	t.mash.second(gap, d)
	t.wait(gap, d)
	t.judge(f)
}

// spend is what went in since the last tick, in joules. After the lease a relay is
// off, however long nobody looked.
func (t *Tally) spend(gap time.Duration, applied unit.Relay) float64 {
	spent := 0.0
	switch {
	case t.Energy != nil:
		now := t.Energy()
		spent, t.before = float64(now-t.before), now
	case applied == unit.On && gap > 0 && t.Power > 0 && t.Power < mostPower:
		spent = float64(t.Power) * min(gap, loop.Lease).Seconds()
	}
	t.total += spent
	return spent
}

// hear follows the batch's own account of its steps.
func (t *Tally) hear(e controller.Event, d *controller.Decision) {
	n := len(t.runs)
	switch e.Kind {
	case controller.BatchStarted:
		if !t.begun {
			t.begun, t.clock = true, d.Clock
		}
	case controller.StepStarted:
		if n > 0 {
			t.runs[n-1].over = true
		}
		if n < mostRuns {
			t.runs = append(t.runs, run{index: e.Step, kind: d.Kind, start: d.Clock, from: estimate(d), target: math.NaN()})
		}
	case controller.SkipUndone:
		if n > 1 && t.runs[n-2].index == e.Step {
			t.runs[n-2].energy += t.runs[n-1].energy
			t.runs[n-2].waited += t.runs[n-1].waited
			t.runs = t.runs[:n-1]
			t.runs[n-2].over = false
		}
	case controller.TargetReached:
		if n > 0 && t.runs[n-1].index == e.Step && !t.runs[n-1].there {
			r := &t.runs[n-1]
			r.there, r.reached, r.peak = true, d.Clock, estimate(d)
		}
	case controller.StepEnded:
		if n > 0 && t.runs[n-1].index == e.Step {
			t.runs[n-1].over = true
		}
	case controller.LoadLearned, controller.LoadDoubted:
		t.taught.Rise = figure(e.Value)
	case controller.ProposalSeen:
		if e.Value > 0 {
			t.taught.Taken++
		} else {
			t.taught.Left++
		}
	}
}

func estimate(d *controller.Decision) float64 {
	if !d.HasEstimate {
		return math.NaN()
	}
	return float64(d.Estimate)
}

// step adds one tick to the step that runs.
func (t *Tally) step(r *run, gap time.Duration, spent float64, d *controller.Decision) {
	if r.index != d.Index {
		return
	}
	r.energy += spent
	r.kind = d.Kind
	if d.HasTarget {
		r.target = float64(d.Target)
	}
	if d.Stage == controller.Boil {
		r.vapour.add(gap, spent)
	}
	if !d.HasEstimate || len(r.samples) >= mostSamples {
		return
	}
	if math.IsNaN(r.from) {
		r.from = float64(d.Estimate)
	}
	warm := r.kind != profile.MashIn || d.Stage == controller.Count
	r.samples = append(r.samples, sample{d.Clock, float32(d.Estimate), warm})
}

// wait adds to what a person was waited for.
func (t *Tally) wait(gap time.Duration, d *controller.Decision) {
	p := d.Prompt
	if d.Mode.Ended() {
		p = controller.NoPrompt
	}
	if t.prompt != controller.NoPrompt && gap > 0 {
		if n := len(t.waits); n > 0 {
			t.waits[n-1].Seconds += gap.Seconds()
		}
		if n := len(t.runs); n > 0 {
			t.runs[n-1].waited += gap
		}
	}
	if p != t.prompt && p != controller.NoPrompt && len(t.waits) < mostSpans {
		t.waits = append(t.waits, Wait{Prompt: p.String(), Step: int(d.Index), At: d.Clock.Seconds()})
	}
	t.prompt = p
}

// judge notes cuts, trips and alarms as they come and go.
func (t *Tally) judge(f *loop.Frame) {
	at := f.Decision.Clock.Seconds()
	cut, trip := ruleName(f.Verdict.Cut), ruleName(f.Verdict.Trip)
	if cut != t.cut {
		if n := len(t.judged.Cuts); n > 0 && t.judged.Cuts[n-1].Until == nil {
			t.judged.Cuts[n-1].Until = &at
		}
		if cut != "" && len(t.judged.Cuts) < mostSpans {
			t.judged.Cuts = append(t.judged.Cuts, rehearse.Span{ID: cut, From: at})
		}
	}
	if trip != t.trip && trip != "" && len(t.judged.Trips) < mostSpans {
		t.judged.Trips = append(t.judged.Trips, rehearse.Instant{ID: trip, At: at})
	}
	for a, stands := range f.Decision.Alarms {
		if stands == t.alarms[a] {
			continue
		}
		t.alarm(controller.Alarm(a).String(), at, stands)
	}
	t.cut, t.trip, t.alarms = cut, trip, f.Decision.Alarms
}

func (t *Tally) alarm(id string, at float64, stands bool) {
	all := t.judged.Alarms
	if stands && len(all) < mostSpans {
		t.judged.Alarms = append(all, rehearse.Alarm{ID: id, Raised: at})
		return
	}
	for i := len(all) - 1; i >= 0 && !stands; i-- {
		if all[i].ID == id && all[i].Cleared == nil {
			all[i].Cleared = &at
			return
		}
	}
}

func ruleName(r interlock.Rule) string {
	if r == interlock.NoRule {
		return ""
	}
	return r.String()
}

// tally puts what was added up into the account. The summary's steps are the same,
// in the same order.
func (a *Account) tally(s *record.Summary, t *Tally) {
	a.Filled, a.Waits, a.Troubles, a.Taught = t.filled, t.waits, t.judged.listed(), t.taught
	if a.Waits == nil {
		a.Waits = []Wait{}
	}
	a.Windows = t.mash.list()
	a.Energy = Energy{Joules: t.total}
	a.Steps = []Step{}
	for i := range s.Steps {
		out := stepOf(&s.Steps[i])
		if i < len(t.runs) && t.runs[i].index == s.Steps[i].Index {
			t.runs[i].fill(&out)
		}
		a.Steps = append(a.Steps, out)
	}
	a.boil(t)
}

func stepOf(s *record.StepSummary) Step {
	out := Step{
		Index: int(s.Index), Kind: s.Kind.String(), Name: s.Name, Start: s.Start.Seconds(),
		Reached: since(s.Reached), End: since(s.End), Earned: s.Earned.Seconds(), kind: s.Kind,
	}
	if s.Kind != profile.Lift && s.Target != 0 {
		out.Target = figure(float64(s.Target))
	}
	return out
}

// since is null where the record says "not" by a negative time.
func since(d time.Duration) *float64 {
	if d < 0 {
		return nil
	}
	return figure(d.Seconds())
}

// fill puts the figures of a run into its step.
func (r *run) fill(s *Step) {
	s.Energy, s.Waited, s.From = r.energy, r.waited.Seconds(), figure(r.from)
	const up = 1.0 // K: less is no heat-up
	if way := (r.reached - r.start).Minutes(); r.there && way > 0 && r.kind != profile.MashIn && r.peak-r.from >= up {
		s.Rate = figure((r.peak - r.from) / way)
	}
	switch r.kind {
	case profile.Strike, profile.MashIn, profile.Rest, profile.MashOut:
		r.judge(s)
	case profile.Lift, profile.Boil, profile.Stand, profile.Chill:
	}
}

// judge says how the estimate kept to the target, as a rehearsal says it of the
// true mash: overshoot from where it was reached, or over all of a step that began
// below; the hold over the second half of the time there.
func (r *run) judge(s *Step) {
	begin := len(r.samples)
	for i, x := range r.samples {
		if x.warm {
			begin = i
			break
		}
	}
	warm := r.samples[begin:]
	if math.IsNaN(r.target) || len(warm) == 0 {
		return
	}
	const near = 0.3 // K, as a rehearsal judges
	goal, first := r.target, -1
	for i, x := range warm {
		if math.Abs(float64(x.mash)-goal) <= near {
			first = i
			break
		}
	}
	from := 0
	if float64(warm[0].mash) > goal {
		if first < 0 {
			return
		}
		from = first
	}
	worst := 0.0
	for _, x := range warm[from:] {
		worst = max(worst, float64(x.mash)-goal)
	}
	s.Overshoot = figure(worst)
	if first < 0 {
		return
	}
	half := (warm[first].at + warm[len(warm)-1].at) / 2
	sum, high, n := 0.0, 0.0, 0
	for _, x := range warm[first:] {
		if x.at < half {
			continue
		}
		off := float64(x.mash) - goal
		sum, high, n = sum+off*off, max(high, math.Abs(off)), n+1
	}
	s.HoldRMS, s.HoldWorst = figure(math.Sqrt(sum/float64(cmp.Or(n, 1)))), figure(high)
}
