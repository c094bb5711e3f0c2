// Package view is what people and programs see of a kettle at one instant: a
// projection of the daemon's snapshot, as JSON for the interface and as words
// for the page. Nothing in it can change anything.
package view

import (
	"math"

	"mashward/cmd/internal/late"
	"mashward/cmd/internal/say"
	"mashward/cmd/internal/suggest"
	"mashward/cmd/internal/wort"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
	"mashward/profile"
)

// HotFrom is the temperature from which "HOT" stands on every page, also when
// nothing runs: below it skin bears a touch for hours (45 °C: 2 h to a
// reversible burn, Moritz and Henriques 1947 as widely quoted).
const HotFrom unit.Celsius = 45

// State is one instant. Null means unknown or not applicable.
type State struct {
	Number       uint64         `json:"number"`
	Time         string         `json:"time"` // RFC 3339, the daemon's wall clock
	Simulated    bool           `json:"simulated"`
	Rig          string         `json:"rig"`
	HeatDisabled bool           `json:"heat_disabled"`
	Faults       []string       `json:"faults"`  // of the rig file
	Differs      string         `json:"differs"` // a file on disk differs from what runs
	Sentence     string         `json:"sentence"`
	Next         string         `json:"next"`
	Prompt       *Prompt        `json:"prompt"`
	Offer        *Offer         `json:"offer"`
	Later        *Later         `json:"later"` // null: nothing is armed for later
	Batch        *Batch         `json:"batch"`
	Step         *Step          `json:"step"`
	Enzymes      *Enzymes       `json:"enzymes"` // null: no grain is in
	Wort         *wort.Expected `json:"wort"`    // null: nothing is known of it
	Late         *late.Told     `json:"late"`    // null: not known
	Probe        Probe          `json:"probe"`
	Target       *float64       `json:"target_celsius"`
	Heating      bool           `json:"heating"` // the element was permitted in this second, or its relay does not answer
	Duty         float64        `json:"duty_ratio"`
	Pump         bool           `json:"pump"`
	Cut          *string        `json:"heat_cut"`  // rule that takes heat away for a while
	Trip         *string        `json:"heat_trip"` // rule that has latched
	Limit        float64        `json:"limit_celsius"`
	Alarms       []Alarm        `json:"alarms"`      // that stand
	AlarmsOver   []Alarm        `json:"alarms_over"` // that are over, and that nobody has said he has seen
	Additions    []Addition     `json:"additions"`   // of the day, in their order
	Can          []string       `json:"can"`         // wishes that make sense now, beside stop
	Events       []Event        `json:"events"`
	Forecast     *Forecast      `json:"forecast"` // null: none is known
}

// Prompt is the question that stands, with the one button that answers it.
type Prompt struct {
	ID     string   `json:"id"`
	Text   string   `json:"text"`
	Button string   `json:"button"` // "" where no press answers it
	Wish   string   `json:"wish"`
	Litres *float64 `json:"litres"` // a figure to confirm or correct
}

// Batch is the brew day.
type Batch struct {
	ID      string   `json:"id"`
	Profile string   `json:"profile"`
	File    string   `json:"file"`
	Hash    string   `json:"hash"`
	Armed   string   `json:"armed"` // RFC 3339
	State   string   `json:"state"`
	Reason  string   `json:"reason"`
	Clock   float64  `json:"clock_seconds"`  // since arming
	Planned float64  `json:"finish_seconds"` // planned, since arming
	Water   float64  `json:"water_litres"`   // cold, in the kettle, by all that was told
	Told    uint32   `json:"told"`           // how often a person told what he did, or read
	LidOff  bool     `json:"lid_off"`
	Barred  bool     `json:"heat_barred"`     // what was told leaves element or probe bare
	Grain   float64  `json:"grain_kilograms"` // as in the profile, or as weighed
	GrainAt float64  `json:"grain_celsius"`
	Advice  []string `json:"advice"`       // what the readings of a batch that is over suggest
	Late    *float64 `json:"late_seconds"` // by which the boil may be longer; null: nothing came late
	// What its strike heat-up suggests about the kettle; nothing is changed by it.
	Suggestion *suggest.Told `json:"suggestion"`
}

// Step is the step that runs.
type Step struct {
	Index   int     `json:"index"`
	Kind    string  `json:"kind"`
	Title   string  `json:"title"`
	Phase   string  `json:"phase"`
	Reached bool    `json:"reached"`
	Earned  float64 `json:"earned_seconds"`
	Left    float64 `json:"left_seconds"`
}

