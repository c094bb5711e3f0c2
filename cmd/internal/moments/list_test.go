package moments

import (
	"math/bits"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/late"
	"mashward/cmd/internal/late/follow"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
)

// berlin is a zone with an hour of its own, so that a clock in UTC shows.
var berlin = time.FixedZone("CET", 3600)

var armed = time.Date(2026, 3, 7, 10, 30, 0, 0, berlin)

func span(at, early, late string) ahead.Span {
	of := func(text string) time.Duration {
		if text == "" {
			return 0
		}
		t, err := time.ParseInLocation("2006-01-02 15:04:05", "2026-03-07 "+text, berlin)
		if err != nil {
			panic(err)
		}
		return t.Sub(armed)
	}
	return ahead.Span{At: of(at), Early: of(early), Late: of(late)}
}

func forecast() ahead.Forecast {
	return ahead.Forecast{
		Made: 30 * time.Minute, Finish: span("16:10:00", "15:50:00", "16:40:00"),
		Moments: []ahead.Moment{
			{Span: span("11:42:10", "11:38:40", "11:46:20"), Step: 0, Of: "pour", What: "Say that you pour now."},
			{Span: span("13:20:00", "13:05:59", "13:31:00"), Step: 5, Of: "lift", What: "Lift the grain clear."},
			{Span: span("13:36:00", "13:36:00", "13:36:30"), Step: 6, Of: "addition-1", What: "Add 28 g bittering hops: 1 h left of the boil.", Addition: true},
			{Span: span("16:10:00", "15:50:00", "16:40:00"), Step: 7, Of: "end", What: "End the batch."},
		},
	}
}

func TestTheListIsInWords(t *testing.T) {
	l := Of(forecast(), forecast().Made, armed.Add(forecast().Made), 1)
	want := []string{
		"11:42 (11:38 to 11:47) pour the grain; then free until 13:05",
		"13:20 (13:05 to 13:31) lift the grain; stay for what comes next",
		"13:36 add 28 g bittering hops: 1 h left of the boil; then free until 15:50",
		"16:10 (15:50 to 16:40) end the batch; isolate the kettle, empty and clean it",
	}
	var got []string
	for i := range l.Entries {
		got = append(got, l.Entries[i].Words(l.Made))
	}
	if !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	if l.Words() != "You are free until 11:38." {
		t.Error(l.Words())
	}
	f := forecast()
	f.Made = span("11:45:00", "11:45:00", "11:45:00").At
	if l := Of(f, f.Made, armed.Add(f.Made), 1); l.Words() != "You are needed now." {
		t.Error(l.Words())
	}
	if l := Of(ahead.Forecast{}, 0, armed, 0); l.Words() != "Nobody is needed any more." {
		t.Error(l.Words())
	}
}

// Whoever takes the lid off for the hot break stays through it: he is free from the boil
// on, if it is long until the next moment, and else not at all.
func TestThroughAHotBreakNobodyIsFree(t *testing.T) {
	f := forecast()
	f.Moments[1].Of, f.Moments[1].Until = "break", span("13:25:00", "", "").At
	f.Moments[2].Span = span("14:35:00", "14:35:00", "14:35:00")
	l := Of(f, f.Made, armed.Add(f.Made), 1)
	if got := l.Entries[1].Then(l.Made); got != "then free until 14:35" {
		t.Error(got)
	}
	f.Moments[1].Until = span("14:26:00", "", "").At
	l = Of(f, f.Made, armed.Add(f.Made), 1)
	if got := l.Entries[1].Then(l.Made); got != "stay for what comes next" {
		t.Error(got)
	}
	f.Stay = span("11:37:40", "", "").At
	if l = Of(f, f.Made, armed.Add(f.Made), 1); l.Words() != "Stay there until 11:38." || !l.Free.IsZero() {
		t.Error(l.Words(), l.Free)
	}
}

func TestAnotherDayIsNamed(t *testing.T) {
	now := time.Date(2026, 3, 7, 22, 0, 0, 0, berlin) // a Saturday
	if got := Clock(now.Add(3*time.Hour), now); got != "Sun 01:00" {
		t.Error(got)
	}
}

// day runs the sample day with the sources that a daemon has, and shows each second's
// forecast from the plan.
func day(t *testing.T, tells func(*loop.Frame) controller.Command, each func(*loop.Frame, ahead.Forecast)) plan.Plan {
	t.Helper()
	return dayOf(t, func(*profile.Profile) {}, tells, each)
}

