package record

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/verify"
)

// When is written what. All by the run clock.
const (
	// CheckpointEvery is the longest time between two checkpoints.
	CheckpointEvery = time.Minute
	// SyncEarning is the time between two syncs while a clock earns, or time
	// passes that may be counted back: a power cut may cost 5 s of it, 4 and
	// what a sync takes.
	SyncEarning = 4 * time.Second
	// SyncRunning is that time while the batch runs and nothing is earned.
	SyncRunning = 30 * time.Second
	// BufferSize is what waits for storage at most, in bytes; about an hour.
	BufferSize = 256 << 10
	// StallAfter is how long storage may take over a sync before Err says so.
	StallAfter = 10 * time.Second

	// A tick comes some milliseconds early or late. Without this slack the sync
	// of every other round would be one tick late, and cost a second more.
	slack       = 500 * time.Millisecond
	appendAt    = 4 << 10        // bytes that are worth an append without a sync
	unsyncedAt  = BufferSize / 2 // bytes that ask for one, also when idle: some hours of it
	room        = 16 << 10       // beyond BufferSize, for what belongs to the last tick taken
	longestNote = 1000           // bytes
)

// Options of a recorder.
type Options struct {
	// Direct writes within Watch, without a goroutine: for storage that never
	// waits, as Memory. The order of everything is then the same every time.
	Direct bool
	// Guard is where the loop keeps its guard. It is read in Watch and in New.
	// nil: checkpoints hold a zero guard, and a replay leaves the interlock out.
	Guard *interlock.Guard
	// Watch is where the loop keeps the memory of its checks, beside the guard.
	Watch *verify.State
	// Pace is how many seconds of the run clock pass in one that storage feels: a
	// simulated kettle runs faster than a disk. 0 is 1.
	Pace float64
}

// Recorder writes the record of one batch. It is a loop.Watcher.
//
// When the batch has ended it writes the end and takes no more frames.
type Recorder struct {
	mu     sync.Mutex // guards everything down to the sink; never held over storage in the writer
	fill   []byte     // encoded, not yet handed to the sink
	held   int        // bytes that the writer has taken over and not got rid of
	sum    uint32     // that the next block carries on
	row    rows
	tick   Tick
	check  Checkpoint
	scrap  []byte // a payload under construction
	guard  *interlock.Guard
	watch  *verify.State
	sync   bool // a sync is due
	ended  bool // an end stands in the record
	closed bool // no more frames
	lost   uint64
	missed uint64 // lost since the last gap was written

	mode      controller.Mode
	reason    controller.Reason
	trip      interlock.Rule
	index     uint8
	earned    time.Duration
	lineFault bool
	checked   time.Duration // run clock of the last checkpoint
	synced    time.Duration // and of the last sync asked for
	asked     time.Duration // and of the oldest sync that is not confirmed, while waiting
	waiting   bool
	now       time.Duration // of the last tick
	patience  time.Duration // StallAfter by the run clock

	direct bool
	sink   sink
	wake   chan struct{} // capacity 1
	gone   chan struct{} // closed when the writer has ended
}

var (
	errNotEmpty = errors.New("there is a record already: one file a batch")
	errClosed   = errors.New("record: closed")
	errStalled  = fmt.Errorf("record: storage has not answered for %v: the batch goes on, but what happens now is not on storage", StallAfter)
)

// New begins a record on empty storage. state is the core's before its next
// tick. Head and start are on storage when New returns in direct mode, else on
// their way to it: see Err.
func New(storage Storage, head Head, state controller.State, o Options) (*Recorder, error) {
	size, err := storage.Size()
	if err == nil && size != 0 {
		err = errNotEmpty
	}
	if err != nil {
		return nil, fmt.Errorf("beginning a record: %w", err)
	}
	head.Guarded = o.Guard != nil
	text, err := head.encode()
	if err != nil {
		return nil, err
	}
	r := newRecorder(storage, 0, firstSum(), o)
	r.fill = append(r.fill, magic...)
	r.seal(KindHead, text)
	if err := r.begin(&state); err != nil {
		return nil, err
	}
	return r, nil
}

