// Package account is what a recorded batch comes to: each step as planned and as it
// went, where the mash was for how long, energy and its cost, who was waited for,
// what was told and what went wrong; and two batches compared. It looks at records
// and frames, and decides nothing.
package account

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/enzymes"
	"mashward/cmd/internal/late"
	"mashward/cmd/internal/late/follow"
	"mashward/cmd/internal/suggest"
	"mashward/cmd/internal/wort"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/enzyme"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// Account is one batch in figures, in the form in which programs get it. Seconds
// count from arming, those of reached_seconds from the start of the step. Null is
// what the record does not tell.
type Account struct {
	Began     string   `json:"began"` // RFC 3339; "" unknown
	Profile   string   `json:"profile"`
	Simulated bool     `json:"simulated"`
	Outcome   string   `json:"outcome"` // complete, stopped, aborted, held, unfinished
	Reason    string   `json:"reason"`
	Duration  float64  `json:"duration_seconds"`
	Planned   *float64 `json:"planned_seconds"` // null: profile or rig are not in the record
	Switches  int      `json:"element_switches"`
	Program   string   `json:"program"`
	Text      string   `json:"profile_text"`
	Hash      string   `json:"profile_sha256"` // of the text; "" without one
	Highest   *float64 `json:"highest_celsius"`
	Filled    *float64 `json:"filled_celsius"` // the first reading
	Ticks     uint64   `json:"ticks"`
	Lost      uint64   `json:"lost_ticks"`
	Torn      int64    `json:"torn_bytes"`
	Damage    *string  `json:"damage"`

	Kettle   Kettle        `json:"kettle"`
	Across   Across        `json:"across_kettles"`
	Energy   Energy        `json:"energy"`
	Steps    []Step        `json:"steps"`
	Windows  []Window      `json:"windows"`
	Waits    []Wait        `json:"waits"`
	Troubles               // trips, cuts, alarms
	Taught   Taught        `json:"taught"`
	Told     []Said        `json:"told"` // what a person did or wished beside what the day asks, and the volume after the lift
	Lines    []Line        `json:"lines"`
	LinesCut uint64        `json:"lines_left_out"`
	Enzymes  *enzymes.Told `json:"enzymes"` // over the estimate of the mash; null: no grain

	// Wort is where extract and water came to; null: nothing is known of the malt.
	Wort   *wort.Expected `json:"wort"`
	Advice []string       `json:"advice"` // what the readings suggest of boil and probe

	// Forecasts is how those of the batch did; null: none was made.
	Forecasts *ahead.Told `json:"forecasts"`

	// Late is how late it was against its plan, and why; null: the record keeps no plan.
	Late *late.Told `json:"late"`

	// What a report wants besides.
	Day Day `json:"-"`
}

// Day is what a batch was made of, as far as its record tells.
type Day struct {
	Head    record.Head
	Profile profile.Profile // zero without HasProfile
	Plan    plan.Plan       // zero without HasPlan
	// The profile, and with the rig the plan, as this program reads the recorded
	// files today.
	HasProfile, HasPlan bool
	Rig                 string        // its name; "": the file is not there, or not read
	Tariff              config.Tariff // of the rig file; zero: none
	Mash                *enzyme.Course
	Score               *ahead.Score // of its forecasts, for who writes instants in his own way
}

// Step is one step as it ran; one that was repeated is there twice. Temperatures
// are those of the estimate.
type Step struct {
	Index   int      `json:"index"`
	Kind    string   `json:"kind"`
	Name    string   `json:"name"`
	Target  *float64 `json:"target_celsius"`
	Start   float64  `json:"start_seconds"`
	Reached *float64 `json:"reached_seconds"`
	End     *float64 `json:"end_seconds"`
	Earned  float64  `json:"earned_seconds"`

	Planned       *float64 `json:"planned_seconds"`      // all of the step
	PlannedHeat   *float64 `json:"planned_heat_seconds"` // to its target
	PlannedEnergy *float64 `json:"planned_energy_joules"`
	From          *float64 `json:"from_celsius"`           // at its start
	Rate          *float64 `json:"rate_kelvin_per_minute"` // on the way up
	Overshoot     *float64 `json:"overshoot_kelvin"`
	HoldRMS       *float64 `json:"hold_rms_kelvin"` // in the second half of the time there
	HoldWorst     *float64 `json:"hold_worst_kelvin"`
	Energy        float64  `json:"energy_joules"`
	Waited        float64  `json:"waited_seconds"` // for a person

	kind profile.Kind
}

