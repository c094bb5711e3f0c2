package account

import (
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/modulate"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// Energy is what the element put in.
type Energy struct {
	Joules  float64  `json:"joules"`
	Planned *float64 `json:"planned_joules"` // null: no plan
	Cost    *Cost    `json:"cost"`           // null: no tariff
}

// Cost is what that costs.
type Cost struct {
	Amount   float64 `json:"amount"`
	Currency string  `json:"currency"` // ISO 4217
	Tariff   float64 `json:"tariff_per_kilowatt_hour"`
}

// Price puts the cost to it by another tariff than the rig's.
func (a *Account) Price(t config.Tariff) { a.Energy.price(t) }

func (e *Energy) price(t config.Tariff) {
	if t.Currency == "" {
		return
	}
	e.Cost = &Cost{Amount: unit.Joules(e.Joules).KilowattHours() * t.PerKilowattHour, Currency: t.Currency, Tariff: t.PerKilowattHour}
}

// Wait is one time that a person was asked for something.
type Wait struct {
	Prompt  string  `json:"prompt"`
	Step    int     `json:"step"`
	At      float64 `json:"at_seconds"`
	Seconds float64 `json:"waited_seconds"`
}

// Troubles are what took heat away, and what wanted a person.
type Troubles struct {
	Trips  []rehearse.Instant `json:"trips"`
	Cuts   []rehearse.Span    `json:"cuts"`
	Alarms []rehearse.Alarm   `json:"alarms"`
}

// listed is the same, with lists that are empty instead of missing.
func (t Troubles) listed() Troubles {
	return Troubles{append([]rehearse.Instant{}, t.Trips...), append([]rehearse.Span{}, t.Cuts...), append([]rehearse.Alarm{}, t.Alarms...)}
}

// Taught is what the kettle taught in the batch.
type Taught struct {
	// Rise is how fast the strike water warmed, over what was declared; null: not
	// learned.
	Rise *float64 `json:"measured_over_declared_rise"`
	// Models of the mash that were proposed and taken, or left because they did not
	// fit.
	Taken int `json:"mash_models_taken"`
	Left  int `json:"mash_models_left"`
}

// Window is the time that the mash was in one window of temperatures, by the
// estimate. As a rest counts from 0.3 K below its target on, a window reaches that
// far beyond its figures; where two meet, the upper one begins that far below.
type Window struct {
	Low     float64 `json:"low_celsius"`
	High    float64 `json:"high_celsius"`
	Seconds float64 `json:"seconds"`
}

// bounds are the windows of a mash in which brewers count minutes (common practice,
// no source).
var bounds = [...][2]float64{{55, 58}, {60, 65}, {65, 68}, {70, 74}, {75, 78}}

// windows counts. Until the bed is mixed nobody knows its temperature: those
// minutes count as it is when it is first read, as they do for the enzymes.
type windows struct {
	in     [len(bounds)]time.Duration
	grain  bool // it is, or was, in
	seen   bool
	unseen time.Duration
}

// mostUnseen is how long a mash may go without a reading and be counted as it is
// when it is read again.
const mostUnseen = 10 * time.Minute

func (w *windows) second(gap time.Duration, d *controller.Decision) {
	w.grain = w.grain || d.Kind == profile.MashIn
	switch {
	case d.Mode == controller.Idle || d.Mode.Ended() || gap <= 0 || !w.grain:
		return
	case d.Kind == profile.MashIn && (d.Stage == controller.Settle || d.Stage == controller.Mix):
		w.unseen += gap
		return
	case d.Kind == profile.MashIn && d.Stage == controller.Count, d.Kind == profile.Rest, d.Kind == profile.MashOut,
		d.Kind == profile.Lift && d.Stage == controller.Ready:
	default:
		w.unseen = 0
		return
	}
	if !d.HasEstimate {
		w.unseen += gap
		return
	}
	if w.unseen += gap; w.unseen <= mostUnseen {
		w.count(float64(d.Estimate), w.unseen)
	}
	w.seen, w.unseen = true, 0
}

func (w *windows) count(t float64, d time.Duration) {
	const beyond = float64(controller.EntryBand)
	for i, b := range bounds {
		top := b[1] + beyond
		if i+1 < len(bounds) && bounds[i+1][0] == b[1] {
			top = b[1] - beyond
		}
		if t >= b[0]-beyond && t < top {
			w.in[i] += d
		}
	}
}

// list is empty where there was no mash.
func (w *windows) list() []Window {
	out := []Window{}
	for i, b := range bounds {
		if w.seen {
			out = append(out, Window{b[0], b[1], w.in[i].Seconds()})
		}
	}
	return out
}

// Kettle is what the batch was run with: the rig as declared, and with what a water
// test found.
type Kettle struct {
	Power    float64 `json:"power_watts"` // as counted with
	Loss     float64 `json:"loss_watts_per_kelvin"`
	Vessel   float64 `json:"vessel_joules_per_kelvin"`
	Capacity float64 `json:"capacity_litres"` // 0: not known
	Covered  float64 `json:"element_covered_litres"`
	Relay    string  `json:"relay"`
	Probe    string  `json:"probe"`
	Pump     bool    `json:"pump"`
	Boiling  float64 `json:"boiling_celsius"`
	Room     float64 `json:"room_celsius"`
	Tap      float64 `json:"tap_celsius"`
	Water    float64 `json:"water_litres"` // cold, as filled
	Tuning   *Tuning `json:"tuning"`       // null: untuned
}

// Tuning is the model that a water test left.
type Tuning struct {
	Power    float64 `json:"power_watts"`
	Loss     float64 `json:"loss_watts_per_kelvin"`
	Heated   float64 `json:"heated_joules_per_kelvin"`
	Mash     float64 `json:"behind_joules_per_kelvin"`
	Exchange float64 `json:"exchange_watts_per_kelvin"`
	Element  float64 `json:"element_lag_seconds"`
	Probe    float64 `json:"probe_lag_seconds"`
	Delay    float64 `json:"delay_seconds"`
	Noise    float64 `json:"noise_kelvin"`
}

func kettleOf(c *controller.Config) Kettle {
	k := Kettle{
		Power: float64(c.Power), Loss: float64(c.Loss), Vessel: float64(c.Vessel), Capacity: float64(c.Capacity), Covered: float64(c.CoveredAt),
		Relay: "solid-state", Probe: "outlet", Pump: c.HasPump, Boiling: float64(c.Boiling), Room: float64(c.Room), Tap: float64(c.Tap), Water: float64(c.Water),
	}
	if c.Relay == modulate.Mechanical {
		k.Relay = "mechanical"
	}
	switch c.Place {
	case controller.Return:
		k.Probe = "return"
	case controller.Bed:
		k.Probe = "bed"
	case controller.Outlet:
	}
	if m := &c.Model; m.Power > 0 {
		k.Tuning = &Tuning{
			Power: float64(m.Power), Loss: float64(m.Loss), Heated: float64(m.Heated), Mash: float64(m.Mash), Exchange: float64(m.Exchange),
			Element: m.Element.Seconds(), Probe: m.Probe.Seconds(), Delay: m.Delay.Seconds(), Noise: float64(m.Noise),
		}
	}
	return k
}

// Across are figures by which batches of different kettles can be compared. Null:
// not known.
type Across struct {
	WaterToGrain *float64 `json:"water_to_grain_litres_per_kilogram"` // cold
	PowerToLoad  *float64 `json:"watts_per_litre"`                    // of the water filled
	HeatUp       *float64 `json:"heat_up_kelvin_per_minute"`          // of the mash, mean of its heat-ups
	Strike       *float64 `json:"strike_kelvin_per_minute"`           // of the water
	PlannedOff   *float64 `json:"planned_evaporation_ratio_per_hour"` // of the volume before the boil
	BoilOff      *float64 `json:"evaporation_ratio_per_hour"`         // by the heat balance: power above loss
}

// across works them out of what is there.
func (a *Account) across() {
	x := &a.Across
	if p := &a.Day.Profile; a.Day.HasProfile && p.Grain.Mass > 0 {
		x.WaterToGrain = figure(float64(p.Water) / float64(p.Grain.Mass))
	}
	if a.Kettle.Water > 0 {
		x.PowerToLoad = figure(a.Kettle.Power / a.Kettle.Water)
	}
	if len(a.Day.Plan.Boils) > 0 {
		x.PlannedOff = figure(float64(a.Day.Plan.Boils[0].Share))
	}
	kelvin, minutes := 0.0, 0.0
	for i := range a.Steps {
		s := &a.Steps[i]
		switch {
		case s.Rate == nil || s.Reached == nil:
		case s.kind == profile.Strike:
			x.Strike = s.Rate
		case s.kind == profile.Rest || s.kind == profile.MashOut:
			kelvin, minutes = kelvin+*s.Rate**s.Reached/60, minutes+*s.Reached/60
		}
	}
	if minutes > 0 {
		x.HeatUp = figure(kelvin / minutes)
	}
}

// vapour is what the element gave while the boil's clock ran.
type vapour struct {
	time   time.Duration
	joules float64
}

func (v *vapour) add(gap time.Duration, spent float64) {
	if gap > 0 {
		v.time, v.joules = v.time+gap, v.joules+spent
	}
}

// boil works the evaporation out of the heat balance: what the element gave above
// the loss of the kettle and of its open surface at the boil is vapour. It counts for the volume after the
// lift, as it was stated or planned.
func (a *Account) boil(t *Tally) {
	c := &a.Day.Head.Config
	for i := range t.runs {
		v := t.runs[i].vapour
		before := float64(c.AfterLift)
		if v.time < time.Minute || before <= 0 {
			continue
		}
		lost := heat.HoldPower(c.Loss, c.Room, c.Boiling) + heat.OpenAir(c.Surface, c.Room, c.Boiling)
		mean := v.joules/v.time.Seconds() - float64(lost)
		rate := heat.EvaporationRate(unit.Watts(max(mean, 0)), c.Boiling)
		a.Across.BoilOff = figure(float64(rate) * time.Hour.Seconds() / before)
	}
}
