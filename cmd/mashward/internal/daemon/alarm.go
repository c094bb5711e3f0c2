package daemon

import (
	"context"
	"errors"
	"slices"
	"time"

	"mashward/cmd/internal/say"
	"mashward/controller"
)

// Alarms beside those of the core.
const (
	RelayUnknown = "relay-unknown" // a line gives an error: what is not known counts as heating
	RelayLost    = "relay-lost"    // a line's driver failed again and again; off until a person has looked
	NotRecorded  = "not-recorded"  // storage does not take the record
	NotOffered   = "not-offered"   // a batch that was cut off cannot go on
	NotBegun     = "not-begun"     // strike water was armed for later and is not heated
)

// Standing is an alarm that stands at one instant.
type Standing struct{ ID, Text string }

// Standing are the alarms of a snapshot.
func (s *Snapshot) Standing() (all []Standing) {
	for a, stands := range s.Decision.Alarms {
		if stands {
			all = append(all, Standing{controller.Alarm(a).String(), say.Alarm(controller.Alarm(a))})
		}
	}
	add := func(stands bool, id, text string) {
		if stands {
			all = append(all, Standing{id, text})
		}
	}
	add(s.LineFault != nil, RelayUnknown, "The relay does not answer: nobody knows whether it heats. Isolate the element at the breaker.")
	add(s.GaveUp, RelayLost, "What drives a relay failed again and again as it was to switch on: heat stays off. Isolate the element, look at relay, wiring and log, then clear it.")
	add(s.Unstored != nil, NotRecorded, "What happens now is not stored, and a power cut would lose it. The batch goes on; free space, or look at the card.")
	add(s.Unoffered != "", NotOffered, s.Unoffered)
	if w := s.Waiting; w != nil {
		add(w.Alarm && w.Over != "", NotBegun, say.NotBegun(w.Over))
	}
	return all
}

// Alarm is one alarm from its beginning on: it stands or is over, and somebody has said
// that he has seen it or nobody has; the four states of IEC 62682. Heat cuts are none: they
// are told, and cleared, by themselves.
type Alarm struct {
	Number   uint64 // from 1, since the start of mashward
	ID, Text string
	Times    int // it has come so often before anybody had seen it
	Raised   time.Duration
	RaisedAt time.Time
	Over     time.Duration // where it is over; on the run clock, as Raised and Seen
	OverAt   time.Time     // zero: it stands
	Seen     time.Duration
	SeenAt   time.Time // zero: nobody has said so
}

// Stands tells whether its cause is still there.
func (a *Alarm) Stands() bool { return a.OverAt.IsZero() }

// Unseen tells whether nobody has said that he has seen it.
func (a *Alarm) Unseen() bool { return a.SeenAt.IsZero() }

// mostAlarms bounds what is kept of them.
const mostAlarms = 100

// alarmBook keeps the alarms since the start, the oldest first. A list that was given out
// is never changed.
type alarmBook struct {
	all    []Alarm
	number uint64
	upTo   uint64 // alarms up to this number were seen in this tick
}

// keep takes what stands in this tick.
func (k *alarmBook) keep(standing []Standing, now time.Duration, wall time.Time) []Alarm {
	changed := false
	edit := func() {
		if !changed {
			k.all, changed = slices.Clone(k.all), true
		}
	}
	for i := range k.all {
		a := &k.all[i]
		if a.Unseen() && a.Number <= k.upTo {
			edit()
			k.all[i].Seen, k.all[i].SeenAt = now, wall
		}
		if a.Stands() && !slices.ContainsFunc(standing, func(s Standing) bool { return s.ID == a.ID }) {
			edit()
			k.all[i].Over, k.all[i].OverAt = now, wall
		}
	}
	k.upTo = 0
	for _, s := range standing {
		if slices.ContainsFunc(k.all, func(a Alarm) bool { return a.ID == s.ID && a.Stands() }) {
			continue
		}
		edit()
		k.raise(s, now, wall)
	}
	return k.all
}

// raise begins an alarm, or lets one go on that has come and gone unseen: what flaps is
// one line, not a hundred.
func (k *alarmBook) raise(s Standing, now time.Duration, wall time.Time) {
	for i := range k.all {
		if a := &k.all[i]; a.ID == s.ID && a.Unseen() {
			a.Over, a.OverAt, a.Text = 0, time.Time{}, s.Text
			a.Times++
			return
		}
	}
	if len(k.all) >= mostAlarms {
		if i := slices.IndexFunc(k.all, func(a Alarm) bool { return !a.Stands() }); i >= 0 {
			k.all = slices.Delete(k.all, i, i+1)
		}
	}
	k.number++
	k.all = append(k.all, Alarm{Number: k.number, ID: s.ID, Text: s.Text, Times: 1, Raised: now, RaisedAt: wall})
}

// ErrNoAlarm says that there is none of that number.
var ErrNoAlarm = errors.New("there is no alarm of that number: look at the alarms")

// SeenAlarms says that a person has seen all alarms up to a number. It changes nothing
// about their causes, nor about heat.
func (d *Daemon) SeenAlarms(ctx context.Context, upTo uint64) (Reply, error) {
	if d.kettle == nil {
		return Reply{}, ErrDisabled
	}
	if last := d.Latest().Alarms; upTo == 0 || len(last) == 0 || upTo > last[len(last)-1].Number {
		return Reply{}, ErrNoAlarm
	}
	return d.send(ctx, &order{seen: upTo, after: d.queue.stops.Load()})
}

// SeenAllAlarms says that a person has seen all that there are now; where none is unseen
// there is nothing to say.
func (d *Daemon) SeenAllAlarms(ctx context.Context) error {
	all := d.Latest().Alarms
	if !slices.ContainsFunc(all, func(a Alarm) bool { return a.Unseen() }) {
		return nil
	}
	_, err := d.SeenAlarms(ctx, all[len(all)-1].Number)
	return err
}
