package daemon

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"mashward/controller"
	"mashward/profile/strict"
)

// Statements are what a person says before heat, one screen a batch.
type Statements struct {
	Litres    float64 // cold litres in the kettle, as read from it
	BagClear  bool    // bag or false bottom is clear of the element
	ValveShut bool    // valve shut, hoses clamped
	RCDTested bool    // RCD test button pressed today, and it tripped
	// ResumeWithin is the longest power cut after which the mash may go on by
	// itself; 0: a person is asked. Nobody needs to choose.
	ResumeWithin time.Duration
	// By when, or in how long, the strike water is to be hot; nothing: heat begins at
	// once.
	ReadyAt time.Time
	ReadyIn time.Duration
	// Override arms although the last rehearsal broke what the profile expects. It
	// overrides nothing else.
	Override bool
}

// ArmedFor is how long an arming waits for its start: long enough for wet hands.
const ArmedFor = 5 * time.Minute

// litresWithin is how far the litres stated may be from the profile's.
const litresWithin = 0.05

// Errors of arming; each says what to do.
var (
	ErrNotRehearsed = errors.New("this profile has not been rehearsed on this rig: rehearse it first")
	ErrChanged      = errors.New("profile or rig file has changed since you looked: look at the plan again")
	ErrRunning      = errors.New("a batch is under way: end it first")
	ErrTripped      = errors.New("a heat cut is latched: find its cause and clear it first")
	ErrRelay        = errors.New("a relay does not answer, or has given up: isolate the element, see the log for why, mend it, and clear what stands")
	ErrNonce        = errors.New("this arming is not valid (any more): arm again")
	ErrSpent        = errors.New("this arming has been used already: look at the state")
)

// Unstated is a statement that is missing.
type Unstated struct{ What string }

// Error says which.
func (u *Unstated) Error() string { return u.What }

// arming is the one arming that may be outstanding.
type arming struct {
	mu    sync.Mutex
	nonce string
	until time.Time
	batch *Batch
	after uint64 // presses of STOP when it was made; a later one voids it
	spent string // the nonce used last
}

// Arm is the first of two steps to heat: everything is checked, and what comes
// back is good for one start within five minutes.
func (d *Daemon) Arm(id, hash string, s Statements) (nonce string, b *Batch, err error) {
	after := d.queue.stops.Load()
	b, faults, err := d.Plan(id)
	if err != nil {
		return "", nil, err
	}
	if strict.Refused(faults) {
		return "", nil, &Refusal{faults}
	}
	if b.Hash != hash {
		return "", nil, ErrChanged
	}
	r, ok := d.Rehearsed(hash)
	if !ok || r.Outcome != controller.Complete.String() {
		return "", nil, ErrNotRehearsed
	}
	if b.Overridden = BrokenBy(r); len(b.Overridden) > 0 && !s.Override {
		return "", nil, &Unkept{b.Overridden}
	}
	if err := errors.Join(d.ready(), d.answers()); err != nil {
		return "", nil, err
	}
	if err := s.check(float64(b.Profile.Water)); err != nil {
		return "", nil, err
	}
	if b, err = d.endsThen(b); err != nil {
		return "", nil, err
	}
	b.ResumeWithin = s.ResumeWithin
	if s.chosen() {
		if b.Later, err = d.schedule(b, s); err != nil {
			return "", nil, err
		}
	}
	nonce = rand.Text()
	d.arming.mu.Lock()
	d.arming.nonce, d.arming.until, d.arming.batch, d.arming.after = nonce, d.o.Now().Add(ArmedFor), b, after
	d.arming.mu.Unlock()
	d.o.Log.Info("armed", "profile", b.File)
	for _, broken := range b.Overridden {
		d.o.Log.Warn("armed although the rehearsal broke a promise", "profile", b.File, "promise", broken)
	}
	return nonce, b, nil
}

// ready tells whether a new batch could begin now.
func (d *Daemon) ready() error {
	if w := d.Latest().Waiting; w != nil && w.Over == "" {
		return ErrWaiting
	}
	return d.unhindered()
}

// unhindered is the same without what waits for its moment.
func (d *Daemon) unhindered() error {
	last := d.Latest()
	switch {
	case !free(last.Decision.Mode):
		return ErrRunning
	case last.Trip != 0:
		return ErrTripped
	}
	return nil
}

// free tells whether no batch is under way.
func free(m controller.Mode) bool { return m == controller.Idle || m.Ended() }

// answers tells whether the lines take what they are told, heat included.
func (d *Daemon) answers() error {
	if last := d.Latest(); last.LineFault != nil || last.GaveUp {
		return ErrRelay
	}
	return nil
}

// check demands all four statements.
func (s Statements) check(water float64) error {
	switch {
	case !(s.Litres > 0): // nothing said, or no number
		return &Unstated{fmt.Sprintf("say as a number how many litres of cold water the kettle holds: the profile needs %.1f", water)}
	case !(math.Abs(s.Litres-water) <= litresWithin*water):
		return &Unstated{fmt.Sprintf("the profile needs %.1f L of water and you state %.1f L: correct the fill, or the profile", water, s.Litres)}
	case s.ResumeWithin < 0 || s.ResumeWithin > MostResume:
		return &Unstated{"a batch may go on by itself after a power cut of 30 min at most: choose 0 to be asked"}
	}
	return s.seen()
}

// seen demands what has to be seen at the kettle.
func (s Statements) seen() error {
	switch {
	case !s.BagClear:
		return &Unstated{"say that bag or false bottom is clear of the element"}
	case !s.ValveShut:
		return &Unstated{"say that the valve is shut and the hoses are clamped"}
	case !s.RCDTested:
		return &Unstated{"press the test button of the RCD (GFCI), and say that it tripped"}
	}
	return nil
}

// Begin is the second step: it starts what was armed, once, or lets it wait for its
// moment.
func (d *Daemon) Begin(ctx context.Context, nonce string) (Reply, error) {
	b, after, err := d.redeem(nonce)
	if err != nil {
		return Reply{}, err
	}
	if err := errors.Join(d.ready(), d.answers()); err != nil {
		return Reply{}, err
	}
	if b.Later != nil { // its record is made when it begins
		if d.Latest().Now > b.Later.last {
			return Reply{}, ErrNonce // it could not be hot in time any more
		}
		return d.send(ctx, &order{batch: b, after: after})
	}
	b.Armed = d.o.Now()
	b.ID = b.Armed.UTC().Format("20060102-150405") + "-" + b.Hash[:6]
	b.order = d.order.Add(1)
	b.createRecord(&d.o)
	r, err := d.send(ctx, &order{command: controller.Command{Wish: controller.Start}, batch: b, after: after})
	if err != nil && !errors.Is(err, ErrSilent) {
		d.discard(b) // the loop never saw it
	}
	r.Batch = b.ID
	return r, err
}

// redeem takes the nonce out of the world.
func (d *Daemon) redeem(nonce string) (*Batch, uint64, error) {
	a := &d.arming
	a.mu.Lock()
	defer a.mu.Unlock()
	switch {
	case nonce != "" && nonce == a.spent:
		return nil, 0, ErrSpent
	case nonce == "" || nonce != a.nonce, d.o.Now().After(a.until):
		return nil, 0, ErrNonce
	}
	b := a.batch
	a.spent, a.nonce, a.batch = nonce, "", nil
	return b, a.after, nil
}
