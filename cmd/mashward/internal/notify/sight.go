package notify

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"mashward/cmd/internal/notice"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/controller/interlock"
)

// thing is something that is told: a condition that stands, or a moment.
type thing struct {
	kind, id string
	key      string // apart from all others, and from the same on another day
	said, do string
	urgent   bool // heat is concerned
	once     bool // it is not said again while it stands
	returns  bool // its end is told, and it is one thing if it comes back soon
	seen     bool // a person has said on the page that he has seen it
	covered  bool // what is asked is said again anyhow; who hears of that needs not hear of this

	ahead, within time.Duration // a moment to come: how far ahead it is, and from when on it is told; 0: it is there
}

// sight is all that is seen of the kettle at one instant.
type sight struct {
	number    uint64
	idle      bool // there is no loop to watch
	simulated bool
	hot       bool // or not known
	under     bool // a batch is under way
	rig       string
	profile   string
	batch     string
	step      string
	clock     string // since arming
	reading   string
	stands    []thing
	moments   []thing
}

// seeing projects a snapshot.
func seeing(s *daemon.Snapshot) sight {
	v := view.Of(s)
	out := sight{
		number: s.Number, idle: s.HeatDisabled, simulated: s.Simulated, rig: v.Rig, reading: "unknown",
		hot: v.Probe.Hot || v.Probe.Temperature == nil,
	}
	if v.Probe.Temperature != nil {
		out.reading = fmt.Sprintf("%.1f °C", *v.Probe.Temperature)
	}
	if v.Batch != nil {
		out.profile, out.batch, out.step, out.clock = v.Batch.Profile, v.Batch.ID, v.Step.Title, say.Clock(s.Decision.Clock)
	}
	mode := s.Decision.Mode
	out.under = s.Batch != nil && (mode.Heats() || mode == controller.Held)
	out.conditions(s, &v)
	if s.Batch != nil {
		out.day(s, &v)
	}
	return out
}

// conditions are what stands.
func (o *sight) conditions(s *daemon.Snapshot, v *view.State) {
	mode, latched := s.Decision.Mode, s.Trip != interlock.NoRule
	if latched {
		o.stands = append(o.stands, thing{
			kind: notice.Trip, id: s.Trip.String(), key: "trip/" + s.Trip.String(), said: tripWords(s), urgent: true,
			do: "Isolate the element at the breaker first, then look for the cause. Clear it on the page when you have found it: " + press(controller.ClearTrip) + ".",
		})
	}
	if p := v.Prompt; p != nil && mode != controller.Offered && !(s.Decision.Prompt == controller.AskLookAtFault && (latched || s.GaveUp)) {
		o.stands = append(o.stands, thing{
			kind: notice.Prompt, id: p.ID, key: fmt.Sprintf("prompt/%s/%d/%s", p.ID, v.Step.Index, v.Batch.ID), said: p.Text, do: answerWords(p),
		})
	}
	if mode == controller.Offered || mode == controller.Held && !latched && !s.GaveUp {
		o.stands = append(o.stands, thing{
			kind: notice.Held, id: mode.String(), key: "held/" + mode.String() + "/" + v.Batch.ID, said: v.Sentence,
			do:   "Look at the kettle, then go on or end the batch, on the page.",
			once: s.Decision.Reason == controller.ByOperator, // whoever pressed knows
		})
	}
	if v.Cut != nil && !latched && mode.Heats() {
		o.stands = append(o.stands, thing{
			kind: notice.Cut, id: *v.Cut, key: "cut/" + *v.Cut, said: "Heat is cut for now. " + view.Cause(s.Cut) + " It comes back by itself when the cause has been gone for 10 s.",
			do: "Look at the kettle if it lasts.", urgent: true, returns: true,
		})
	}
	for _, a := range v.Alarms {
		o.stands = append(o.stands, thing{
			kind: notice.Alarm, id: a.ID, key: "alarm/" + a.ID, said: "Alarm: " + a.Text, do: "Look at the kettle.",
			urgent: a.ID == daemon.RelayUnknown || a.ID == daemon.RelayLost, returns: true,
			seen:    a.Seen != nil,
			covered: a.ID == controller.AlarmWaiting.String() && v.Prompt != nil,
		})
	}
}

