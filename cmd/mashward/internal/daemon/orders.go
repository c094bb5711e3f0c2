package daemon

import (
	"context"
	"errors"
	"sync"

	"mashward/controller"
)

// Reply is what became of an order.
type Reply struct {
	Accepted bool
	Why      controller.Refusal // where it was not accepted
}

// ErrBusy says that too many orders wait: a stuck client, or a flood.
var ErrBusy = errors.New("too many orders wait: try again in a second")

// ErrDown says that the loop does not run.
var ErrDown = errors.New("the loop does not run: no order can be taken")

// waiting bounds the queue; one order is taken a tick.
const waiting = 16

// order is one wish on its way to the loop.
type order struct {
	command controller.Command
	batch   *Batch // with Start: the batch to begin
	reply   chan Reply
}

// orders is the queue before the loop. Stop goes to its head.
type orders struct {
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
		q.list = append([]*order{o}, q.list...)
		return nil
	case len(q.list) >= waiting:
		return ErrBusy
	}
	q.list = append(q.list, o)
	return nil
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

// close refuses what comes and what waits.
func (q *orders) close() {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.down = true
	for _, o := range q.list {
		o.reply <- Reply{Why: controller.WrongMode}
	}
	q.list = nil
}

// send queues an order and waits for the tick that takes it.
func (d *Daemon) send(ctx context.Context, o *order) (Reply, error) {
	o.reply = make(chan Reply, 1)
	if err := d.queue.push(o); err != nil {
		return Reply{}, err
	}
	select {
	case r := <-o.reply:
		return r, nil
	case <-ctx.Done():
		return Reply{}, ctx.Err()
	}
}

// Do asks for one command and waits for the tick that takes it. Start is not
// among them: a batch is begun by Arm and Begin.
func (d *Daemon) Do(ctx context.Context, c controller.Command) (Reply, error) {
	switch c.Wish {
	case controller.Stop:
		return d.Stop(ctx)
	case controller.Start, controller.NoWish:
		return Reply{Why: controller.WrongMode}, nil
	}
	return d.send(ctx, &order{command: c})
}

// Stop takes heat and pump away now, then tells the loop. It needs nobody's
// leave and waits for nothing before the lines are off.
func (d *Daemon) Stop(ctx context.Context) (Reply, error) {
	if d.kettle != nil {
		d.kettle.Drop()
	}
	return d.send(ctx, &order{command: controller.Command{Wish: controller.Stop}})
}
