package notify

import (
	"context"
	"slices"
	"sync"
	"time"

	"mashward/cmd/internal/notice"
)

// Bounds of what waits for a target.
const (
	mostWaiting  = 32
	mostAttempts = 6
	firstPause   = 5 * time.Second // doubled from one attempt to the next
	longestPause = 2 * time.Minute
	leastPause   = time.Second
	staleAfter   = 20 * time.Minute // what could not be told by then is no news
)

// Result is what became of a message to one target.
type Result uint8

// The results.
const (
	Sent      Result = iota // the target took it
	Refused                 // it answered that it never will
	Failed                  // it did not take it in all attempts
	Dropped                 // too many waited
	Overtaken               // before it was sent it was no news any more, or a newer one said it
	resultCount
)

var resultNames = [resultCount]string{"sent", "refused", "failed", "dropped", "overtaken"}

// String is the result in one word.
func (r Result) String() string { return resultNames[r] }

// Results are all of them.
func Results() []Result { return []Result{Sent, Refused, Failed, Dropped, Overtaken} }

// letter is a message on its way to one target.
type letter struct {
	Message
	id       string // the same in every attempt
	born     time.Time
	attempts int
	gone     bool // it is no news any more
}

// outbox is what waits for one target, and the one goroutine that carries it there.
type outbox struct {
	target *notice.Target
	post   *poster
	now    func() time.Time
	chance func() float64 // 0 to 1
	wake   chan struct{}  // has room for one

	mu     sync.Mutex
	queue  []*letter
	flying *letter // its attempt is under way
	counts [resultCount]uint64
	last   Reply
	lastAt time.Time
}

// push puts a letter last, and waits for nobody.
func (x *outbox) push(l *letter) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if i := slices.IndexFunc(x.queue, func(o *letter) bool { return o != x.flying && o.key == l.key && o.State != isOver }); i >= 0 && l.State == isAgain {
		x.queue[i] = l // it says all that the older one would have said
		x.counts[Overtaken]++
	} else {
		x.queue = append(x.queue, l)
	}
	if len(x.queue) > mostWaiting {
		x.drop()
	}
	select {
	case x.wake <- struct{}{}:
	default:
	}
}

// drop takes out the oldest of the least urgent.
func (x *outbox) drop() {
	least := -1
	for i, l := range x.queue {
		if l != x.flying && (least < 0 || l.Urgent < x.queue[least].Urgent) {
			least = i
		}
	}
	x.queue = slices.Delete(x.queue, least, least+1)
	x.counts[Dropped]++
}

// withdraw takes back what has no sense any more once a thing is over: a question
// that was answered, and whatever would be said again.
func (x *outbox) withdraw(key string) {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.queue = slices.DeleteFunc(x.queue, func(l *letter) bool {
		if l.key != key || l.State == isOver || l.State == isNew && l.Kind != notice.Prompt {
			return false
		}
		if l.gone = true; l == x.flying {
			return false
		}
		x.counts[Overtaken]++
		return true
	})
}

// run carries letters one after another until ctx is done.
func (x *outbox) run(ctx context.Context) {
	for ctx.Err() == nil {
		l := x.take()
		if l == nil {
			select {
			case <-ctx.Done():
			case <-x.wake:
			}
			continue
		}
		reply := x.post.send(ctx, l)
		if ctx.Err() != nil {
			return
		}
		if x.settle(l, reply) {
			x.rest(ctx, l, reply)
		}
	}
}

// take is the letter whose turn it is.
func (x *outbox) take() *letter {
	x.mu.Lock()
	defer x.mu.Unlock()
	select {
	case <-x.wake: // it was about what is seen here
	default:
	}
	if len(x.queue) == 0 {
		return nil
	}
	x.flying = x.queue[0]
	x.flying.attempts++
	return x.flying
}

// settle notes how an attempt went; true: the letter is to be tried again.
func (x *outbox) settle(l *letter, reply Reply) bool {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.flying = nil
	x.last, x.lastAt = reply, x.now()
	result := Sent
	switch {
	case reply.Taken:
	case l.gone:
		result = Overtaken
	case !reply.Again:
		result = Refused
	case l.attempts >= mostAttempts || x.now().Sub(l.born) > staleAfter:
		result = Failed
	default:
		return true
	}
	x.counts[result]++
	x.queue = slices.DeleteFunc(x.queue, func(o *letter) bool { return o == l })
	return false
}

// count notes a message that was sent past the queue.
func (x *outbox) count(reply Reply) {
	x.mu.Lock()
	defer x.mu.Unlock()
	switch {
	case reply.Taken:
		x.counts[Sent]++
	case reply.Again:
		x.counts[Failed]++
	default:
		x.counts[Refused]++
	}
}

// rest waits before the next attempt: longer each time, never in step with others,
// as long as the target asks for, and no longer than until there is more to say.
func (x *outbox) rest(ctx context.Context, l *letter, reply Reply) {
	pause := min(longestPause, firstPause<<(l.attempts-1))
	pause = max(leastPause, time.Duration((0.5+x.chance())*float64(pause)))
	if !wait(ctx, max(pause, reply.After), x.wake) {
		return
	}
	// Woken: soon, but not at once. A burst of news is no reason to hammer.
	wait(ctx, max(leastPause, reply.After), nil)
}

// wait passes the time; true if something happened before it was over.
func wait(ctx context.Context, d time.Duration, happens <-chan struct{}) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
		return false
	case <-happens:
		return true
	}
}
