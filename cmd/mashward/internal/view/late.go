package view

import (
	"mashward/cmd/internal/late"
	"mashward/cmd/mashward/internal/daemon"
)

// lateOf is how late the batch is against its plan, and why; nil where that is not
// known: no plan was kept with what was recorded of it.
func lateOf(s *daemon.Snapshot) *late.Told {
	if s.Late == nil || s.Batch == nil {
		return nil
	}
	p := late.Of(s.Batch.Plan)
	return s.Late.Tell(&p)
}
