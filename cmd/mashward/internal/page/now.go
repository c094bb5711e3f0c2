package page

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
)

// fresh is how old the newest tick may be before the page warns of it.
const fresh = 6 * time.Second

// now is the first page: the kettle at this instant.
type now struct {
	base
	State    view.State
	Key      string // while it is the same, the script need not load the page anew
	Figure   string // temperature without its unit; "–" where there is none
	Hot      string
	Reading  string // what is wrong with the reading
	Target   string
	Sentence string
	Next     string
	Why      string // an ended batch did not finish
	Late     string // and what made it so
	Heat     string
	On       bool // heating
	Pump     bool // there is one
	Clock    string
	Ended    bool
	Controls []control
	More     []control
	NoGrain  bool
	Litres   string
	Rules    []rule
	Profiles []daemon.Listed
	Pictures *pictures
	Needed   *needed
	Refuse   string // why the profiles could not be listed
}

// control is one button that is not the answer to a prompt.
type control struct {
	Wish, Label string
	Shown       bool
	Until       float64 // batch clock in seconds after which it makes no sense; 0 is never
}

func (s *site) now(w http.ResponseWriter, r *http.Request) {
	snap := s.o.Daemon.Latest()
	m := now{base: s.base(r, "Now"), State: view.Of(snap), Rules: rules()}
	m.Live, m.Refresh = true, "5;url=/"
	if age := s.o.Now().Sub(snap.Wall); age > fresh && !snap.HeatDisabled {
		m.Stale = fmt.Sprintf("No news for %d s: do not trust these numbers.", int(age.Seconds()))
	}
	m.Halted = m.Stale != ""
	m.words()
	m.heat()
	if snap.Batch != nil {
		m.ofBatch(s, snap)
	}
	if m.State.Batch == nil || m.Ended {
		list, err := s.o.Daemon.Profiles()
		m.Profiles = list
		if err != nil {
			m.Refuse = "The folder of profiles cannot be read."
		}
	}
	s.show(w, http.StatusOK, "now.html", &m)
}

// words are figures and sentences that do not need a batch.
func (m *now) words() {
	v := &m.State
	m.Key, m.Figure = "/"+laterKey(v.Later), "–"
	m.Sentence, m.Next = m.Words(v.Sentence), m.Words(v.Next)
	m.Reading = reading(v)
	switch t := v.Probe.Temperature; {
	case t == nil:
		m.Hot = treatAsHot
	case v.Probe.Hot:
		m.Figure = m.Scale.figure(*t)
		m.Hot = fmt.Sprintf("HOT %.0f %s", math.Round(m.Scale.of(*t)), m.Scale.Sign())
	default:
		m.Figure = m.Scale.figure(*t)
	}
	if v.Target != nil {
		m.Target = m.Scale.write(*v.Target)
	}
}

// neverRead is the fault of a probe that nobody has asked yet.
const neverRead = "no reading"

// reading is what is wrong with the probe.
func reading(v *view.State) string {
	switch {
	case v.HeatDisabled, v.Probe.Fault == "":
		return ""
	case v.Probe.Fault == neverRead:
		return "The probe has not been read yet."
	}
	return "The probe gives no good reading: " + v.Probe.Fault + "."
}

// heat says whether the element heats. Within a second it may be off although
// it heats on the whole; then the share of power speaks.
func (m *now) heat() {
	v := &m.State
	if m.Stale != "" {
		m.Heat = heatUnknown
		if m.Hot == "" {
			m.Hot = treatAsHot
		}
		return
	}
	m.On = v.Heating || v.Duty > 0 && v.Cut == nil && v.Trip == nil
	m.Heat = notHeating
	if m.On {
		m.Heat = fmt.Sprintf("heating, %.0f %% of full power", max(1, math.Round(v.Duty*100)))
	}
}

