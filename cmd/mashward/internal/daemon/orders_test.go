package daemon

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
)

// give sends an order from a goroutine of its own.
func (b *bench) give(c controller.Command) <-chan answer {
	out := make(chan answer, 1)
	go func() {
		r, err := b.d.Do(b.Context(), c)
		out <- answer{r, err}
	}()
	return out
}

func TestOrdersAreTakenOneATick(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		from := len(b.seen.frames())
		wishes := []controller.Wish{controller.Pause, controller.Resume, controller.PumpOff, controller.PumpOn, controller.Pause}
		release := b.pan.hold()
		pass(2 * time.Second)
		var replies []<-chan answer
		for i, w := range wishes {
			replies = append(replies, b.give(controller.Command{Wish: w}))
			synctest.Wait()
			if n := b.d.Waiting(); n != i+1 {
				b.Fatalf("%d wait, want %d", n, i+1)
			}
		}
		release()
		for i, c := range replies {
			if a := <-c; a.err != nil || !a.reply.Accepted {
				b.Errorf("%v: %+v", wishes[i], a)
			}
		}
		var got []controller.Wish
		for _, f := range b.seen.frames()[from:] {
			if f.Tick.Command.Wish != controller.NoWish {
				got = append(got, f.Tick.Command.Wish)
			}
		}
		if !slices.Equal(got, wishes) {
			b.Errorf("taken: %v", got)
		}
	})
}

func TestARefusalCarriesItsReason(t *testing.T) {
	inBubble(t, func(b *bench) {
		for _, c := range []controller.Command{{Wish: controller.Pause}, {Wish: controller.Start}, {}} {
			if r, err := b.d.Do(b.Context(), c); err != nil || r.Accepted || r.Why != controller.WrongMode {
				b.Errorf("%v when idle: %+v %v", c.Wish, r, err)
			}
		}
		b.run("warm")
		if r, err := b.d.Do(b.Context(), controller.Command{Wish: controller.GrainIn}); err != nil || r.Why != controller.WrongStage {
			b.Errorf("grain into a rest: %+v %v", r, err)
		}
	})
}

func TestSTOPDropsTheLinesBeforeTheLoopHears(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		release := b.pan.hold()
		pass(2 * time.Second)
		if !b.pan.waiting.Load() {
			b.Fatal("the loop does not hang in its pacer")
		}
		ctx, cancel := context.WithTimeout(b.Context(), time.Second)
		defer cancel()
		began := time.Now()
		_, err := b.d.Stop(ctx)
		if !errors.Is(err, ErrSilent) || time.Since(began) != 2*time.Second { // its patience, and a second for a tick under way
			b.Errorf("%v after %v", err, time.Since(began))
		}
		if !slices.Equal(b.pan.deeds(), []string{"drop"}) || !b.dropped() {
			b.Errorf("lines: %v", b.pan.deeds())
		}
		release()
		s := b.mode(controller.Held)
		if s.Decision.Reason != controller.ByOperator || s.Heating != unit.Off {
			b.Errorf("%v, %v", s.Decision.Reason, s.Heating)
		}
		synctest.Wait() // the lines are freed after what everybody sees
		if !slices.Equal(b.pan.deeds(), []string{"drop", "rearm"}) {
			b.Errorf("lines: %v", b.pan.deeds())
		}
	})
}

func TestSTOPWorksWhileTheQueueIsFull(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		release := b.pan.hold()
		pass(2 * time.Second)
		var waits []<-chan answer
		for range waiting {
			waits = append(waits, b.give(controller.Command{Wish: controller.Resume}))
		}
		synctest.Wait()
		if _, err := b.d.Do(b.Context(), controller.Command{Wish: controller.Pause}); !errors.Is(err, ErrBusy) {
			b.Error("one more:", err)
		}
		stops := make(chan answer, 100)
		for range cap(stops) {
			go func() {
				r, err := b.d.Stop(b.Context())
				stops <- answer{r, err}
			}()
		}
		synctest.Wait()
		if n := b.d.Waiting(); n != 1 {
			b.Errorf("%d orders wait, of 100 presses of STOP one", n)
		}
		for _, c := range waits {
			if a := <-c; !errors.Is(a.err, ErrStopped) {
				b.Errorf("asked before STOP: %+v", a)
			}
		}
		release()
		for range cap(stops) {
			if a := <-stops; a.err != nil || !a.reply.Accepted {
				b.Errorf("STOP: %+v", a)
			}
		}
		if s := b.d.Latest(); s.Decision.Mode != controller.Held {
			b.Error(s.Decision.Mode)
		}
		b.do(controller.Resume) // the lines are free again
		b.until("heating", func(s *Snapshot) bool { return s.Heating == unit.On && s.LineFault == nil })
	})
}

