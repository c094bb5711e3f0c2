package metricset

import (
	"strings"
	"time"

	"mashward/cmd/internal/late"
	"mashward/controller/unit"
	"mashward/profile/plan"
)

// Batch is what is known of a batch before it begins. It is not changed after
// it has been made.
type Batch struct {
	ID      string
	Profile string

	steps   []plan.Step
	planned late.Planned
}

// unreadable stands for what is no UTF-8.
const unreadable = "\uFFFD"

// BatchOf is a batch with the plan that was made for it. The value of a label
// must be UTF-8, else a whole scrape would fail of a name.
func BatchOf(id string, d plan.Plan) *Batch {
	return &Batch{
		ID: strings.ToValidUTF8(id, unreadable), Profile: strings.ToValidUTF8(d.Profile, unreadable), steps: d.Steps, planned: late.Of(d),
	}
}

// temperature is what the plan foresaw so long after arming; false after its
// end and where there is no plan.
func (b *Batch) temperature(clock time.Duration) (unit.Celsius, bool) {
	if b == nil || clock < 0 {
		return 0, false
	}
	before := unit.Celsius(0) // at the end of the step before
	for i, s := range b.steps {
		switch {
		case clock > s.End:
			before = s.Ends
		case clock < s.Start && i == 0:
			return 0, false
		case clock < s.Start: // the grain goes in
			return before, true
		case clock < s.Reached:
			way := float64(clock-s.Start) / float64(s.Reached-s.Start)
			return s.From + unit.Celsius(way)*(s.Ends-s.From), true
		default:
			return s.Ends, true
		}
	}
	return 0, false
}

// heating is the planned heat-up of a step.
func (b *Batch) heating(index int) (time.Duration, bool) {
	if b == nil {
		return 0, false
	}
	for _, s := range b.steps {
		if s.Index == index && heated(s.Kind) {
			return s.Heat(), true
		}
	}
	return 0, false
}