// dayOf is the same of the sample with a change.
func dayOf(t *testing.T, change func(*profile.Profile), tells func(*loop.Frame) controller.Command, each func(*loop.Frame, ahead.Forecast)) plan.Plan {
	t.Helper()
	const samples = "../../../testdata"
	p, _, err := config.LoadProfile(filepath.Join(samples, "profiles", "rye-four-rests.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	change(&p)
	rig, _, err := config.LoadRig(filepath.Join(samples, "rigs", "yard-kettle.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	d, _ := plan.Make(p, rig.PlanKettle())
	k := &rehearse.Simulated{Bench: sim.NewBench(sim.New(rig.Plant(), config.Load(p), 3), nil, 3)}
	w := &watcher{f: follow.New(late.Of(d)), plan: d, each: each}
	r := rehearse.On(rig, p, d, k)
	r.Delay, r.Bare, r.Tells, r.Watchers = 3*time.Minute, true, tells, []loop.Watcher{w}
	if _, err := r.Go(); err != nil {
		t.Fatal(err)
	}
	return d
}

type watcher struct {
	f    *follow.Follower
	plan plan.Plan
	each func(*loop.Frame, ahead.Forecast)
}

// Watch implements loop.Watcher.
func (w *watcher) Watch(f *loop.Frame) {
	w.f.Watch(f)
	if a, known := w.f.Account(); known {
		w.each(f, PlanAhead(w.plan, &f.Decision, a.Late))
	}
}

// asks are the moments that a person is asked for, by each question of the batch.
var asks = map[controller.Prompt]string{
	controller.AskPour: "pour", controller.AskGrainIn: "pour", controller.AskLift: "lift", controller.AskBagClear: "lift",
	controller.AskDrained: "lift", controller.AskHereLidOff: "break", controller.AskScald: "chiller", controller.AskChillerWater: "chill",
	controller.AskColdest: "tap",
}

// hopsEverywhere is the day with something to put in wherever that may be, and a chill
// that this tap does not bring to its end.
func hopsEverywhere(p *profile.Profile) {
	for i := range p.Steps {
		s := &p.Steps[i]
		add := func(when profile.When) {
			s.Additions = append(s.Additions, profile.Addition{When: when, Add: "more"})
		}
		switch s.Kind {
		case profile.MashIn:
			add(profile.AtStrike)
			add(profile.ByClock)
		case profile.Lift:
			add(profile.AtOnce)
		case profile.Chill:
			s.Target = 8 // the rig's tap
			add(profile.AtOnce)
		}
	}
}

// Whenever the batch waits for a person, the first moment says so, and it is now; it
// is never said when it does not. An addition is on the list until it is called out.
func TestWhatIsAskedIsTheFirstMomentAndDueNow(t *testing.T) {
	seen, waits := map[string]int{}, 0
	const additions = 6 // of the sample two, and one each at strike, mash-in, lift and chill
	dayOf(t, hopsEverywhere, nil, func(f *loop.Frame, a ahead.Forecast) {
		if f.Decision.Mode.Ended() {
			return
		}
		staying := f.Decision.Stage == controller.Break || f.Decision.Stage == controller.Cool
		l := Of(a, f.Decision.Clock, armed.Add(f.Decision.Clock), 1)
		if staying && (a.Stay < f.Decision.Clock || strings.HasPrefix(l.Words(), "You are free ")) || !staying && a.Stay != 0 {
			t.Fatalf("at %v, %v: somebody stays until %v; %s", f.Decision.Clock, f.Decision.Stage, a.Stay, l.Words())
		}
		left := 0
		for _, m := range a.Moments {
			if m.Addition {
				left++
			}
		}
		if called := bits.OnesCount32(f.Decision.Called); left+called != additions {
			t.Fatalf("at %v %d additions are to come, and %d were called out: %+v", f.Decision.Clock, left, called, a.Moments)
		}
		first, ok := a.Next()
		want := asks[f.Decision.Prompt]
		if want == "" || f.Decision.Mode != controller.Running {
			if ok && first.At <= f.Decision.Clock && !first.Addition && first.Of != "end" {
				waits++ // a heat-up that is at its end by the plan, and not yet by the batch
			}
			return
		}
		seen[want]++
		for ok && first.Addition && first.At <= f.Decision.Clock { // it waits for nobody, and comes in front
			a.Moments = a.Moments[1:]
			first, ok = a.Next()
		}
		if !ok || first.Of != want || first.At != f.Decision.Clock {
			t.Fatalf("at %v it asks for %q, and first comes %+v", f.Decision.Clock, want, first)
		}
	})
	for _, of := range []string{"pour", "lift", "break", "chiller", "chill", "tap"} {
		if seen[of] < 100 {
			t.Errorf("%s was asked for %d s", of, seen[of])
		}
	}
	if waits > 20*60 {
		t.Errorf("for %d s somebody was called who was not needed", waits)
	}
}

// A step that is made longer moves all that comes behind it at once, by as much.
func TestTheListMovesWithTheBatch(t *testing.T) {
	var before, after ahead.Forecast
	done := false
	day(t, func(f *loop.Frame) controller.Command {
		if d := &f.Decision; d.Stage == controller.Count && d.Index == 2 && d.Earned == 10*time.Minute {
			return controller.Command{Wish: controller.Extend, By: 20 * time.Minute}
		}
		return controller.Command{}
	}, func(f *loop.Frame, a ahead.Forecast) {
		switch {
		case done:
		case f.Tick.Command.Wish == controller.Extend:
			after, done = a, true
		default:
			before = a
		}
	})
	if !done || len(after.Moments) != len(before.Moments) || len(after.Moments) < 6 {
		t.Fatalf("%d and %d moments", len(before.Moments), len(after.Moments))
	}
	for i, m := range after.Moments {
		if by := m.At - before.Moments[i].At; by != 20*time.Minute || m.Of != before.Moments[i].Of {
			t.Errorf("%s moves by %v", m.Of, by)
		}
	}
	if by := after.Finish.At - before.Finish.At; by != 20*time.Minute {
		t.Errorf("the finish moves by %v", by)
	}
}

// A simulated batch that goes sixty times as fast is over in a sixtieth of the time.
func TestTheListGoesAtThePaceOfTheBatch(t *testing.T) {
	f := forecast()
	l := Of(f, f.Made, armed, 60)
	for i, m := range f.Moments {
		if got, want := l.Entries[i].At.Sub(armed), (m.At-f.Made)/60; got != want {
			t.Errorf("%s after %v, not %v", m.Of, got, want)
		}
	}
}
