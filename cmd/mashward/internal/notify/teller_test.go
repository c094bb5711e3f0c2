package notify

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/notice"
	"mashward/cmd/mashward/internal/daemon"
)

const minute = time.Minute

// told is what a teller said, a line each: "5m0s again x".
type told struct {
	teller
	lines []string
	over  []string
}

// through looks once a second, as long as it is told, at what stands then.
func (t *told) through(from, to time.Duration, stands ...thing) {
	for now := from; now < to; now += time.Second {
		words, over := t.look(now, &sight{batch: "b", stands: stands})
		for _, w := range words {
			t.lines = append(t.lines, fmt.Sprintf("%v %s %s", now, w.state, w.key))
		}
		t.over = append(t.over, over...)
	}
}

func (t *told) want(x *testing.T, want ...string) {
	x.Helper()
	if got := strings.Join(t.lines, "\n"); got != strings.Join(want, "\n") {
		x.Errorf("told\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
}

// One message, not one a second; then at the minutes that the documentation names,
// and not for ever.
func TestAQuestionIsSaidAgainUntilItIsAnsweredAndSevenTimesAtMost(t *testing.T) {
	prompt := thing{kind: notice.Prompt, key: "p"}
	var x told
	x.through(0, 3*time.Hour, prompt)
	x.want(t, "0s new p", "2m0s again p", "5m0s again p", "10m0s again p", "20m0s again p", "40m0s again p", "1h20m0s again p")

	var answered told
	answered.through(0, 4*minute, prompt)
	answered.through(4*minute, 20*minute)
	answered.want(t, "0s new p", "2m0s again p")
	if len(answered.over) != 1 || answered.over[0] != "p" {
		t.Errorf("over: %q", answered.over)
	}
	answered.through(20*minute, 21*minute, prompt) // the next such question is a new one
	if n := len(answered.lines); answered.lines[n-1] != "20m0s new p" {
		t.Error(answered.lines)
	}
}

func TestAnAlarmIsSaidAgainUntilSomebodyHasSeenItAndItsEndOnce(t *testing.T) {
	alarm := thing{kind: notice.Alarm, key: "a", returns: true}
	var x told
	x.through(0, 3*minute, alarm)
	if got := x.acknowledge(); len(got) != 1 || got[0] != "a" || x.acknowledge() != nil {
		t.Error(got)
	}
	x.through(3*minute, 30*minute, alarm)
	x.through(30*minute, 60*minute)
	x.want(t, "0s new a", "2m0s again a", "30m0s over a")
}

// Seen is seen, until it comes again.
func TestAnAlarmThatWasSeenIsNewWhenItComesAgain(t *testing.T) {
	alarm := thing{kind: notice.Alarm, key: "a", returns: true}
	var x told
	x.through(0, 3*minute, alarm)
	alarm.seen = true
	x.through(3*minute, time.Hour, alarm)
	alarm.seen = false // it came and went, and came again before anybody had seen that
	x.through(time.Hour, 61*minute, alarm)
	x.want(t, "0s new a", "2m0s again a", "1h0m0s new a")
}

// What comes and goes within ten minutes is one thing: its messages are bounded by
// the clock, not by how often it flaps.
func TestWhatFlapsIsNotANewAlarmEachTime(t *testing.T) {
	cut := thing{kind: notice.Cut, key: "c", returns: true}
	var x told
	for now := time.Duration(0); now < time.Hour; now += 40 * time.Second {
		x.through(now, now+20*time.Second, cut)
		x.through(now+20*time.Second, now+40*time.Second)
	}
	if n := len(x.lines); n < 3 || n > 2*MostTimes {
		t.Errorf("%d messages: %q", n, x.lines)
	}
	last := ""
	for _, l := range x.lines { // never twice the same, but for what stands again
		_, what, _ := strings.Cut(l, " ")
		if what == last && strings.HasPrefix(what, isOver) {
			t.Errorf("twice: %s in %q", l, x.lines)
		}
		last = what
	}
	x.through(time.Hour, 2*time.Hour)
	x.through(2*time.Hour, 2*time.Hour+minute, cut) // an hour later it is
	if l := x.lines[len(x.lines)-1]; l != "2h0m0s new c" {
		t.Error(l)
	}
}

func TestWhatWasStoppedByHandIsSaidOnce(t *testing.T) {
	var x told
	x.through(0, 2*time.Hour, thing{kind: notice.Held, key: "h", once: true})
	x.want(t, "0s new h")
}

// A start is no news of what was before it; what is near from the beginning, or
// past, is none either.
func TestMomentsAreToldOnceAndOnlyIfTheyAreNews(t *testing.T) {
	look := func(x *teller, ahead time.Duration, batch string) int {
		tell, _ := x.look(0, &sight{batch: batch, moments: []thing{{key: "f" + batch, ahead: ahead, within: 15 * minute}}})
		return len(tell)
	}
	var x teller
	for i, c := range []struct {
		ahead time.Duration
		batch string
		want  int
	}{
		{10 * minute, "1", 0}, {5 * minute, "1", 0}, // near from the beginning
		{40 * minute, "2", 0}, {15 * minute, "2", 1}, {14 * minute, "2", 0}, {30 * minute, "2", 0}, {15 * minute, "2", 0}, // a forecast wavers
		{40 * minute, "3", 0}, {-minute, "3", 0},
	} {
		if got := look(&x, c.ahead, c.batch); got != c.want {
			t.Errorf("%d: %d told, want %d", i, got, c.want)
		}
	}
	ended := sight{batch: "9", moments: []thing{{key: "ended/9"}}}
	var y teller
	if tell, _ := y.look(0, &ended); len(tell) != 0 {
		t.Error("a start tells of the end of a batch before it")
	}
	y.look(0, &sight{batch: "10"})
	ended = sight{batch: "10", moments: []thing{{key: "ended/10"}}}
	if tell, _ := y.look(0, &ended); len(tell) != 1 {
		t.Error("the end of a batch is not told")
	}
}

// Names come from files that anybody may have written.
func TestAMessageIsPlainText(t *testing.T) {
	hostile := "Pale\x1b[31m\u202eale\u200b <b>&\r\nSet-Cookie: x=1 \u0007" + strings.Repeat("x", 9000)
	s := sight{rig: hostile, profile: hostile, batch: "b", step: hostile, reading: "66.9 °C", hot: true}
	m := write(word{thing: thing{kind: notice.Prompt, id: "lift", said: hostile, do: hostile, key: "k"}, state: isNew, times: 1}, &s, time.Date(2026, 11, 27, 10, 41, 0, 0, time.UTC))
	for _, f := range notice.Fields() {
		if f == "line" {
			continue
		}
		text := m.Field(f)
		if text == "" && f != "clock" {
			t.Errorf("{%s} is empty", f)
		}
		if len([]rune(text)) > longestText+3 || strings.ContainsAny(text, "\r\x1b\a\u202e\u200b") {
			t.Errorf("{%s}: %.200q", f, text)
		}
	}
	if !strings.Contains(m.Field("text"), "HOT, 66.9 °C") && len(hostile) < longestText {
		t.Error(m.Field("text"))
	}
}

func TestAMessageSaysWhereWhenWhatAndWhatToDo(t *testing.T) {
	s := sight{rig: "Yard kettle", profile: "Rye, four rests", batch: "b", clock: "1:12", reading: "76.9 °C", hot: true}
	w := word{thing: thing{kind: notice.Prompt, id: "lift", said: "The mash is done.", do: "Go to the kettle and look."}, state: isAgain, times: 3, standing: 5 * minute}
	m := write(w, &s, time.Date(2026, 11, 27, 10, 41, 0, 0, time.UTC))
	want := "Yard kettle, Rye, four rests, 1:12 since arming, at 10:41:\nThe mash is done.\nIt has stood like this for 5 min; this is said 3 times now, 7 times at most.\n" +
		"Go to the kettle and look.\nHOT, 76.9 °C by the probe: wort and steam scald. A kettle that is not heating is still live: isolate before opening or reaching in."
	if m.Field("text") != want || m.Field("title") != "Yard kettle: again: you are needed" || m.Urgent != 5 {
		t.Errorf("%s\n%s", m.Field("title"), m.Field("text"))
	}
	s.simulated, s.reading = true, "unknown"
	m = write(word{thing: w.thing, state: isNew, times: 1}, &s, time.Now())
	if m.Field("title") != "SIMULATED: Yard kettle: you are needed" || !strings.Contains(m.Field("text"), "SIMULATED: no real kettle. The temperature is unknown: treat it as hot.") {
		t.Errorf("%s\n%s", m.Field("title"), m.Field("text"))
	}
}

// An alarm that a person has seen, on the page or by the interface, is not said again:
// one word is enough.
func TestAnAlarmThatWasSeenOnThePageIsNotSaidAgain(t *testing.T) {
	count := func(seenAfter time.Duration) int {
		var x teller
		n := 0
		for now := time.Duration(0); now < 40*minute; now += time.Second {
			s := &daemon.Snapshot{LineFault: errors.New("wire loose"), Alarms: []daemon.Alarm{{Number: 1, ID: daemon.RelayUnknown, Times: 1}}}
			if now >= seenAfter {
				s.Alarms[0].SeenAt = time.Unix(1, 0)
			}
			one := seeing(s)
			tell, _ := x.look(now, &one)
			n += len(tell)
		}
		return n
	}
	if never, seen := count(40*minute), count(minute); seen != 1 || never < 3 {
		t.Errorf("told %d times, and %d times where it was seen after a minute", never, seen)
	}
}