// Line is one thing that happened.
type Line struct {
	At   float64 `json:"at_seconds"`
	Kind string  `json:"kind"` // event, command, cut, trip, note
	Text string  `json:"text"`
}

// Said is what a person did or wished beside what the day asks of him, or the volume
// that he read after the lift.
type Said struct {
	At   float64 `json:"at_seconds"`
	Text string  `json:"text"`
}

// Read takes a record through. A damaged one is told as far as it goes; the error
// is ErrNoHead, another of a head that cannot be read, or the storage's.
func Read(storage record.Storage) (Account, error) { return ReadWith(storage, nil) }

// ReadWith is the same with a tally that watched the batch itself, which knows of the
// energy; nil: it is made of the record. All who look at the record do it in one pass.
func ReadWith(storage record.Storage, t *Tally) (Account, error) {
	r, err := record.Read(storage)
	if err != nil {
		return Account{}, err
	}
	day, config := dayOf(r.Head), &r.Head.Config
	mash := enzymes.Follower{NoGrain: enzymes.NoGrain(config)}
	var extract *wort.Follower // nil follows nothing
	if day.HasProfile {
		extract = wort.New(day.Profile, *config)
	}
	score := &ahead.Score{}
	behind := follow.Noted(&r.Head)
	looking := []func(*record.Block){mash.Block, extract.Block, behind.Block, func(b *record.Block) { score.Block(b, config) }}
	if t == nil {
		t = &Tally{Power: config.Power}
		looking = append(looking, showing(t))
	}
	s, err := record.Summarize(r, looking...)
	if err != nil {
		return Account{}, err
	}
	day.Mash, day.Score = mash.Ended(), score
	a := Account{
		Day: day, Enzymes: enzymes.Tell(day.Mash), Wort: extract.Expect(), Advice: suggest.Advise(extract), Forecasts: score.Tell(nil), Late: behind.Tell(),
	}
	a.head(&s)
	a.tally(&s, t)
	a.plan()
	a.Energy.price(a.Day.Tariff)
	a.across()
	return a, nil
}

// Show shows the ticks of a record to watchers of frames, as far as a record tells
// of them. The clock of the frames is the time since arming, so that it goes on
// over a restart. A damaged record is shown as far as it goes.
func Show(r *record.Reader, watchers ...loop.Watcher) error {
	_, err := r.Each(showing(watchers...))
	return err
}

// showing makes a frame of each tick.
func showing(watchers ...loop.Watcher) func(*record.Block) {
	var f loop.Frame
	return func(b *record.Block) {
		if b.Kind != record.KindTick {
			return
		}
		frameOf(&b.Tick, &f)
		for _, w := range watchers {
			w.Watch(&f)
		}
	}
}

func frameOf(t *record.Tick, f *loop.Frame) {
	*f = loop.Frame{Number: t.Number, Tick: t.In, Facts: t.Facts, Permitted: t.Permitted}
	f.Tick.Now = t.Clock
	f.Tick.Reading.Taken += t.Clock - t.In.Now // it is as old as it was
	f.Verdict = interlock.Verdict{Permitted: t.Permitted, Cut: t.Cut, Trip: t.Trip, Since: t.Since}
	d := &f.Decision
	d.Wanted, d.Pump, d.Duty = t.Wanted, t.Pump, t.Duty
	d.Mode, d.Reason, d.Index, d.Kind = t.Mode, t.Reason, t.Index, t.Kind
	d.Stage, d.Phase, d.Prompt, d.Alarms = t.Stage, t.Phase, t.Prompt, t.Alarms
	d.Clock, d.Earned, d.Reached = t.Clock, t.Earned, t.Reached
	d.Target, d.HasTarget, d.Estimate, d.HasEstimate = t.Target, t.HasTarget, t.Estimate, t.HasEstimate
	d.Count = uint8(copy(d.Events[:], t.Events))
}

