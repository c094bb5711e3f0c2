package follow

import (
	"mashward/cmd/internal/late"
	"mashward/controller/record"
)

// Tell is how late it is and why, for programs and pages; nil where that is not
// known.
func (f *Follower) Tell() *late.Told {
	a, known := f.Account()
	if !known {
		return nil
	}
	return a.Tell(f.ledger.Planned())
}

// Told is the same of a recorded batch.
func Told(r *record.Reader) (*late.Told, error) {
	f, err := through(r)
	if err != nil {
		return nil, err
	}
	return f.Tell(), nil
}