// Two presses, and the loop hears the first while the second is still on its
// way: the lines stay dropped until it has heard both.
func TestTheLinesStayDroppedUntilTheLastPressIsHeard(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		b.d.queue.stops.Add(1)
		if _, err := b.d.Stop(b.Context()); err != nil {
			b.Fatal(err)
		}
		synctest.Wait()
		if !slices.Equal(b.pan.deeds(), []string{"drop"}) {
			b.Fatalf("after the first: %v", b.pan.deeds())
		}
		late := &order{command: controller.Command{Wish: controller.Stop}, presses: 1}
		if _, err := b.d.send(b.Context(), late); err != nil {
			b.Fatal(err)
		}
		synctest.Wait()
		if !slices.Equal(b.pan.deeds(), []string{"drop", "rearm"}) {
			b.Errorf("after both: %v", b.pan.deeds())
		}
	})
}

func TestAnOrderNobodyTookInTimeIsWithdrawn(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		release := b.pan.hold()
		pass(2 * time.Second)
		ctx, cancel := context.WithTimeout(b.Context(), 5*time.Second)
		defer cancel()
		if _, err := b.d.Do(ctx, controller.Command{Wish: controller.Pause}); !errors.Is(err, ErrTooLate) {
			b.Error(err)
		}
		if n := b.d.Waiting(); n != 0 {
			b.Error(n, "wait")
		}
		release()
		pass(5 * time.Second)
		if s := b.d.Latest(); s.Decision.Mode != controller.Running {
			b.Error("it was done all the same:", s.Decision.Mode)
		}
	})
}

func TestAStartNobodyTookInTimeLeavesNoRecordBehind(t *testing.T) {
	inBubble(t, func(b *bench) {
		nonce := b.arm("warm")
		release := b.pan.hold()
		pass(2 * time.Second)
		ctx, cancel := context.WithTimeout(b.Context(), 5*time.Second)
		defer cancel()
		if _, err := b.d.Begin(ctx, nonce); !errors.Is(err, ErrTooLate) {
			b.Error(err)
		}
		release()
		pass(5 * time.Second)
		if s := b.d.Latest(); s.Decision.Mode != controller.Idle || s.Batch != nil {
			b.Error("it began all the same:", s.Decision.Mode)
		}
		if names := b.recordFiles(); len(names) != 0 {
			b.Error(names)
		}
	})
}

// START and STOP at the same instant, a thousand times, on a loop that does not
// wait for its pacer: whichever comes first, in the end the element is off, and
// it stays off.
func TestSTARTAndSTOPAtTheSameInstantEndsOff(t *testing.T) {
	free := func(o *Options) {
		o.Records, o.Watchers = "", nil
		o.Kettle.(*pan).SetSpeed(0)
	}
	inBubbleWith(t, free, func(b *bench) {
		rounds := 1000
		if testing.Short() {
			rounds = 100
		}
		begun := 0
		for i := range rounds {
			nonce := b.arm("warm")
			var start, stop answer
			var both sync.WaitGroup
			both.Go(func() { start.reply, start.err = b.d.Begin(b.Context(), nonce) })
			both.Go(func() {
				for range i % 3 { // at once, or a tick or two behind
					<-b.d.Changed()
				}
				stop.reply, stop.err = b.d.Stop(b.Context())
			})
			both.Wait()
			if stop.err != nil || !stop.reply.Accepted {
				b.Fatal("STOP:", stop)
			}
			if start.err != nil && !errors.Is(start.err, ErrStopped) {
				b.Fatal("START:", start.err)
			}
			if start.err == nil {
				begun++
			}
			from := b.d.Latest().Number
			s := b.until("three more ticks", func(s *Snapshot) bool { return s.Number >= from+3 })
			if s.Decision.Mode.Heats() || s.Heating == unit.On || s.Decision.Pump == unit.On {
				b.Fatalf("round %d (start %+v): %v, heating %v", i, start, s.Decision.Mode, s.Heating)
			}
			if s.Decision.Mode == controller.Held {
				b.do(controller.End)
			}
		}
		if begun < rounds/4 || begun > rounds*3/4 {
			b.Errorf("it was no race: %d of %d starts came first", begun, rounds)
		}
		b.Logf("%d of %d starts were taken and stopped", begun, rounds)
	})
}

