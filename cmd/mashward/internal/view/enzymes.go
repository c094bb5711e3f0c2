package view

import (
	"mashward/cmd/mashward/internal/daemon"
	"mashward/profile/enzyme"
)

// Enzymes is what those of the mash have left now: an estimate.
type Enzymes struct {
	Note string           `json:"note"` // must stand with every figure
	Now  *enzyme.Estimate `json:"now"`  // null: not known
	// Another 10 min at the present target would give hardly more of it.
	NoSugar   bool `json:"no_more_sugar"`
	NoOpening bool `json:"no_more_dextrin"`
}

func enzymesOf(s *daemon.Snapshot) *Enzymes {
	if !s.Mashing {
		return nil
	}
	out := &Enzymes{Note: enzyme.Note}
	if e, known := s.Mash.Estimate(); known {
		out.Now = &e
	}
	if s.Decision.HasTarget {
		out.NoSugar, out.NoOpening = s.Mash.Spent(s.Decision.Target)
	}
	return out
}