// Probe is what the probe says.
type Probe struct {
	Temperature *float64 `json:"temperature_celsius"` // filtered; null without a valid reading
	Fault       string   `json:"fault"`               // why the newest reading has no value; "" if it has
	Hot         bool     `json:"hot"`
}

// Event is one sentence of the day.
type Event struct {
	At   float64 `json:"at_seconds"` // since arming
	Time string  `json:"time"`
	Text string  `json:"text"`
}

// MostEvents is how many of the newest events a state carries.
const MostEvents = 12

// Of projects a snapshot.
func Of(s *daemon.Snapshot) State {
	d := &s.Decision
	v := State{
		Number: s.Number, Time: utc(s.Wall), Simulated: s.Simulated, Rig: s.Rig,
		HeatDisabled: s.HeatDisabled, Faults: []string{}, Differs: s.Differs, Probe: probe(s),
		Heating: s.Heating == unit.On || s.LineFault != nil, Duty: float64(d.Duty), Pump: d.Pump == unit.On,
		Cut: rule(s.Cut), Trip: rule(s.Trip), Limit: float64(s.Limit), Additions: []Addition{}, Can: []string{}, Events: []Event{},
	}
	for _, f := range s.RigFaults {
		v.Faults = append(v.Faults, f.String())
	}
	if d.HasTarget {
		v.Target = finite(float64(d.Target))
	}
	v.Alarms, v.AlarmsOver = alarmsOf(s)
	v.Sentence = say.Day{}.Now(&controller.Decision{})
	if s.HeatDisabled {
		v.Sentence = "Heat is disabled: the rig file has faults."
	}
	if s.Disabled != "" {
		v.Sentence = s.Disabled
	}
	if s.Batch != nil {
		v.ofBatch(s)
	}
	v.later(s)
	if (s.Trip != interlock.NoRule || s.GaveUp) && (v.Prompt == nil || v.Prompt.Wish != controller.ClearTrip.String()) {
		v.Can = append(v.Can, controller.ClearTrip.String()) // no prompt asks for it once the batch is over
	}
	return v
}

// ofBatch fills in what there is to say of a batch.
func (v *State) ofBatch(s *daemon.Snapshot) {
	d, b := &s.Decision, s.Batch
	v.Batch = &Batch{
		ID: b.ID, Profile: b.Profile.Name, File: b.File, Hash: b.Hash, Armed: utc(b.Armed),
		State: d.Mode.String(), Reason: d.Reason.String(), Clock: d.Clock.Seconds(), Planned: b.Plan.Finish.Seconds(),
		Water: math.Round(float64(d.Water)*1000) / 1000, Told: d.Deeds, LidOff: d.LidOff, Barred: d.Bare,
		Grain: float64(b.Profile.Grain.Mass), GrainAt: float64(b.Profile.Grain.Temperature), Advice: append([]string{}, s.Advice...),
		Suggestion: s.Learnt,
	}
	if d.Late > 0 {
		v.Batch.Late = finite(d.Late.Seconds())
	}
	v.Additions = additionsOf(s)
	v.Step = &Step{
		Index: int(d.Index), Kind: d.Kind.String(), Title: b.Say.Step(d.Index), Phase: d.Phase.String(),
		Reached: d.Reached, Earned: d.Earned.Seconds(), Left: d.Left.Seconds(),
	}
	v.Sentence, v.Next = b.Say.Now(d), b.Say.Next(d)
	v.Enzymes, v.Wort, v.Forecast, v.Late = enzymesOf(s), s.Wort, forecast(s), lateOf(s)
	v.Prompt = prompt(s)
	v.Offer = offer(s)
	v.Can = can(s)
	for _, e := range s.Log[max(0, len(s.Log)-MostEvents):] {
		v.Events = append(v.Events, Event{e.At.Seconds(), utc(e.Wall), e.Text})
	}
}

func prompt(s *daemon.Snapshot) *Prompt {
	p := s.Decision.Prompt
	if p == controller.NoPrompt {
		return nil
	}
	out := &Prompt{ID: p.String(), Text: s.Batch.Say.Prompt(p), Button: say.Button(p), Wish: say.Answer(p).String()}
	if p == controller.AskDrained {
		out.Litres = finite(math.Round(float64(s.Decision.Water)*10) / 10)
	}
	return out
}