// day are the moments of a batch.
func (o *sight) day(s *daemon.Snapshot, v *view.State) {
	d := &s.Decision
	for _, a := range v.Additions {
		if a.Called && !a.In && !d.Mode.Ended() {
			o.moments = append(o.moments, thing{
				kind: notice.Addition, id: fmt.Sprintf("addition-%d", a.Number), key: fmt.Sprintf("addition/%d/%s", a.Number, s.Batch.ID),
				said: fmt.Sprintf("Add now: %s (%s).", a.What, a.Where), do: "Nothing waits for it. When it is in, say so: " + press(controller.AdditionDone) + ".",
			})
		}
	}
	if d.Mode.Ended() {
		o.moments = append(o.moments, thing{kind: notice.Ended, id: d.Mode.String(), key: "ended/" + s.Batch.ID, said: v.Sentence})
	}
	if s.Forecast == nil || d.Mode != controller.Running {
		return
	}
	clock := view.Clock(s)
	o.moments = append(o.moments, thing{
		kind: notice.Finish, id: "finish", key: "finish/" + s.Batch.ID, said: fmt.Sprintf("It is nearly over: %s.", view.Finish(s.Forecast.Finish, clock)),
		ahead: s.Forecast.Finish.At - d.Clock, within: finishWithin,
	})
	for _, m := range s.Forecast.Moments {
		if m.Addition {
			continue
		}
		o.moments = append(o.moments, thing{
			kind: notice.Soon, id: m.Of, key: fmt.Sprintf("soon/%d/%s/%s", m.Step, m.Of, s.Batch.ID), ahead: m.At - d.Clock, within: soonWithin,
			said: fmt.Sprintf("You will be needed about %s (%s to %s). Then: %s", clock(m.At), clock(m.Early), clock(m.Late), m.What),
		})
	}
}

// From when on what is to come is told.
const (
	finishWithin = 15 * time.Minute
	soonWithin   = 10 * time.Minute
)

// tripWords is the newest sentence of the day about the trip, which has its figures.
func tripWords(s *daemon.Snapshot) string {
	const back = 50 // sentences
	for i := len(s.Log) - 1; i >= max(0, len(s.Log)-back); i-- {
		if text := s.Log[i].Text; strings.HasPrefix(text, "Heat is cut and stays off: "+s.Trip.String()+".") {
			return text + " " + view.Cause(s.Trip)
		}
	}
	return "Heat is cut and stays off: " + s.Trip.String() + ". " + view.Cause(s.Trip)
}

// answerWords is how a question is answered.
func answerWords(p *view.Prompt) string {
	if p.Button == "" {
		return "Do it, then look at the page."
	}
	text := fmt.Sprintf("Go to the kettle and look. Then answer with %q on the page", p.Button)
	if p.Litres == nil {
		return text + ", or at the computer itself with: mashward tell " + p.Wish + "."
	}
	return text + ", or at the computer itself with: mashward tell " + p.Wish + fmt.Sprintf(" --litres %.1f (as read).", *p.Litres)
}

// press is a wish at the terminal of the computer itself.
func press(w controller.Wish) string { return "mashward tell " + w.String() }

// plain leaves letters of a text, blanks and line breaks: names in it come from
// files, and may hold whatever steers a terminal or turns the writing round.
func plain(text string, longest int) string {
	var b strings.Builder
	n := 0
	for _, r := range strings.ToValidUTF8(text, "?") {
		if n++; n > longest {
			b.WriteString("...")
			break
		}
		switch {
		case r == '\n':
			b.WriteRune(r)
		case unicode.IsPrint(r) || r == ' ':
			b.WriteRune(r)
		default:
			b.WriteByte(' ')
		}
	}
	return b.String()
}
