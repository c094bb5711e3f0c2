package suggest

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"mashward/controller"
	"mashward/controller/record"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/profile/heat"
)

// Suggestion is what a batch showed beside what it was run with.
type Suggestion struct {
	Found   tune.Result
	Used    tune.Used
	Differs tune.Differences
	water   unit.Litres // as declared
	seen    unit.Litres // as the declared power would have it
}

// Known is what a batch was run with, for a fit of its strike heat-up. The water
// is taken to have been at rest when the batch began.
func Known(c *controller.Config) tune.Known {
	return tune.Known{Power: c.Power, Load: c.LoadWater, Loss: c.Loss, Room: c.Room, AtRest: true}
}

// Of fits the strike heat-up of a batch. It takes a fraction of a second on a
// desktop and must stay out of a loop's tick.
func Of(samples []tune.Sample, c *controller.Config) Suggestion {
	s := Suggestion{Used: tune.Used{Power: c.Power, Loss: c.Loss, Lag: c.Model.Lag()}, water: c.Water}
	s.Found = tune.Identify(samples, Known(c))
	s.Differs = s.Found.Differs(s.Used)
	s.seen = Litres(c.Water, c.Vessel, s.Found.Contradiction)
	return s
}

// Litres is the water that would have warmed as this did, had the element the
// power that was taken for it: ratio is found over taken power.
func Litres(water unit.Litres, vessel unit.JoulesPerKelvin, ratio float64) unit.Litres {
	if !(ratio > 0) {
		return water
	}
	load := float64(heat.WaterCapacity(water)+vessel)/ratio - float64(vessel)
	return unit.Litres(load / float64(heat.WaterCapacity(1)))
}

// FromRecord fits the strike heat-up of a recorded batch. The error is
// ErrNoStrike or the storage's.
func FromRecord(r *record.Reader) (Suggestion, error) {
	samples, _, err := Recorded(r)
	if err != nil {
		return Suggestion{}, err
	}
	return Of(samples, &r.Head.Config), nil
}

// Agrees tells that the batch could be judged and showed nothing else than what
// was used.
func (s Suggestion) Agrees() bool {
	return s.Found.Accepted() && s.Found.Samples > 0 && !s.Differs.Any()
}

// mains is how far power may be off because the supply is: 5 % of voltage.
const mains = 0.1

// Text is what the batch showed and what that may mean, in a few sentences; ""
// where there is nothing to suggest.
func (s Suggestion) Text() string {
	var said []string
	m := s.Found.Model
	if s.Differs.Power {
		said = append(said, fmt.Sprintf("The strike water warmed as if the element had %.2f kW instead of %.2f kW, or as if %.1f L were in the kettle instead of %.1f L; a temperature cannot tell which.",
			float64(m.Power)/1000, float64(s.Used.Power)/1000, float64(s.seen), float64(s.water)))
		if math.Abs(s.Found.Contradiction-1) <= mains {
			said = append(said, "A supply 5 % off its voltage does as much: see whether another batch says the same.")
		} else {
			said = append(said, "Measure the water, and look at plate and voltage of the element.")
		}
	}
	if s.Differs.Loss {
		said = append(said, fmt.Sprintf("The kettle lost %.1f W for each °C above the room instead of %.1f W; a draught, or a lid that does not close, does that too.", float64(m.Loss), float64(s.Used.Loss)))
	}
	if s.Differs.Lag {
		said = append(said, fmt.Sprintf("The reading lagged by %.0f s instead of %.0f s: look whether the probe sits where it did, and the pump runs as it did.", m.Lag().Seconds(), s.Used.Lag.Seconds()))
	}
	return strings.Join(said, " ")
}

// Files are those of the command that takes a suggestion over.
type Files struct {
	Rig, Record, Out string
}

// OutFor is where the tuning of a rig goes: the file in use, or one beside the
// rig file with its name.
func OutFor(rig, inUse string) string {
	if inUse != "" {
		return inUse
	}
	return strings.TrimSuffix(rig, filepath.Ext(rig)) + ".tuning.yaml"
}

// Command takes the suggestion over.
func (f Files) Command() string {
	return fmt.Sprintf("mashward tune --rig %s --from %s --out %s", quoted(f.Rig), quoted(f.Record), quoted(f.Out))
}

// quoted is a file name as a shell takes it.
func quoted(name string) string {
	plain := strings.IndexFunc(name, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("./_-", r))
	}) < 0
	if plain && name != "" {
		return name
	}
	return "'" + strings.ReplaceAll(name, "'", `'\''`) + "'"
}

// Told is a suggestion for programs and pages.
type Told struct {
	Text    string   `json:"text"`    // what the batch showed, and what it may mean
	Command string   `json:"command"` // takes it over
	Figures []string `json:"figures"` // power, loss, lag: those that differ
	// As found.
	Power float64 `json:"power_ratio"` // over that in use
	Loss  float64 `json:"loss_watts_per_kelvin"`
	Lag   float64 `json:"lag_seconds"`
}

// Tell is the suggestion, or nil where there is none.
func (s Suggestion) Tell(f Files) *Told {
	if !s.Differs.Any() {
		return nil
	}
	t := &Told{Text: s.Text(), Command: f.Command(), Power: s.Found.Contradiction, Loss: float64(s.Found.Model.Loss), Lag: s.Found.Model.Lag().Seconds()}
	for _, one := range []struct {
		name    string
		differs bool
	}{{"power", s.Differs.Power}, {"loss", s.Differs.Loss}, {"lag", s.Differs.Lag}} {
		if one.differs {
			t.Figures = append(t.Figures, one.name)
		}
	}
	return t
}
