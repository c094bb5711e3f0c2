package notify

import (
	"slices"
	"strings"
	"time"

	"mashward/cmd/internal/notice"
)

// again is when something that still stands is said again, since it was said
// first. It ends there: who has not heard seven messages will not hear an eighth.
var again = [...]time.Duration{2 * time.Minute, 5 * time.Minute, 10 * time.Minute, 20 * time.Minute, 40 * time.Minute, 80 * time.Minute}

// MostTimes is how often one thing is said at most, its end apart.
const MostTimes = len(again) + 1

// remembered is how long a condition may be gone and still be the same: one that
// comes and goes is no new one each time.
const remembered = 10 * time.Minute

// The states of a thing in a message.
const (
	isNew   = "new"
	isAgain = "again"
	isOver  = "over"
)

// spell is one time that a thing stands.
type spell struct {
	thing
	since, gone time.Duration
	over        bool // it is gone
	times       int
	last        string // state in which it was told last
	known       bool   // a person has said that he knows
}

// teller decides what is said when. It knows no clock and sends nothing.
type teller struct {
	spells []*spell
	done   map[string]bool // moments that were told
	far    map[string]bool // moments that were seen before they were near
	batch  string
	begun  bool
}

// word is something to be said now.
type word struct {
	thing
	state    string
	times    int
	standing time.Duration
}

// look takes one sight at an instant of the process's own clock, and says what is
// to be told, and the keys of what is over.
func (t *teller) look(now time.Duration, s *sight) (tell []word, over []string) {
	for i := range s.stands {
		if w, ok := t.stands(now, &s.stands[i]); ok {
			tell = append(tell, w)
		}
	}
	for _, p := range t.spells {
		if p.over || slices.ContainsFunc(s.stands, func(x thing) bool { return x.key == p.key }) {
			continue
		}
		p.over, p.gone = true, now
		over = append(over, p.key)
		if p.returns && p.last != isOver {
			p.last = isOver
			tell = append(tell, word{p.thing, isOver, p.times, now - p.since})
		}
	}
	t.spells = slices.DeleteFunc(t.spells, func(p *spell) bool { return p.over && (!p.returns || now-p.gone > remembered) })
	return append(tell, t.happens(s)...), over
}

// stands takes one condition.
func (t *teller) stands(now time.Duration, x *thing) (word, bool) {
	i := slices.IndexFunc(t.spells, func(p *spell) bool { return p.key == x.key })
	if i < 0 {
		t.spells = append(t.spells, &spell{thing: *x, since: now, times: 1, last: isNew})
		return word{*x, isNew, 1, 0}, true
	}
	p := t.spells[i]
	if p.seen && !x.seen { // it was over meanwhile, and is another one
		*p = spell{thing: *x, since: now, times: 1, last: isNew}
		return word{*x, isNew, 1, 0}, true
	}
	p.thing, p.over = *x, false
	if p.once || p.seen || p.known || p.times >= MostTimes || now-p.since < again[p.times-1] {
		return word{}, false
	}
	p.times++
	p.last = isAgain
	return word{*x, isAgain, p.times, now - p.since}, true
}

// happens takes the moments: each is told once. Those that are past when the first
// look is taken are no news, nor are those that were near from the beginning.
func (t *teller) happens(s *sight) (tell []word) {
	if s.batch != t.batch || t.done == nil {
		t.done, t.far, t.batch = map[string]bool{}, map[string]bool{}, s.batch
	}
	for _, m := range s.moments {
		switch {
		case m.ahead > m.within:
			t.far[m.key] = true
		case m.ahead <= 0 && m.within > 0, m.within > 0 && !t.far[m.key], t.done[m.key]:
		case !t.begun:
			t.done[m.key] = true
		default:
			t.done[m.key] = true
			tell = append(tell, word{m, isNew, 1, 0})
		}
	}
	t.begun = true
	return tell
}

// acknowledge ends the repeating of all that stands, and says what that is.
func (t *teller) acknowledge() (keys []string) {
	for _, p := range t.spells {
		if !p.over && !p.known {
			p.known = true
			keys = append(keys, p.key)
		}
	}
	return keys
}

// urgency is how much a message wants to be heard.
func (w *word) urgency() int {
	switch {
	case w.state == isOver:
		return 3
	case w.urgent || w.times >= 3:
		return 5
	case w.kind == notice.Prompt || w.kind == notice.Alarm || w.kind == notice.Held || w.kind == notice.Addition:
		return 4
	}
	return 3
}

// headline is the event in a few words.
func (w *word) headline() string {
	text := map[string]string{
		notice.Prompt: "you are needed", notice.Addition: "add now", notice.Soon: "you will be needed soon", notice.Alarm: "alarm",
		notice.Trip: "heat is cut and stays off", notice.Cut: "heat is cut for now", notice.Held: "the batch is held",
		notice.Ended: "the batch is over", notice.Finish: "nearly finished", notice.Trial: "a test",
	}[w.kind]
	switch w.state {
	case isAgain:
		return strings.Join([]string{"again", text}, ": ")
	case isOver:
		return strings.Join([]string{"no longer", text}, ": ")
	}
	return text
}
