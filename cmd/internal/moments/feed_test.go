package moments

import (
	"testing"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/controller/loop"
)

// A calendar that fetches the feed of a whole day every five minutes: each event keeps
// its name, its number rises whenever it moves and only then, and at the end each stands
// where somebody was at the kettle, by the batch's own account. Nothing is called off.
func TestAFeedOverAWholeDayEndsWithWhatWas(t *testing.T) {
	var b Book
	var next, clock time.Duration
	last := map[string]Event{}
	fetch := func(f ahead.Forecast) Calendar {
		now := armed.Add(f.Made)
		c := b.Calendar(Day{Batch: "day", Salt: "salt", Clock: f.Made, List: Of(f, f.Made, now, 1)})
		for _, e := range c.Events {
			was, known := last[e.UID]
			switch {
			case !known:
			case e.Start.Equal(was.Start) && e.Cancelled == was.Cancelled && e.Sequence != was.Sequence && e.What == was.What:
				t.Errorf("at %v %q is numbered anew and has not changed", f.Made, e.Title)
			case (!e.Start.Equal(was.Start) || e.Cancelled != was.Cancelled) && e.Sequence <= was.Sequence:
				t.Errorf("at %v %q has moved, and its number is %d after %d", f.Made, e.Title, e.Sequence, was.Sequence)
			}
			last[e.UID] = e
		}
		return c
	}
	asked := map[string]time.Duration{} // when it was asked for first
	var c Calendar
	d := day(t, nil, func(f *loop.Frame, a ahead.Forecast) {
		if of, ok := asks[f.Decision.Prompt]; ok && asked[of] == 0 {
			asked[of] = f.Decision.Clock
		}
		clock = f.Decision.Clock
		if clock < next && !f.Decision.Mode.Ended() {
			return
		}
		next = clock + 5*time.Minute
		c = fetch(a)
	})
	if len(c.Events) != len(d.Persons)-1 { // all but the filling
		t.Errorf("%d events of %d moments", len(c.Events), len(d.Persons))
	}
	asked["end"] = clock
	found := 0
	for _, e := range c.Events {
		if e.Cancelled {
			t.Errorf("%q is called off", e.Title)
		}
		for of, at := range asked {
			if e.Title == titles[of] {
				found++
				if off := e.Start.Sub(armed.Add(at)); off > 6*time.Minute || off < -6*time.Minute {
					t.Errorf("%s stands %v off", of, off)
				}
			}
		}
	}
	if found != len(asked) || found < 6 { // pour, lift, break, chiller, chill, end
		t.Errorf("%d found of %v", found, asked)
	}
}