// Continue goes on with a record after a restart, with the state that was made
// of it. The storage must end with a whole block, as Open leaves it.
func Continue(storage Storage, state controller.State, o Options) (*Recorder, error) {
	rd, err := Read(storage)
	if err != nil {
		return nil, err
	}
	if rd.Head.Guarded != (o.Guard != nil) {
		return nil, errors.New("going on with a record: it was begun with a guard and is to go on without, or the other way round")
	}
	ended := false
	for {
		b, err := rd.Next()
		if err == io.EOF && rd.Torn() == 0 {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("going on with a record: it does not end with a whole block (%w): open it with Open, which cuts it", err)
		}
		ended = ended || b.Kind == KindEnd
	}
	if ended {
		return nil, errors.New("going on with a record: its batch has ended: begin a new one")
	}
	r := newRecorder(storage, rd.offset, rd.sum, o)
	if err := r.begin(&state); err != nil {
		return nil, err
	}
	return r, nil
}

func newRecorder(storage Storage, base int64, sum uint32, o Options) *Recorder {
	return &Recorder{
		fill: make([]byte, 0, BufferSize+room), scrap: make([]byte, 0, room), sum: sum, guard: o.Guard, watch: o.Watch, direct: o.Direct,
		sink: sink{storage: storage, base: base, pending: make([]byte, 0, BufferSize+room)},
		wake: make(chan struct{}, 1), gone: make(chan struct{}), patience: time.Duration(float64(StallAfter) * max(1, o.Pace)),
	}
}

// begin writes the start and sets the writer going.
func (r *Recorder) begin(state *controller.State) error {
	r.mode, r.reason, r.index, r.earned = state.Mode, state.Reason, state.Index, state.Earned
	r.checkpoint(KindStart, state)
	r.sync = true
	if r.direct {
		r.hand()
		return r.Err()
	}
	go r.write(r.wake)
	r.signal()
	return nil
}

// Watch records the frame. It never waits for storage, except in direct mode.
func (r *Recorder) Watch(f *loop.Frame) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return
	}
	if len(r.fill)+r.held > BufferSize {
		r.lost++
		r.missed++
	} else {
		r.encode(f)
	}
	r.due(f)
}

// encode writes down the tick, and what belongs before and after it.
func (r *Recorder) encode(f *loop.Frame) {
	resume := r.missed > 0
	if resume {
		r.gap()
	}
	if fault := f.LineFault != nil; fault != r.lineFault {
		r.lineFault = fault
		if fault {
			r.note("a line refused: " + f.LineFault.Error())
		}
	}
	r.tick.take(f)
	r.scrap = r.row.append(r.scrap[:0], &r.tick)
	r.seal(KindTick, r.scrap)
	r.tick.Events = nil // they are the frame's
	now := f.Tick.Now
	if resume || now-r.checked >= CheckpointEvery || f.Decision.Index != r.index || f.Decision.Mode != r.mode {
		r.checked = now
		r.checkpoint(KindCheckpoint, f.State)
	}
}

// gap says what was lost. The next row is written whole.
func (r *Recorder) gap() {
	gap := Gap{Ticks: r.missed}
	r.seal(KindGap, appendPlain(r.scrap[:0], &gap))
	r.row, r.missed = rows{}, 0
}

// checkpoint writes down the state, and the guard of this instant.
func (r *Recorder) checkpoint(kind Kind, state *controller.State) {
	r.check.State = *state
	if r.guard != nil {
		r.check.Guard = *r.guard
	}
	if r.watch != nil {
		r.check.Watch = *r.watch
	}
	if kind == KindStart {
		r.row = rows{}
	}
	r.scrap = r.check.append(r.scrap[:0])
	r.seal(kind, r.scrap)
}

// due decides whether it is time for storage, and ends the record with the
// batch. What a person did, and each change of step or state, waits for nothing.
func (r *Recorder) due(f *loop.Frame) {
	d, now := &f.Decision, f.Tick.Now
	matters := d.Mode != r.mode || d.Index != r.index || f.Verdict.Trip != r.trip || f.Tick.Command.Wish != controller.NoWish
	failing, every := r.sink.err() != nil, SyncRunning
	if failing || d.Earned > r.earned || mayCount(d) {
		every = SyncEarning
	}
	r.mode, r.reason, r.trip, r.index, r.earned = d.Mode, d.Reason, f.Verdict.Trip, d.Index, d.Earned
	r.now = now
	if d.Mode.Ended() && r.missed == 0 {
		r.end()
	}
	if matters || (failing || d.Mode.Heats()) && now-r.synced > every-slack || !failing && len(r.fill)+r.held >= unsyncedAt {
		r.sync, r.synced = true, now
	}
	if r.sync && !r.waiting {
		r.asked, r.waiting = now, true
	}
	if r.sync || !failing && len(r.fill) >= appendAt {
		r.hand()
	}
}