func (m *now) ofBatch(s *site, snap *daemon.Snapshot) {
	v := &m.State
	m.Key = v.Batch.ID + "/" + v.Batch.State + laterKey(v.Later)
	if v.Batch.Suggestion != nil {
		m.Key += "/suggestion"
	}
	if v.Offer != nil { // more of it becomes known
		m.Key += fmt.Sprintf("/%d", len(v.Offer.Texts))
		if v.Offer.Least != nil {
			m.Key += "/weighed"
		}
	}
	if v.Late != nil {
		m.Late = m.Words("Against the plan: " + v.Late.Text + ".")
	}
	m.Ended = snap.Decision.Mode.Ended()
	if m.Ended && snap.Decision.Mode != controller.Complete && snap.Decision.Reason != controller.ByOperator {
		m.Why = m.Words(snap.Batch.Say.Reason(snap.Decision.Reason))
	}
	m.Pump = snap.Batch.Say.Config.HasPump
	m.Clock = say.Clock(snap.Decision.Clock)
	if v.Prompt != nil {
		if v.Prompt.Text == v.Sentence {
			m.Sentence = m.Words("Waiting for you: " + v.Step.Title + ".")
		}
		if v.Prompt.Litres != nil {
			m.Litres = fmt.Sprintf("%.1f", *v.Prompt.Litres)
			m.Refresh = "" // it would wipe out what is being typed
		}
	}
	m.controls(undoUntil(snap), snap.Decision.Late)
	m.Pictures, m.Needed = s.drawn(snap, m.Scale), neededOf(snap, m.Scale)
}

// controls are all buttons; those that make no sense now are there but not
// shown, so that the script can bring them out.
func (m *now) controls(undo, late time.Duration) {
	can := func(w controller.Wish) bool { return slices.Contains(m.State.Can, w.String()) }
	list := func(pairs ...any) (out []control) {
		for i := 0; i < len(pairs); i += 2 {
			w := pairs[i].(controller.Wish)
			out = append(out, control{Wish: w.String(), Label: pairs[i+1].(string), Shown: can(w)})
		}
		return out
	}
	m.Controls = list(controller.Pause, "Pause", controller.Resume, "Go on", controller.Skip, "Skip this step")
	m.Controls = append(m.Controls, control{
		Wish: controller.UndoSkip.String(), Label: "Take the skip back",
		Shown: can(controller.UndoSkip) && undo > 0, Until: undo.Seconds(),
	})
	m.Controls = append(m.Controls, list(controller.AdditionDone, "What was called out is in",
		controller.ExtendByDelay, delay(late), controller.ChillerIn, "The chiller hangs in",
		controller.ChillDone, "End the chill here", controller.HereLidOff, "I am here, lid off")...)
	m.More = list(controller.Extend, "This step 5 min longer: see first what comes of it", controller.StepBack, "Repeat the step before",
		controller.PumpOff, "Pump off now", controller.PumpOn, "The pump may run",
		controller.RestBed, "Rest the bed: heat and pump off for 3 min", controller.ItBoils, "It boils")
	m.NoGrain = can(controller.NoGrain)
}

// Unseen is the highest number of an alarm that nobody has seen; 0: none.
func (m *now) Unseen() uint64 { return unseen(m.State.Alarms, m.State.AlarmsOver) }

// CanEnd tells whether the batch can be ended.
func (m *now) CanEnd() bool { return slices.Contains(m.State.Can, controller.End.String()) }

// CanClear tells whether something has latched that no prompt asks about: the
// batch is over, or there is none.
func (m *now) CanClear() bool {
	return slices.Contains(m.State.Can, controller.ClearTrip.String())
}

// CanTell tells whether a person can tell of something that he did.
func (m *now) CanTell() bool {
	return slices.Contains(m.State.Can, controller.LidOff.String()) || slices.Contains(m.State.Can, controller.LidOn.String())
}

// Finish is when it is all over, as forecast, or else as planned.
func (m *now) Finish() string {
	if f := m.State.Forecast; f != nil && !m.Ended {
		if f.IfNow {
			return "If it went on now: " + f.Text + "."
		}
		return strings.ToUpper(f.Text[:1]) + f.Text[1:] + "."
	}
	return "Planned to finish at " + m.planned() + "."
}

// planned is the planned end.
func (m *now) planned() string {
	return say.Clock(time.Duration(m.State.Batch.Planned * float64(time.Second)))
}

// Events are the day's sentences, the newest first.
func (m *now) Events() []view.Event {
	list := slices.Clone(m.State.Events)
	slices.Reverse(list)
	return list
}

// At is when an event was.
func (m *now) At(e view.Event) string { return say.Clock(time.Duration(e.At * float64(time.Second))) }

// Holds tells whether a rule is the one that withholds heat.
func (m *now) Holds(id string, which *string) bool { return which != nil && *which == id }

// Cut and Trip are for the template, which cannot follow a pointer.
func (m *now) Cut() *string { return m.State.Cut }

// Trip is the rule that has latched.
func (m *now) Trip() *string { return m.State.Trip }

// pictures are the day, drawn for a narrow and for a wide page.
type pictures struct {
	StripNarrow, StripWide, ChartNarrow, ChartWide template.HTML
}
