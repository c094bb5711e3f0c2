package metricset

import (
	"mashward/cmd/internal/late"
	"mashward/cmd/internal/late/follow"
	"mashward/controller"
	"mashward/controller/loop"
)

// behind follows how late the batch is. It begins with the batch: of one that was
// cut off and goes on, what went before is not known here.
func (t *Tracker) behind(f *loop.Frame) {
	for _, e := range f.Decision.Events[:f.Decision.Count] {
		if e.Kind == controller.BatchStarted && t.sample.Batch != nil {
			t.late = follow.New(t.sample.Batch.planned)
		}
	}
	t.late.Watch(f)
	total, by, known := t.late.By()
	t.sample.late.known, t.sample.late.total, t.sample.late.by = known, total, by
	if f.Decision.Mode == controller.Idle {
		t.late, t.sample.late.known = nil, false
	}
}

// lateness is how late the batch is, by cause.
func (s *Sample) lateness(emit Emit) {
	if !s.late.known {
		return
	}
	emit(Late, s.late.total.Seconds())
	for c := range late.Cause(late.Causes) {
		emit(LateBy, s.late.by[c].Seconds(), c.String())
	}
}
