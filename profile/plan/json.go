package plan

import (
	"encoding/json"
	"io"
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/profile/enzyme"
)

// The written form: names carry their units, instants are seconds from arming
// unless said otherwise, and figures are rounded so that a file does not
// change with the processor.
type planJSON struct {
	Profile       string         `json:"profile"`
	Refused       bool           `json:"refused"`
	Strike        *strikeJSON    `json:"strike"`
	Steps         []stepJSON     `json:"steps"`
	PersonNeeded  []personJSON   `json:"person_needed"`
	FinishSeconds *float64       `json:"finish_seconds"` // null: the day was refused
	EnergyJoules  float64        `json:"energy_joules"`
	Boiling       float64        `json:"boiling_point_celsius"`
	Volumes       []volumeJSON   `json:"volumes"`
	Boils         []boilJSON     `json:"boils"`
	Supply        supplyJSON     `json:"supply"`
	Problems      []problemJSON  `json:"problems"`
	Cautions      []string       `json:"cautions"`
	Wort          *wortJSON      `json:"wort"`     // null: nothing is known of it
	Dipstick      *dipstickJSON  `json:"dipstick"` // null: the diameter is not known
	Enzymes       *enzyme.Report `json:"enzymes"`  // null: no grain
}

type strikeJSON struct {
	Temperature float64 `json:"temperature_celsius"`
	Water       float64 `json:"water_litres"`
	Target      float64 `json:"target_celsius"`
	Grain       float64 `json:"grain_kelvin"`
	Vessel      float64 `json:"vessel_kelvin"`
	Slaking     float64 `json:"slaking_kelvin"`
	Stirring    float64 `json:"stirring_kelvin"`
}

type stepJSON struct {
	Index        int          `json:"index"`
	Kind         string       `json:"kind"`
	Name         string       `json:"name"`
	Target       *float64     `json:"target_celsius"`       // null for a lift
	Planned      float64      `json:"planned_seconds"`      // the whole step
	PlannedHeat  float64      `json:"planned_heat_seconds"` // of it, on the way to the target
	Start        float64      `json:"start_seconds"`
	End          float64      `json:"end_seconds"`
	Reached      *float64     `json:"reached_seconds"` // from start
	Hold         float64      `json:"hold_seconds"`
	From         float64      `json:"from_celsius"`
	Ends         float64      `json:"end_celsius"`
	Rate         float64      `json:"mean_rate_kelvin_per_second"`
	Duty         float64      `json:"hold_duty_ratio"`
	EnergyJoules float64      `json:"energy_joules"`
	Enzymes      *enzyme.Rest `json:"enzymes"` // null: no rest of a mash, or not known
}

type personJSON struct {
	At   float64 `json:"at_seconds"`
	Step int     `json:"step"`
	What string  `json:"what"`
}

type volumeJSON struct {
	Stage    string   `json:"stage"`
	Step     int      `json:"step"`
	At       float64  `json:"at_celsius"`
	Cold     float64  `json:"cold_litres"`
	Hot      float64  `json:"hot_litres"`
	Depth    *float64 `json:"depth_metres"`
	BelowRim *float64 `json:"below_rim_metres"`
	Grain    bool     `json:"grain"`
}

type boilJSON struct {
	Rate   float64 `json:"boil_off_litres_per_hour"`
	Chosen bool    `json:"chosen"`
	Share  float64 `json:"share_per_hour_ratio"`
	Before float64 `json:"before_litres"`
	After  float64 `json:"after_litres"`
}

type supplyJSON struct {
	Current *float64 `json:"current_amperes"`
	Fuse    *float64 `json:"fuse_amperes"`
	Share   *float64 `json:"share_ratio"`
}

type problemJSON struct {
	What    string `json:"what"`
	Remedy  string `json:"remedy"`
	Refused bool   `json:"refused"`
	Step    int    `json:"step"`
	Line    int    `json:"line"`
}

