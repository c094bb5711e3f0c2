package daemon

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile/enzyme"
)

// Errors of what is asked before it is done.
var (
	ErrAsking  = errors.New("another change is being looked at: ask again in a second")
	ErrTooSlow = errors.New("it could not be worked out in time, and nothing was changed: ask again")
	errWhatIf  = errors.New("it could not be worked out: that went wrong, and nothing was changed")
)

// askWithin is how long working it out may take: a thousand times what it takes on a
// desktop.
const askWithin = 2 * time.Second

// instant is the batch as it is at the end of this tick, for what is asked of it.
func (d *Daemon) instant(f *loop.Frame, s *Snapshot) *ahead.Instant {
	if d.batch == nil || d.day == nil || f.Decision.Mode == controller.Idle || f.Decision.Mode.Ended() {
		return nil
	}
	at := &ahead.Instant{Day: d.day, State: *f.State, Trip: f.Tick.Trip, Limit: s.Limit}
	if s.Mashing {
		at.Mash = s.Mash
	} else if f.State.GrainIn {
		at.Mash = enzyme.State{Begun: true, Lost: true} // it is in, and nobody has followed it
	}
	return at
}

// WhatIf tells what would come of a change to the batch that runs: from a copy of its
// state, beside the loop, which hears of nothing. One is worked out at a time.
func (d *Daemon) WhatIf(ctx context.Context, c controller.Command) (ahead.Outlook, error) {
	at := d.Latest().at
	switch {
	case d.kettle == nil:
		return ahead.Outlook{}, ErrDisabled
	case at == nil:
		return ahead.Outlook{}, ahead.ErrNotRunning
	case !d.asking.CompareAndSwap(false, true):
		return ahead.Outlook{}, ErrAsking
	}
	ctx, cancel := context.WithTimeout(ctx, askWithin)
	defer cancel()
	work := d.o.WhatIf
	if work == nil {
		work = (*ahead.Instant).WhatIf
	}
	type result struct {
		out ahead.Outlook
		err error
	}
	done := make(chan result, 1)
	go func() {
		r := result{err: errWhatIf}
		defer func() {
			if p := recover(); p != nil {
				d.o.Log.Error("what if", "error", fmt.Sprintf("%v\n%s", p, debug.Stack()))
			}
			d.asking.Store(false) // only now: who went away leaves it at work
			done <- r
		}()
		r.out, r.err = work(at, c)
	}()
	select {
	case r := <-done:
		return r.out, r.err
	case <-ctx.Done():
		return ahead.Outlook{}, ErrTooSlow
	}
}
