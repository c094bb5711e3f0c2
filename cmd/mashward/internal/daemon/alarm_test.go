package daemon

import (
	"testing"
	"time"
)

// An alarm that comes and goes each few seconds is one line until somebody has seen it,
// no list grows without end, and a list that was given out is never changed.
func TestAnAlarmThatFlapsIsOneLine(t *testing.T) {
	var book alarmBook
	now := time.Duration(0)
	flap := func() []Alarm {
		now += time.Second
		book.keep([]Standing{{"no-reading", "No reading."}, {"too-hot", "Too hot."}}, now, time.Unix(0, 0).Add(now))
		now += time.Second
		return book.keep([]Standing{{"too-hot", "Too hot."}}, now, time.Unix(0, 0).Add(now))
	}
	for range 300 {
		flap()
	}
	all := flap()
	if len(all) != 2 || all[0].Times != 301 || all[0].Stands() || !all[1].Stands() || all[1].Times != 1 || all[1].Raised != time.Second {
		t.Fatalf("%+v", all)
	}
	before := all[0]
	for range 150 {
		book.upTo = book.number
		flap()
	}
	if all[0] != before {
		t.Error("a list that was given out has changed")
	}
	all = flap()
	if len(all) != mostAlarms || all[0].ID != "too-hot" || all[0].Unseen() || all[mostAlarms-1].Number != book.number || !all[mostAlarms-1].Unseen() {
		t.Errorf("%d alarms: %+v", len(all), all[0])
	}
}
