package rehearse

import (
	"time"

	"mashward/controller"
	"mashward/profile"
	"mashward/profile/enzyme"
	"mashward/profile/plan"
)

// Result is how a rehearsal went, in the form of dryrun's JSON. Seconds count
// from arming, those of reached and limit from the step's start.
type Result struct {
	Outcome   string         `json:"outcome"`
	Reason    string         `json:"reason"`
	Simulated bool           `json:"simulated"`
	Duration  float64        `json:"duration_seconds"`
	Energy    float64        `json:"energy_joules"`
	Switches  int            `json:"element_switches"`
	Strike    Strike         `json:"strike"`
	Steps     []Step         `json:"steps"`
	Trips     []Instant      `json:"trips"`
	Cuts      []Span         `json:"cuts"`
	Alarms    []Alarm        `json:"alarms"`
	Enzymes   *enzyme.Report `json:"enzymes"` // over the true mash; null: no grain

	// Expectations are those of the profile, in its order.
	Expectations []Expectation `json:"expectations,omitempty"`

	mash *enzyme.Course // what Enzymes is the end of
}

// Strike is the strike water.
type Strike struct {
	Temperature *float64 `json:"temperature_celsius"` // null where there is no mash-in
	Water       float64  `json:"water_litres"`
}

// Step is how one step went.
type Step struct {
	Index       int          `json:"index"`
	Kind        string       `json:"kind"`
	Name        string       `json:"name"`
	Target      *float64     `json:"target_celsius"`
	Planned     float64      `json:"planned_seconds"`
	PlannedHeat float64      `json:"planned_heat_seconds"`
	Start       float64      `json:"start_seconds"`
	End         float64      `json:"end_seconds"`
	Reached     *float64     `json:"reached_seconds"`
	Limit       *float64     `json:"limit_seconds"`
	Earned      float64      `json:"earned_seconds"`
	Offset      *float64     `json:"offset_kelvin"`
	Overshoot   *float64     `json:"overshoot_kelvin"`
	HoldRMS     *float64     `json:"hold_rms_kelvin"`
	HoldWorst   *float64     `json:"hold_worst_kelvin"`
	HotSide     *float64     `json:"hot_side_kelvin"`
	Enzymes     *enzyme.Rest `json:"enzymes"` // over the true mash; null: no rest of a mash, or not known

	kind   profile.Kind
	target float64
	// arrived is Reached with what the probe reads wrong for good left out: a promise
	// about when asks when, not how right the probe is.
	arrived *float64
}

// Instant is a trip.
type Instant struct {
	ID string  `json:"id"`
	At float64 `json:"at_seconds"`
}

// Span is a cut.
type Span struct {
	ID    string   `json:"id"`
	From  float64  `json:"at_seconds"`
	Until *float64 `json:"until_seconds"`
}

// Alarm is a condition that wanted a person.
type Alarm struct {
	ID      string   `json:"id"`
	Raised  float64  `json:"raised_seconds"`
	Cleared *float64 `json:"cleared_seconds"`
}

// stepOf is what is known of a step before it is judged.
func stepOf(c *controller.Config, d plan.Plan, index int) Step {
	s := Step{Index: index, Kind: c.Steps[index].Kind.String(), kind: c.Steps[index].Kind, target: float64(c.Steps[index].Target)}
	if s.kind != profile.Lift {
		t := s.target
		s.Target = &t
	}
	for _, p := range d.Steps {
		if p.Index == index {
			s.Name = p.Name
			s.Planned, s.PlannedHeat = whole(p.End-p.Start), whole(p.Heat())
		}
	}
	return s
}

func whole(d time.Duration) float64 { return d.Round(time.Second).Seconds() }
