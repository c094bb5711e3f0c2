package notify

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"mashward/cmd/internal/notice"
	"mashward/cmd/internal/say"
)

// Message is one thing as it is told.
type Message struct {
	Kind    string
	State   string // new, again or over
	Urgent  int    // 3 to 5
	Said    string
	Do      string
	key     string
	covered bool
	fields  map[string]string
}

// Field is what stands for a field of the file.
func (m *Message) Field(name string) string { return m.fields[name] }

// Bounds of what is told, in characters.
const (
	longestName = 80
	longestSaid = 1200
	longestText = 2400
)

// write makes a message of a word, as seen then.
func write(w word, s *sight, at time.Time) Message {
	said := plain(w.said, longestSaid)
	m := Message{Kind: w.kind, State: w.state, Urgent: w.urgency(), Said: said, Do: plain(w.do, longestSaid), key: w.key, covered: w.covered}
	if w.state == isOver {
		m.Said, m.Do = "No longer: "+strings.TrimPrefix(said, "Alarm: "), ""
	}
	title := plain(s.rig, longestName) + ": " + w.headline()
	if s.simulated {
		title = "SIMULATED: " + title
	}
	simulated := map[bool]string{true: "yes", false: "no"}[s.simulated]
	m.fields = map[string]string{
		"title": title, "said": m.Said, "do": m.Do, "event": w.kind, "id": plain(w.id, longestName), "state": w.state, "times": strconv.Itoa(w.times),
		"urgent": strconv.Itoa(m.Urgent), "rig": plain(s.rig, longestName), "profile": plain(s.profile, longestName), "batch": plain(s.batch, longestName),
		"step": plain(s.step, longestName), "temperature": s.reading, "clock": s.clock, "time": at.UTC().Format(time.RFC3339), "simulated": simulated,
	}
	m.fields["text"] = plain(text(&m, w, s, at), longestText)
	return m
}

// text is all of it in whole sentences, a line each: where and when, what, for how
// long, what to do, and the cautions.
func text(m *Message, w word, s *sight, at time.Time) string {
	var lines []string
	add := func(line string) {
		if line != "" {
			lines = append(lines, line)
		}
	}
	where := s.rig
	if s.profile != "" {
		where += ", " + s.profile
	}
	if s.clock != "" && w.kind != notice.Trial {
		where += fmt.Sprintf(", %s since arming", s.clock)
	}
	add(fmt.Sprintf("%s, at %s:", where, at.Format("15:04")))
	add(m.Said)
	if w.state == isAgain {
		add(fmt.Sprintf("It has stood like this for %s; this is said %s now, %d times at most.", say.Length(w.standing), say.Times(w.times), MostTimes))
	}
	if w.state == isOver {
		add(fmt.Sprintf("It stood for %s.", say.Length(w.standing)))
	}
	add(m.Do)
	add(cautions(w, s))
	return strings.Join(lines, "\n")
}

// cautions are said wherever somebody may be about to touch the kettle.
func cautions(w word, s *sight) string {
	var parts []string
	if s.simulated {
		parts = append(parts, "SIMULATED: no real kettle.")
	}
	switch {
	case s.reading == "unknown":
		parts = append(parts, "The temperature is unknown: treat it as hot.")
	case s.hot:
		parts = append(parts, fmt.Sprintf("HOT, %s by the probe: wort and steam scald.", s.reading))
	default:
		parts = append(parts, fmt.Sprintf("The probe reads %s.", s.reading))
	}
	if w.kind == notice.Finish || w.kind == notice.Soon {
		return strings.Join(parts, " ")
	}
	return strings.Join(append(parts, "A kettle that is not heating is still live: isolate before opening or reaching in."), " ")
}

// trial is the message by which a person tries whether it arrives.
func trial(s *sight) word {
	return word{thing: thing{
		kind: notice.Trial, id: notice.Trial, key: notice.Trial,
		said: "This is a test: somebody asked whether messages arrive. Nothing has happened.",
		do:   "Nothing is to be done. Do not rely on messages: they are a convenience, and nothing waits for one.",
	}, state: isNew, times: 1}
}

// farewell is what is told when mashward is ended with a batch under way.
func farewell() word {
	return word{thing: thing{
		kind: notice.Held, id: "ending", key: "held/ending", urgent: true,
		said: "mashward is being ended while a batch is under way: heat and pump go off, and nothing watches the kettle.",
		do:   "Look at the kettle. When mashward is started again it offers the batch.",
	}, state: isNew, times: 1}
}

// silent is the loop that gives no news.
func silent(d time.Duration) thing {
	return thing{
		kind: notice.Alarm, id: "no-news", key: "alarm/no-news", urgent: true, returns: true,
		said: fmt.Sprintf("Alarm: the control loop has given no news for %s, and nobody knows what the kettle does. Without it heat is to end by itself within 3 s.", say.Length(d.Truncate(10*time.Second))),
		do:   "Go and look. Isolate the element at the breaker if you cannot see that it does not heat.",
	}
}