// mayCount tells of time that is not earned yet and may be counted back: while
// the bed settles, while a rest stands too cold, while it comes to the boil.
func mayCount(d *controller.Decision) bool {
	switch d.Stage {
	case controller.Settle, controller.Mix, controller.Break:
		return d.Mode == controller.Running
	case controller.Count:
		return d.Mode == controller.Running && d.Reached
	}
	return false
}

// end writes down how it ended and takes no more.
func (r *Recorder) end() {
	if r.missed > 0 {
		r.gap()
	}
	end := End{Mode: r.mode, Reason: r.reason}
	r.seal(KindEnd, appendPlain(r.scrap[:0], &end))
	r.ended, r.closed, r.sync = true, true, true
}

// seal adds a block to the buffer.
func (r *Recorder) seal(kind Kind, payload []byte) {
	r.fill, r.sum = seal(r.fill, r.sum, kind, payload)
}

// hand lets storage have what is encoded: at once in direct mode.
func (r *Recorder) hand() {
	if !r.direct {
		r.signal()
		return
	}
	r.sink.pending = append(r.sink.pending, r.fill...)
	r.fill = r.fill[:0]
	sync := r.sync
	r.sync = false
	r.flushed(r.sink.flush(sync), sync)
}

// flushed notes what the sink has got rid of, and that a sync was confirmed.
func (r *Recorder) flushed(well, sync bool) {
	r.held = len(r.sink.pending)
	if well && sync {
		r.waiting = r.sync // another was asked for meanwhile
		r.asked = r.synced
	}
}

// signal wakes the writer, unless it is awake.
func (r *Recorder) signal() {
	select {
	case r.wake <- struct{}{}:
	default:
	}
}

// write is the writer's goroutine. It ends when the record is closed and all
// is written, or when storage refuses after that.
func (r *Recorder) write(wake <-chan struct{}) {
	defer close(r.gone)
	for range wake {
		r.mu.Lock()
		r.sink.pending = append(r.sink.pending, r.fill...)
		r.fill = r.fill[:0]
		r.held = len(r.sink.pending)
		sync := r.sync
		r.sync = false
		r.mu.Unlock()

		well := r.sink.flush(sync)

		r.mu.Lock()
		r.flushed(well, sync)
		r.mu.Unlock()
	}
}

// note adds a sentence to the buffer, of at most longestNote bytes.
func (r *Recorder) note(text string) {
	r.seal(KindNote, []byte(text[:min(len(text), longestNote)]))
}

// Note writes down a sentence; what is longer than 1000 bytes is cut.
func (r *Recorder) Note(text string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed || len(r.fill)+r.held > BufferSize {
		return
	}
	r.note(text)
}

// End ends the record of a batch that will not go on although it has not ended,
// such as one that stays held: outcome and reason are those of the last tick.
func (r *Recorder) End() {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return
	}
	r.end()
	r.hand()
}

// Lost is how many ticks are not in the record because storage did not take
// them in time.
func (r *Recorder) Lost() uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.lost
}

// Err is what stands between the record and storage now, nil if nothing: an
// error, or a sync that takes longer than StallAfter. While it is not nil, what
// happens would not survive a power cut.
func (r *Recorder) Err() error {
	if err := r.sink.err(); err != nil {
		return err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.waiting && r.now-r.asked >= r.patience {
		return errStalled
	}
	return nil
}

// Close writes out what waits, syncs and closes the storage. It ends no batch:
// a record closed without End can be gone on with. It gives up with ctx; the
// storage then stays open, as it may still be in use.
func (r *Recorder) Close(ctx context.Context) error {
	r.mu.Lock()
	if r.wake == nil {
		r.mu.Unlock()
		return errClosed
	}
	if r.missed > 0 {
		r.gap()
	}
	if r.mode.Ended() && !r.ended {
		r.end()
	}
	r.closed, r.sync = true, true
	if r.direct {
		r.hand()
	} else {
		r.signal()
		close(r.wake)
	}
	r.wake = nil
	r.mu.Unlock()
	if !r.direct {
		select {
		case <-r.gone:
		case <-ctx.Done():
			return fmt.Errorf("record: closing: storage does not answer: %w", ctx.Err())
		}
	}
	return errors.Join(r.Err(), r.sink.storage.Close())
}
