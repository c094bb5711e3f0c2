package metricset

import (
	"sync"
	"testing"
	"time"

	"mashward/controller/unit"
)

// TestAReaderNeverSeesHalfASample has readers check what holds in every tick
// but not between two: one second on for each tick after the first.
func TestAReaderNeverSeesHalfASample(t *testing.T) {
	s := newScene(t)
	s.frame.Tick.Applied = unit.On
	var readers sync.WaitGroup
	done := make(chan struct{})
	for range 2 * places {
		readers.Go(func() {
			last := uint64(0)
			for {
				sample, ok := s.track.Latest()
				on := sample.element.on
				switch {
				case ok && on != time.Duration(sample.Ticks-1)*time.Second:
					t.Errorf("tick %d with %v of heat", sample.Ticks, on)
					return
				case sample.Ticks < last:
					t.Errorf("tick %d after tick %d", sample.Ticks, last)
					return
				}
				last = sample.Ticks
				select {
				case <-done:
					return
				default:
				}
			}
		})
	}
	for range 5000 {
		s.frame.Tick.Now += time.Second
		s.track.Watch(&s.frame)
	}
	close(done)
	readers.Wait()
	s.frame.Tick.Now += time.Second
	s.track.Watch(&s.frame)
	if final, _ := s.track.Latest(); final.Ticks != 5001 {
		t.Errorf("with nobody reading the newest sample is of tick %d, want 5001", final.Ticks)
	}
}

// TestASampleStaysAsItIsWhileItIsRead has a reader that never comes to an end,
// then one at every place.
func TestASampleStaysAsItIsWhileItIsRead(t *testing.T) {
	var s shelf
	s.put(&Sample{Ticks: 1})
	read := s.newest.Load()
	read.readers.Add(1)
	for n := range uint64(3 * places) {
		s.put(&Sample{Ticks: 2 + n})
		if read.sample.Ticks != 1 {
			t.Fatalf("sample 1 became %d while it was read", read.sample.Ticks)
		}
		if got, ok := s.get(); !ok || got.Ticks != 2+n {
			t.Fatalf("the newest sample is %d, want %d", got.Ticks, 2+n)
		}
	}
	last, _ := s.get()
	for i := range s.places {
		s.places[i].readers.Add(1)
	}
	s.put(&Sample{Ticks: 100})
	if got, _ := s.get(); got.Ticks != last.Ticks {
		t.Errorf("with a reader at every place the newest is %d, want the one before, %d", got.Ticks, last.Ticks)
	}
	for i := range s.places {
		s.places[i].readers.Add(-1)
	}
	s.put(&Sample{Ticks: 101})
	if got, _ := s.get(); got.Ticks != 101 {
		t.Errorf("with nobody reading the newest is %d, want 101", got.Ticks)
	}
}
