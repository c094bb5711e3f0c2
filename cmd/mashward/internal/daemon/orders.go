package daemon

import (
	"context"
	"errors"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"mashward/controller"
)

// Reply is what became of an order.
type Reply struct {
	Accepted bool
	Why      controller.Refusal // where it was not accepted
	Batch    string             // Begin: the id of the batch
}

// Errors of orders that the loop has not taken, or not answered; each says
// what to do.
var (
	ErrBusy    = errors.New("too many orders wait: try again in a second")
	ErrDown    = errors.New("the loop does not run: no order can be taken; isolate the element")
	ErrStopped = errors.New("STOP was pressed after this: look at the kettle, then ask again")
	ErrTooLate = errors.New("the loop did not take it in time, and it was withdrawn: look at the state, then ask again")
	ErrSilent  = errors.New("the loop has taken it and does not answer: look at the state before you ask again")
)

// waiting bounds the queue; one order is taken a tick.
const waiting = 16

// tickTakes is more than a tick that is under way can take, so that an order
// that was taken in the last moment still gets its answer.
const tickTakes = time.Second

// order is one wish on its way to the loop.
type order struct {
	command controller.Command
	batch   *Batch // with Start: the batch to begin
	after   uint64 // presses of STOP that its sender knew of
	presses uint64 // with Stop: how many presses it stands for
	callOff bool   // of what is armed for later; not for the core
	seen    uint64 // alarms up to this number, by a person; not for the core
	replies []chan answer
}

// answer is a reply, or why there is none.
type answer struct {
	reply Reply
	err   error
}

// done tells everyone who waits for this order. It never blocks: each channel
// has room for its one answer.
func (o *order) done(r Reply, err error) {
	for _, c := range o.replies {
		c <- answer{r, err}
	}
}

// orders is the queue before the loop. STOP goes to its head and sweeps away
// what waited: nothing that was asked before it may happen after it.
type orders struct {
	stops atomic.Uint64 // presses of STOP

	mu   sync.Mutex
	list []*order
	down bool
}

func (q *orders) push(o *order) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	switch {
	case q.down:
		return ErrDown
	case o.command.Wish == controller.Stop:
		q.pushStop(o)
		return nil
	case o.after != q.stops.Load():
		return ErrStopped
	case len(q.list) >= waiting:
		return ErrBusy
	}
	q.list = append(q.list, o)
	return nil
}

// pushStop puts a STOP at the head, alone. Several presses are one order, so
// that a hand that hammers does not keep the loop busy.
func (q *orders) pushStop(o *order) {
	for _, w := range q.list {
		if w.command.Wish == controller.Stop {
			o.presses += w.presses
			o.replies = append(o.replies, w.replies...)
			continue
		}
		w.done(Reply{}, ErrStopped)
	}
	q.list = []*order{o}
}

func (q *orders) pop() *order {
	q.mu.Lock()
	defer q.mu.Unlock()
	if len(q.list) == 0 {
		return nil
	}
	o := q.list[0]
	q.list = q.list[1:]
	return o
}

// withdraw takes an order out again; false if the loop has it already.
func (q *orders) withdraw(o *order) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	i := slices.Index(q.list, o)
	if i < 0 {
		return false
	}
	q.list = slices.Delete(q.list, i, i+1)
	return true
}

// close refuses what comes and what waits.
func (q *orders) close() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.down = true
	for _, o := range q.list {
		o.done(Reply{}, ErrDown)
	}
	q.list = nil
}

// Waiting is how many orders wait for the loop.
func (d *Daemon) Waiting() int {
	d.queue.mu.Lock()
	defer d.queue.mu.Unlock()
	return len(d.queue.list)
}

// send queues an order and waits for the tick that takes it. When ctx ends
// first the order is withdrawn, so that nothing happens long after it was
// asked; a STOP stays.
func (d *Daemon) send(ctx context.Context, o *order) (Reply, error) {
	mine := make(chan answer, 1)
	o.replies = append(o.replies, mine)
	if err := d.queue.push(o); err != nil {
		return Reply{}, err
	}
	select {
	case a := <-mine:
		return a.reply, a.err
	case <-ctx.Done():
	}
	if o.command.Wish != controller.Stop && d.queue.withdraw(o) {
		return Reply{}, ErrTooLate
	}
	underWay := time.NewTimer(tickTakes)
	defer underWay.Stop()
	select {
	case a := <-mine:
		return a.reply, a.err
	case <-underWay.C:
		return Reply{}, ErrSilent
	}
}

// Do asks for one command and waits for the tick that takes it. Start is not
// among them: a batch is begun by Arm and Begin, and one that is offered goes on
// by GoOn.
func (d *Daemon) Do(ctx context.Context, c controller.Command) (Reply, error) {
	switch {
	case d.kettle == nil:
		return Reply{}, ErrDisabled
	case c.Wish == controller.Stop:
		return d.Stop(ctx)
	case c.Wish == controller.End && d.Latest().Waiting != nil:
		return d.CallOff(ctx)
	case c.Wish == controller.Start || c.Wish == controller.TakeUp || c.Wish == controller.TakeUpAlone || c.Wish == controller.NoWish:
		return Reply{Why: controller.WrongMode}, nil
	}
	return d.send(ctx, &order{command: c, after: d.queue.stops.Load()})
}

// Stop takes heat and pump away now, then tells the loop. It needs nobody's
// leave and waits for nothing before the lines are off; no lock is taken, and
// nothing is asked of the loop, until they are. What has been armed is armed
// no longer. The error says only that the loop has not confirmed it.
func (d *Daemon) Stop(ctx context.Context) (Reply, error) {
	if d.kettle == nil {
		return Reply{}, ErrDisabled
	}
	d.queue.stops.Add(1)
	d.kettle.Drop()
	return d.send(ctx, &order{command: controller.Command{Wish: controller.Stop}, presses: 1})
}

// stopTaken frees the lines once the loop has heard every press of STOP: off is
// now the batch's own state. A press that comes in between drops them again.
func (d *Daemon) stopTaken(o *order) {
	d.heard += o.presses
	if d.queue.stops.Load() != d.heard {
		return
	}
	d.kettle.Rearm()
	if d.queue.stops.Load() != d.heard {
		d.kettle.Drop()
	}
}
