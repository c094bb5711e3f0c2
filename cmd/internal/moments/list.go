// Package moments tells a person when he has to be at the kettle: the forecast of a
// batch as a list with the times in which he is free, in words, and as a calendar.
package moments

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"mashward/cmd/internal/ahead"
)

// Entry is one moment by the clock on the wall.
type Entry struct {
	ahead.Moment
	At, Early, Late time.Time
	// Free is until when nobody is needed after it; zero: the next moment is too near
	// to go away, or there is none.
	Free time.Time
	Last bool // no moment comes after it
}

// List is when somebody has to be there.
type List struct {
	Made    time.Time
	Free    time.Time // until when nobody is needed from now on; zero: somebody is
	Stay    time.Time // until when whoever is there stays; Made: longer than was foreseen; zero: nobody has to
	Entries []Entry   // in order
	Finish  Span
}

// Span is a stretch of the clock on the wall in which something will be.
type Span struct{ At, Early, Late time.Time }

// worthGoing is the shortest time in which anyone goes away from a kettle (common
// practice, no source).
const worthGoing = 10 * time.Minute

// Of is the forecast by the clock on the wall, which shows now while that of the batch
// stands at clock; the zone is now's. pace is how fast the batch goes by that clock: a
// simulated one may go faster; 0: as it does.
func Of(f ahead.Forecast, clock time.Duration, now time.Time, pace float64) List {
	if !(pace > 0) {
		pace = 1
	}
	by := func(at time.Duration) time.Time { return now.Add(time.Duration(float64(at-clock) / pace)) }
	wall := func(s ahead.Span) Span { return Span{by(s.At), by(s.Early), by(s.Late)} }
	l := List{Made: now, Finish: wall(f.Finish)}
	for _, m := range f.Moments {
		s := wall(m.Span)
		l.Entries = append(l.Entries, Entry{Moment: m, At: s.At, Early: s.Early, Late: s.Late})
	}
	from := l.Made
	if f.Stay > 0 {
		l.Stay = by(max(f.Stay, clock))
	}
	for i := range l.Entries {
		e := &l.Entries[i]
		free := time.Time{}
		if e.Early.Sub(from) >= worthGoing {
			free = e.Early
		}
		switch {
		case i == 0 && l.Stay.IsZero():
			l.Free = free
		case i > 0:
			l.Entries[i-1].Free = free
		}
		from = e.Late
		if stay := by(e.Until); e.Until > 0 && stay.After(from) {
			from = stay
		}
	}
	if n := len(l.Entries); n > 0 {
		l.Entries[n-1].Last = true
	}
	return l
}

// Waits tells that it is due: somebody is waited for, or would be late now.
func (l *List) Waits(e *Entry) bool { return !e.At.After(l.Made) }

// titles are what is to be done, in a few words.
var titles = map[string]string{
	"fill": "fill, look at valve and hoses, and arm", "pour": "pour the grain", "lift": "lift the grain",
	"break": "take the lid off and stand by for the hot break", "chiller": "hang in the chiller", "loop": "see that the hoses hold: the pump scalds its loop",
	"chill": "open the chiller's water", "tap": "end the chill, or put ice on the way of its water", "end": "end the batch; isolate the kettle, empty and clean it",
}

// Title is what is to be done, in a few words.
func Title(m *ahead.Moment) string {
	if t, ok := titles[m.Of]; ok {
		return t
	}
	first, _, _ := strings.Cut(m.What, ". ")
	first = strings.TrimSuffix(first, ".")
	if r, n := utf8.DecodeRuneInString(first); n > 0 {
		return string(unicode.ToLower(r)) + first[n:]
	}
	return m.Of
}

// Clock writes an instant to the minute that has begun, with the day of the week where
// it is not now's day. The zero time knows no day.
func Clock(t, now time.Time) string {
	year, day := t.Year(), t.YearDay()
	if !now.IsZero() && (now.Year() != year || now.YearDay() != day) {
		return t.Format("Mon 15:04")
	}
	return t.Format("15:04")
}

// about is an instant to the nearest minute, until one to the next.
func about(t time.Time) time.Time { return t.Add(30 * time.Second) }
func until(t time.Time) time.Time { return t.Add(time.Minute - 1) }

// When is the instant, to the nearest minute.
func (e *Entry) When(now time.Time) string { return Clock(about(e.At), now) }

// Band is the stretch in which it will be, in brackets; "" where that is less than two
// minutes.
func (e *Entry) Band(now time.Time) string {
	if e.Late.Sub(e.Early) < 2*time.Minute {
		return ""
	}
	return fmt.Sprintf("(%s to %s)", Clock(e.Early, now), Clock(until(e.Late), now))
}

// Then is what comes after it, for a person: free time, or none.
func (e *Entry) Then(now time.Time) string {
	switch {
	case !e.Free.IsZero():
		return "then free until " + Clock(e.Free, now)
	case e.Last:
		return ""
	}
	return "stay for what comes next"
}

// Words is one line: "11:42 (11:38 to 11:47) pour the grain; then free until 13:05".
func (e *Entry) Words(now time.Time) string {
	out := e.When(now)
	if band := e.Band(now); band != "" {
		out += " " + band
	}
	out += " " + Title(&e.Moment)
	if then := e.Then(now); then != "" {
		out += "; " + then
	}
	return out
}

// Stays tells that nobody is needed now, but whoever is there stays until a known time.
func (l *List) Stays() bool {
	return l.Stay.After(l.Made) && (len(l.Entries) == 0 || !l.Waits(&l.Entries[0]))
}

// Words is the sentence before the list.
func (l *List) Words() string {
	switch {
	case len(l.Entries) == 0:
		return "Nobody is needed any more."
	case l.Waits(&l.Entries[0]):
		return "You are needed now."
	case !l.Stay.IsZero() && !l.Stay.After(l.Made): // it takes longer than planned
		return "Stay there."
	case l.Stays():
		return "Stay there until " + Clock(until(l.Stay), l.Made) + "."
	case !l.Free.IsZero():
		return "You are free until " + Clock(l.Free, l.Made) + "."
	}
	return "You are needed in a moment: stay."
}
