package view

import (
	"fmt"
	"slices"

	"mashward/cmd/mashward/internal/daemon"
)

// Alarm is a condition that wants a person.
type Alarm struct {
	ID     string  `json:"id"`
	Text   string  `json:"text"`
	Said   string  `json:"said"`   // all of it, as sentences
	Number uint64  `json:"number"` // by which it is said to be seen; 0: it has none yet
	Times  int     `json:"times"`  // it has come so often before anybody had seen it
	Raised *string `json:"raised"` // RFC 3339, the daemon's wall clock
	Over   *string `json:"over"`   // null: it stands
	Seen   *string `json:"seen"`   // null: nobody has said that he has seen it
}

// alarmsOf are the alarms that stand, and those that are over and that nobody has seen.
func alarmsOf(s *daemon.Snapshot) (standing, over []Alarm) {
	standing, over = []Alarm{}, []Alarm{}
	for _, a := range s.Standing() {
		one := Alarm{ID: a.ID, Text: a.Text, Said: a.Text}
		if i := slices.IndexFunc(s.Alarms, func(k daemon.Alarm) bool { return k.ID == a.ID && k.Stands() }); i >= 0 {
			one = alarmOf(&s.Alarms[i])
		}
		standing = append(standing, one)
	}
	for i := range s.Alarms {
		if a := &s.Alarms[i]; !a.Stands() && a.Unseen() {
			over = append(over, alarmOf(a))
		}
	}
	return standing, over
}

// Alarms are all since the start, the newest first.
func Alarms(s *daemon.Snapshot) []Alarm {
	all := make([]Alarm, 0, len(s.Alarms))
	for i := range s.Alarms {
		all = append(all, alarmOf(&s.Alarms[i]))
	}
	slices.Reverse(all)
	return all
}

func alarmOf(a *daemon.Alarm) Alarm {
	return Alarm{a.ID, a.Text, said(a), a.Number, a.Times, someUTC(a.RaisedAt), someUTC(a.OverAt), someUTC(a.SeenAt)}
}

// said is an alarm with what became of it.
func said(a *daemon.Alarm) string {
	text := a.Text
	if !a.Stands() {
		text = "Over: " + text
	}
	if a.Times > 1 {
		text += fmt.Sprintf(" It has come %d times.", a.Times)
	}
	if !a.Unseen() {
		return text + " Somebody has seen it."
	}
	if !a.Stands() {
		text += " Nobody has said that he has seen it."
	}
	return text
}