// dayOf works the day of a record out again. A file that this program does not
// read, or a day that it would refuse, leaves the plan out.
func dayOf(h record.Head) Day {
	d := Day{Head: h}
	p, faults := profile.Parse("profile", []byte(h.ProfileText))
	if h.ProfileText == "" || strict.Refused(faults) {
		return d
	}
	d.Profile, d.HasProfile = p, true
	rig, faults := config.ParseRig("rig", []byte(h.RigText))
	if h.RigText == "" || strict.Refused(faults) {
		return d
	}
	d.Rig, d.Tariff = rig.Name, rig.Supply.Tariff
	kettle := rig.PlanKettle()
	kettle.Power, kettle.Loss = h.Config.Power, h.Config.Loss // with what a tuning said then
	made, problems := plan.Make(p, kettle)
	for _, problem := range problems {
		if problem.Refused {
			return d
		}
	}
	d.Plan, d.HasPlan = made, true
	return d
}

// head fills in what the summary says of the batch as a whole.
func (a *Account) head(s *record.Summary) {
	h := &s.Head
	a.Began, a.Profile, a.Simulated, a.Program, a.Text = h.Began, h.Profile, h.Simulated, h.Program, h.ProfileText
	if a.Text != "" {
		sum := sha256.Sum256([]byte(a.Text))
		a.Hash = hex.EncodeToString(sum[:])
	}
	a.Outcome, a.Reason, a.Duration, a.Switches = OutcomeOf(s), s.Reason.String(), s.Duration.Seconds(), s.Switches
	a.Ticks, a.Lost, a.Torn, a.LinesCut = s.Ticks, s.Lost, s.Torn, s.Left
	if s.Measured {
		a.Highest = figure(float64(s.Highest))
	}
	if s.Damage != nil {
		text := s.Damage.Error()
		a.Damage = &text
	}
	a.Kettle = kettleOf(&h.Config)
	a.Lines, a.Told = []Line{}, []Said{}
	for _, l := range s.Lines {
		a.Lines = append(a.Lines, Line{l.At.Seconds(), lineKind(l.Kind), l.Text})
		if l.Kind == record.LineCommand && beside(l.Text) {
			a.Told = append(a.Told, Said{l.At.Seconds(), l.Text})
		}
	}
}

// OutcomeOf is how a batch ended, in one word.
func OutcomeOf(s *record.Summary) string {
	if s.Ended && (s.Outcome.Ended() || s.Outcome == controller.Held) {
		return s.Outcome.String()
	}
	return "unfinished"
}

// asked are the commands by which a person does what the day asks of him.
var asked = []string{
	"start", "pouring-now", "grain-in", "lifting-now", "bag-clear", "here-lid-off", "it-boils", "chiller-in", "addition-done",
}

// beside tells whether a command, in the record's words, is none of those.
func beside(text string) bool {
	word, _, _ := strings.Cut(text, " ")
	for _, a := range asked {
		if word == a {
			return false
		}
	}
	return true
}

func lineKind(k record.LineKind) string {
	switch k {
	case record.LineEvent:
		return "event"
	case record.LineCommand:
		return "command"
	case record.LineCut:
		return "cut"
	case record.LineTrip:
		return "trip"
	case record.LineNote:
	}
	return "note"
}

// plan puts what was planned beside what was done.
func (a *Account) plan() {
	if !a.Day.HasPlan {
		return
	}
	a.Planned = seconds(a.Day.Plan.Finish)
	total := float64(a.Day.Plan.Energy)
	a.Energy.Planned = &total
	for i := range a.Steps {
		s := &a.Steps[i]
		for _, p := range a.Day.Plan.Steps {
			if p.Index != s.Index {
				continue
			}
			s.Planned, s.PlannedEnergy = seconds(p.End-p.Start), figure(float64(p.Energy))
			if p.Heat() > 0 {
				s.PlannedHeat = seconds(p.Heat())
			}
		}
	}
}

func seconds(d time.Duration) *float64 { return figure(d.Round(time.Second).Seconds()) }

// figure is a figure that is known; what is no number is not.
func figure(x float64) *float64 {
	if x != x || x-x != 0 {
		return nil
	}
	return &x
}

// Title names a step: "rest 63.0 °C".
func (s *Step) Title() string {
	title := s.Kind
	if s.Kind == "stand" {
		title = "hop stand"
	}
	if s.Target != nil {
		title += fmt.Sprintf(" %.1f °C", *s.Target)
	}
	if s.Name != "" {
		title += ", " + s.Name
	}
	return title
}