func TestADropOutlivesANewFillOfTheSimulatedKettle(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.end()
		b.pan.Simulated.Drop()
		p, _, err := b.d.Plan("warm")
		if err != nil {
			b.Fatal(err)
		}
		b.pan.Fill(p.Profile)
		if !b.dropped() {
			b.Error("filling has put the lines back in reach")
		}
		b.pan.Simulated.Rearm()
		if b.dropped() {
			b.Error("rearming did not")
		}
	})
}

func TestAtTheEndTheLinesAreDroppedFirst(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		release := b.pan.hold()
		pass(2 * time.Second)
		waits := b.give(controller.Command{Wish: controller.Pause})
		synctest.Wait()
		ended := make(chan struct{})
		go func() {
			b.end()
			close(ended)
		}()
		synctest.Wait()
		if !b.pan.waiting.Load() || !slices.Equal(b.pan.deeds(), []string{"drop"}) {
			b.Errorf("while the pacer still waits: %v", b.pan.deeds())
		}
		ticks := len(b.seen.frames())
		release()
		<-ended
		if got := len(b.seen.frames()); got != ticks {
			b.Errorf("%d ticks after the end was called for", got-ticks)
		}
		if a := <-waits; !errors.Is(a.err, ErrDown) {
			b.Errorf("who waited: %+v", a)
		}
		if _, err := b.d.Stop(b.Context()); !errors.Is(err, ErrDown) {
			b.Error("STOP after the end:", err)
		}
		if !b.dropped() {
			b.Error("the lines can be held after the end")
		}
	})
}

// last is a pacer that comes to its end.
type last struct{ Kettle }

// Next implements loop.Pacer.
func (l last) Next() (time.Duration, bool) {
	now, _ := l.Kettle.Next()
	return now, now < 10*time.Second
}

func TestALoopWhosePacerEndsDropsTheLinesAndSaysSo(t *testing.T) {
	var under *pan
	ends := func(o *Options) {
		under = o.Kettle.(*pan)
		o.Kettle = last{o.Kettle}
	}
	inBubbleWith(t, ends, func(b *bench) {
		pass(20 * time.Second)
		if deeds := under.deeds(); len(deeds) == 0 || deeds[0] != "drop" {
			b.Error(deeds)
		}
		if _, err := b.d.Do(b.Context(), controller.Command{Wish: controller.Pause}); !errors.Is(err, ErrDown) {
			b.Error(err)
		}
	})
}

// broken is an element whose driver panics.
type broken struct{ loop.Element }

// Hold implements line.Line.
func (broken) Hold(unit.Relay, time.Duration) error { panic("driver") }

type brokenKettle struct{ *pan }

// Element is the broken one.
func (k brokenKettle) Element() loop.Element { return broken{k.pan.Element()} }

func TestAPanicInTheTickDropsTheLinesOnItsWayOut(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		rig, _ := parsedRig(t)
		p := &pan{Simulated: NewSimulated(rig, rig.Plant(), 1)}
		d := New(Options{Rig: rig, Kettle: brokenKettle{p}, Now: time.Now, Log: quiet()})
		what := func() (what any) {
			defer func() { what = recover() }()
			d.Run(t.Context())
			return nil
		}()
		if fmt.Sprint(what) != "driver" {
			t.Fatal("no panic came out:", what)
		}
		if !slices.Contains(p.deeds(), "drop") {
			t.Error("not dropped")
		}
	})
}
