package notify

import (
	"context"
	"crypto/x509"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"mashward/cmd/internal/notice"
	"mashward/cmd/mashward/internal/daemon"
)

// Options are what notifications are made of.
type Options struct {
	File   notice.File
	Faults []string // of the file; nothing is sent then
	Latest func() *daemon.Snapshot
	Now    func() time.Time // with its monotonic reading
	Log    *slog.Logger
	Chance func() float64 // 0 to 1, so that attempts do not come in step; nil: by chance
	Say    func(Message)  // told of every message, whether or not there is a target; may be nil
	Dial   Dial           // nil: the network
	Roots  *x509.CertPool // nil: the system's
}

// Notifier looks at the kettle and tells.
type Notifier struct {
	o     Options
	began time.Time
	boxes []*outbox

	mu     sync.Mutex
	teller teller
	sent   uint64 // letters written
	number uint64 // of the newest snapshot
	moved  time.Time

	trying sync.Mutex
}

// every is how often the kettle is looked at.
const every = time.Second

// silence is for how long the loop may give no news.
const silence = 10 * time.Second

// New prepares a notifier; Run starts it.
func New(o Options) *Notifier {
	n := &Notifier{o: o, began: o.Now(), moved: o.Now()}
	for i := range o.File.Targets {
		t, chance := &o.File.Targets[i], o.Chance
		if chance == nil {
			chance = rand.New(rand.NewPCG(uint64(n.began.UnixNano()), uint64(i))).Float64
		}
		n.boxes = append(n.boxes, &outbox{target: t, post: newPoster(t, o.Dial, o.Roots), now: o.Now, chance: chance, wake: make(chan struct{}, 1)})
	}
	return n
}

// Run looks and tells until ctx is done. It runs one goroutine for each target, and
// at the end one more, for the farewell.
func (n *Notifier) Run(ctx context.Context) {
	var running sync.WaitGroup
	defer running.Wait()
	for _, x := range n.boxes {
		running.Add(1)
		go func() { defer running.Done(); x.run(ctx) }()
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		n.look()
		select {
		case <-ctx.Done():
			n.farewell()
			return
		case <-tick.C:
		}
	}
}

// farewellWithin is how long the end of the program may wait for its last messages.
// Heat is off before that.
const farewellWithin = 2 * time.Second

// farewell tells that the program is being ended, where a batch is under way: once,
// past the queues, for nobody is left to try again.
func (n *Notifier) farewell() {
	s := seeing(n.o.Latest())
	if !s.under {
		return
	}
	m := write(farewell(), &s, n.o.Now())
	if n.o.Say != nil {
		n.o.Say(m)
	}
	var running sync.WaitGroup
	for _, x := range n.boxes {
		if !x.target.Tells(m.Kind) {
			continue
		}
		running.Add(1)
		go func() {
			defer running.Done()
			x.count(x.post.exchange(context.Background(), &m, n.letterID(), min(x.target.Timeout, farewellWithin), 0))
		}()
	}
	running.Wait()
}

// look takes one look. A mistake in what is said must not end the program that
// holds the kettle.
func (n *Notifier) look() {
	defer func() {
		if failed := recover(); failed != nil {
			n.o.Log.Error("notifications: a look failed", "error", failed)
		}
	}()
	s := seeing(n.o.Latest())
	now := n.o.Now()
	messages, over := n.tell(&s, now)
	for _, x := range n.boxes {
		for _, key := range over {
			x.withdraw(key)
		}
	}
	for _, m := range messages {
		n.hand(m, now)
	}
}

// tell asks the teller.
func (n *Notifier) tell(s *sight, now time.Time) (messages []Message, over []string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if s.number != n.number || s.idle {
		n.number, n.moved = s.number, now
	}
	if d := now.Sub(n.moved); d >= silence {
		s.stands = append(s.stands, silent(d))
	}
	words, over := n.teller.look(now.Sub(n.began), s)
	for _, w := range words {
		messages = append(messages, write(w, s, now))
	}
	return messages, over
}

// hand gives a message to every target that is told of it.
func (n *Notifier) hand(m Message, now time.Time) {
	for _, x := range n.boxes {
		t := x.target
		if !t.Tells(m.Kind) || t.Once && m.State == isAgain || m.covered && t.Tells(notice.Prompt) {
			continue
		}
		x.push(&letter{Message: m, id: n.letterID(), born: now})
	}
	if n.o.Say != nil {
		n.o.Say(m)
	}
}

// letterID names a letter apart from all others of this program.
func (n *Notifier) letterID() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.sent++
	return fmt.Sprintf("mashward-%x-%d", n.began.UnixNano(), n.sent)
}