// can lists the wishes that make sense now, beside the answer to the prompt.
// The core decides in the end.
func can(s *daemon.Snapshot) []string {
	d, c := &s.Decision, &s.Batch.Say.Config
	list := []string{}
	add := func(when bool, w controller.Wish) {
		if when {
			list = append(list, w.String())
		}
	}
	running := d.Mode == controller.Running
	add(running, controller.Pause)
	add(d.Mode == controller.Paused || d.Mode == controller.Held && s.Trip == interlock.NoRule && !s.GaveUp && d.Clock < c.ArmingLasts(), controller.Resume)
	add(running && canSkip(d), controller.Skip)
	add(running && d.Undoes > 0, controller.UndoSkip)
	add(running && canRepeat(d, c), controller.StepBack)
	add(running && timed(d.Kind), controller.Extend)
	add(running && (d.Kind == profile.Rest || d.Kind == profile.MashOut), controller.Retarget)
	add(d.Prompt == controller.AskDidGrainGo || running && d.Stage == controller.Pour, controller.NoGrain)
	add(running && mayBoil(d, c), controller.ItBoils)
	add(d.Mode.Heats() && c.HasPump, controller.PumpOff)
	add(d.Mode.Heats() && c.HasPump, controller.PumpOn)
	add(running && c.HasPump && mashing(d), controller.RestBed)
	add(d.Mode == controller.Held || d.Mode == controller.Offered, controller.End)
	boiling(d, add)
	deeds(d, add)
	notes(d, c, add)
	return list
}

// deeds are what a person may tell that he did to the kettle. While the bag
// moves or drips nobody can read a volume.
func deeds(d *controller.Decision, add func(bool, controller.Wish)) {
	there := d.Mode.Heats() || d.Mode == controller.Held
	moves := d.Stage == controller.Hoist
	add(there && !moves, controller.Added)
	add(there && !moves, controller.TookOut)
	add(there && !moves && d.Stage != controller.Pour && !(d.Lifted && d.Volume == 0), controller.VolumeIs)
	add(there && d.LidOff, controller.LidOn)
	add(there && !d.LidOff, controller.LidOff)
}

// canSkip: no step is left with the grain half in or half out.
func canSkip(d *controller.Decision) bool {
	between := d.Stage == controller.Pour || d.Stage == controller.Settle || d.Stage == controller.Mix
	return d.Kind != profile.Strike && d.Kind != profile.Lift && !between
}

// canRepeat: what cannot be done twice cannot be gone back over.
func canRepeat(d *controller.Decision, c *controller.Config) bool {
	if d.Index == 0 || d.Index <= c.First {
		return false
	}
	if d.Stage == controller.Hoist { // pressed by mistake: the bag still hangs in the mash
		return true
	}
	before := c.Steps[d.Index-1].Kind
	rested := before == profile.Rest || before == profile.MashOut || before == profile.MashIn
	boiled := d.Kind == profile.Boil || d.Kind == profile.Chill
	return rested && !boiled && (d.Kind != profile.Lift || d.Stage == controller.Ready)
}

// timed tells whether steps of this kind have a time of their own.
func timed(k profile.Kind) bool {
	return k != profile.Strike && k != profile.Lift && k != profile.Chill
}

// mayBoil: a probe and the weather are wrong by a few kelvin together, not more.
func mayBoil(d *controller.Decision, c *controller.Config) bool {
	rising := d.Stage == controller.Climb || d.Stage == controller.Door || d.Stage == controller.Break
	return rising && d.HasEstimate && d.Filtered >= c.Boiling.Plus(-2*controller.PlateauBand)
}

// mashing tells whether the grain is in and nothing is being done to it.
func mashing(d *controller.Decision) bool {
	in := d.Kind == profile.MashIn || d.Kind == profile.Rest || d.Kind == profile.MashOut
	return in && !d.Lifted && (d.Stage == controller.Count || d.Stage == controller.Heat)
}

func probe(s *daemon.Snapshot) Probe {
	var p Probe
	if !s.Reading.Good() {
		p.Fault = s.Reading.Fault.String()
	}
	if s.Decision.HasEstimate {
		p.Temperature = finite(float64(s.Decision.Filtered))
		p.Hot = s.Decision.Filtered >= HotFrom
	}
	return p
}

func rule(r interlock.Rule) *string {
	if r == interlock.NoRule {
		return nil
	}
	name := r.String()
	return &name
}

// finite is a figure that JSON can carry.
func finite(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	x = math.Round(x*1000) / 1000
	return &x
}