// JSON writes the plan for programs, indented and with a last newline. The
// error is the writer's, or that a figure is no number.
func JSON(w io.Writer, p Plan) error {
	out, err := json.MarshalIndent(written(p), "", "  ")
	if err != nil {
		return err
	}
	_, err = w.Write(append(out, '\n'))
	return err
}

func written(p Plan) planJSON {
	out := planJSON{
		Profile: p.Profile, Refused: Refused(p.Problems), EnergyJoules: rounded(p.Energy, 0), Boiling: rounded(p.Boiling, 3),
		Steps: []stepJSON{}, PersonNeeded: []personJSON{}, Volumes: []volumeJSON{}, Boils: []boilJSON{}, Problems: []problemJSON{},
		Supply:   supplyJSON{known(p.Supply.Current, 2), known(p.Supply.Fuse, 2), known(p.Supply.Share, 3)},
		Cautions: p.Cautions, Wort: writtenWort(p.Wort), Dipstick: writtenDipstick(p.Dipstick),
	}
	if p.HasStrike {
		s := p.Strike
		out.Strike = &strikeJSON{
			rounded(s.Temperature, 3), rounded(p.Water, 3), rounded(s.Target, 3), rounded(s.Grain, 3),
			rounded(s.Vessel, 3), rounded(s.Slaking, 3), rounded(s.Stirring, 3),
		}
	}
	if p.Finish > 0 && !out.Refused {
		finish := seconds(p.Finish)
		out.FinishSeconds = &finish
	}
	course := p.Enzymes()
	out.Enzymes = course.Report()
	for _, s := range p.Steps {
		step := writtenStep(s)
		step.Enzymes = course.Of(s.Index)
		out.Steps = append(out.Steps, step)
	}
	for _, who := range p.Persons {
		out.PersonNeeded = append(out.PersonNeeded, personJSON{seconds(who.At), who.Step, who.What})
	}
	for _, v := range p.Volumes {
		out.Volumes = append(out.Volumes, writtenVolume(v))
	}
	for _, b := range p.Boils {
		out.Boils = append(out.Boils, boilJSON{rounded(perHour(b.Rate), 3), b.Chosen, rounded(b.Share, 4), rounded(b.Before, 3), rounded(b.After, 3)})
	}
	for _, problem := range p.Problems {
		out.Problems = append(out.Problems, problemJSON(problem))
	}
	return out
}

func writtenStep(s Step) stepJSON {
	out := stepJSON{
		Index: s.Index, Kind: s.Kind.String(), Name: s.Name, Planned: seconds(s.End - s.Start), PlannedHeat: seconds(s.Heat()),
		Start: seconds(s.Start), End: seconds(s.End), Hold: seconds(s.Hold), From: rounded(s.From, 3), Ends: rounded(s.Ends, 3),
		Rate: rounded(s.Rate, 6), Duty: rounded(s.Duty, 4), EnergyJoules: rounded(s.Energy, 0),
	}
	if s.HasTarget {
		target := rounded(s.Target, 3)
		out.Target = &target
		if s.Ends <= s.Target {
			reached := seconds(s.Heat())
			out.Reached = &reached
		}
	}
	return out
}

func writtenVolume(v Volume) volumeJSON {
	out := volumeJSON{Stage: v.Stage, Step: v.Step, At: rounded(v.At, 3), Cold: rounded(v.Cold, 3), Hot: rounded(v.Hot, 3), Grain: v.Grain}
	if v.Depth > 0 {
		depth, below := rounded(v.Depth, 4), rounded(v.BelowRim, 4)
		out.Depth, out.BelowRim = &depth, &below
	}
	return out
}

// known is null where a figure was not given.
func known[T unit.Amperes | unit.Ratio](v T, digits int) *float64 {
	if v == 0 {
		return nil
	}
	r := rounded(v, digits)
	return &r
}

func seconds(d time.Duration) float64 { return rounded(d.Seconds(), 1) }

// rounded keeps so many digits behind the point; never minus zero.
func rounded[T ~float64](v T, digits int) float64 {
	scale := math.Pow(10, float64(digits))
	return math.Round(float64(v)*scale)/scale + 0
}