// Seen ends the repeating of all that stands; the answer is what that is. Whatever
// comes new is told as before.
func (n *Notifier) Seen() []string {
	n.mu.Lock()
	keys := n.teller.acknowledge()
	n.mu.Unlock()
	for _, x := range n.boxes {
		for _, key := range keys {
			x.withdraw(key)
		}
	}
	return keys
}

// Tried is how a test went at one target.
type Tried struct {
	Target string `json:"target"`
	Host   string `json:"host"`
	Taken  bool   `json:"taken"`
	Status *int   `json:"status"` // null: there was no answer
	Text   string `json:"text"`
}

// testWithin is how long a test waits at most, whatever the target may.
const testWithin = 8 * time.Second

// Test sends one message to each target, past its queue and once, and says what
// came back. One test runs at a time: false where another does.
func (n *Notifier) Test(ctx context.Context) ([]Tried, bool) {
	if !n.trying.TryLock() {
		return nil, false
	}
	defer n.trying.Unlock()
	s := seeing(n.o.Latest())
	m := write(trial(&s), &s, n.o.Now())
	tried := make([]Tried, len(n.boxes))
	var running sync.WaitGroup
	for i, x := range n.boxes {
		running.Add(1)
		go func() {
			defer running.Done()
			tried[i] = x.try(ctx, &m, n.letterID())
		}()
	}
	running.Wait()
	return tried, true
}

// try sends one message and waits for what comes back.
func (x *outbox) try(ctx context.Context, m *Message, id string) Tried {
	reply := x.post.exchange(ctx, m, id, min(x.target.Timeout, testWithin), mostShown)
	x.mu.Lock()
	x.last, x.lastAt = reply, x.now()
	x.mu.Unlock()
	out := Tried{Target: x.target.Name, Host: x.target.Host(), Taken: reply.Taken, Text: reply.Text}
	if reply.Status != 0 {
		out.Status = &reply.Status
	}
	return out
}

// State is how the telling stands.
type State struct {
	Targets []TargetState `json:"targets"`
	Stands  []Standing    `json:"stands"`
	Faults  []string      `json:"faults"` // of the file: nothing is sent
}

// TargetState is how one target stands.
type TargetState struct {
	Target  string   `json:"target"`
	Host    string   `json:"host"` // without what may be secret in the address
	Tells   []string `json:"tells"`
	Waiting int      `json:"waiting"` // messages on their way
	Sent    uint64   `json:"sent"`
	Unsent  uint64   `json:"unsent"` // refused, failed, dropped or overtaken
	Last    string   `json:"last"`   // what came back last; "" before
	LastAt  *string  `json:"last_at"`
}

// Standing is something that is said again until somebody answers.
type Standing struct {
	Kind  string  `json:"kind"`
	ID    string  `json:"id"`
	Text  string  `json:"text"`
	For   float64 `json:"for_seconds"`
	Times int     `json:"times"`
	Seen  bool    `json:"seen"` // nothing is said again
}

// State tells how the telling stands.
func (n *Notifier) State() State {
	out := State{Targets: []TargetState{}, Stands: []Standing{}, Faults: append([]string{}, n.o.Faults...)}
	for _, x := range n.boxes {
		out.Targets = append(out.Targets, x.state())
	}
	now := n.o.Now().Sub(n.began)
	n.mu.Lock()
	defer n.mu.Unlock()
	for _, p := range n.teller.spells {
		if !p.over {
			out.Stands = append(out.Stands, Standing{
				Kind: p.kind, ID: p.id, Text: plain(p.said, longestSaid), For: (now - p.since).Truncate(time.Second).Seconds(), Times: p.times,
				Seen: p.seen || p.known || p.once || p.times >= MostTimes,
			})
		}
	}
	return out
}

func (x *outbox) state() TargetState {
	x.mu.Lock()
	defer x.mu.Unlock()
	s := TargetState{
		Target: x.target.Name, Host: x.target.Host(), Tells: slices.Clone(x.target.Kinds), Waiting: len(x.queue), Sent: x.counts[Sent], Last: x.last.Text,
	}
	for r, n := range x.counts {
		if Result(r) != Sent {
			s.Unsent += n
		}
	}
	if !x.lastAt.IsZero() {
		at := x.lastAt.UTC().Format(time.RFC3339)
		s.LastAt = &at
	}
	return s
}

// Counts gives what became of the messages to each target since the start.
func (n *Notifier) Counts(emit func(target string, r Result, count uint64)) {
	for _, x := range n.boxes {
		x.mu.Lock()
		counts := x.counts
		x.mu.Unlock()
		for _, r := range Results() {
			emit(x.target.Name, r, counts[r])
		}
	}
}
