package rehearse

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sim"
	"mashward/sim/fault"
)

// Unsure is a day with what is left open about it: no rig file, no water test and
// no brewer knows a kettle exactly. It draws the days that it may become.
//
// # Distribution
//
// Each figure is drawn by itself. "even" is evenly spread, "log" evenly in the
// logarithm, "normal" is cut off at three standard deviations. Where no source
// stands the range is common practice or an engineering guess.
//
//	                   after a water test           without one
//	element's power    normal, the test's doubt     even, -10 to +5 % (rated input of heating
//	                   (0.3 % at least)             appliances, IEC 60335-1, 10.1; from memory)
//	mains voltage      normal, 1 %                  the same
//	loss               even, 10 % either way        even, 25 %
//	vessel             in the power                 even, 10 %
//	probe's lag, delay even, 10 %                   log, 2/3 to 3/2
//	element's transfer even, 10 %                   log, 2/3 to 3/2
//	pump's flow        log, 4/5 to 5/4              the same
//	bed's transfer     log, 2/3 to 3/2              the same
//	wort outside it    even, a third either way     the same
//	vapour, lid off    even, 30 %                   the same
//	probe reads        even, 0.5 K either way       the same (the limits of the DS18B20's datasheet,
//	                                                -10 to 85 °C; even, as where only limits are
//	                                                known: JCGM 100:2008, 4.3.7)
//	water filled       even, 2 %                    the same: 5 mm on a dipstick
//	grain              even, 1 %; 2 K warmer or colder; 1 point of moisture
//	grain keeps        even, 15 %
//	room, tap          even, 3 K and 2 K either way
//	air pressure       even, as of 200 m either way: 0.7 K of the boiling point (ISO 2533)
//	chiller            even, 20 %
//	person             even, from none to the delay given
type Unsure struct {
	Plant sim.Params     // as declared, found, or in a plant file: what the figures are spread around
	Load  sim.Load       // as the profile has it
	Found *config.Tuning // what a water test found; nil: there was none
	Delay time.Duration  // the longest a person takes to answer
}

// leastDoubt is of a water test: it does not see what changes from day to day.
const leastDoubt = 0.003

// Drawn is one of the days.
type Drawn struct {
	Plant sim.Params
	Load  sim.Load
	Delay time.Duration
}

// Draw is the day of this seed: the same seed gives the same one.
func (u Unsure) Draw(seed uint64) Drawn {
	c := chance{rand.New(rand.NewPCG(seed, 0x737072656164))}
	d := Drawn{Plant: u.Plant, Load: u.Load, Delay: time.Duration(c.Float64() * float64(u.Delay))}
	c.kettle(&d.Plant, u.Found)
	c.day(&d)
	return d
}

// Kettle is the simulated kettle of the day; the seed fixes the probe's noise.
func (d Drawn) Kettle(p profile.Profile, script fault.Script, seed uint64) *Simulated {
	return Bench(p, d.Plant, d.Load, script, seed)
}

// chance is a generator with the words of the table.
type chance struct{ *rand.Rand }

// even is a factor of up to share either way.
func (c chance) even(share float64) float64 { return 1 + c.within(share) }

// within is a figure of up to most either way.
func (c chance) within(most float64) float64 { return most * (2*c.Float64() - 1) }

// log is a factor from 1/most to most.
func (c chance) log(most float64) float64 { return math.Exp(c.within(math.Log(most))) }

// normal is a factor with this standard deviation.
func (c chance) normal(sd float64) float64 {
	const cut = 3
	return 1 + sd*max(-cut, min(c.NormFloat64(), cut))
}

// kettle draws what is left open about the kettle itself.
func (c chance) kettle(p *sim.Params, found *config.Tuning) {
	power, loss, vessel := 1+0.15*c.Float64()-0.10, c.even(0.25), c.even(0.10)
	lag, delay, transfer := c.log(1.5), c.log(1.5), c.log(1.5)
	if found != nil {
		power, loss, vessel = c.normal(max(float64(found.Doubt), leastDoubt)), c.even(0.10), 1
		lag, delay, transfer = c.even(0.10), c.even(0.10), c.even(0.10)
	}
	p.Element.Power *= unit.Watts(power)
	p.Element.Transfer *= unit.WattsPerKelvin(transfer)
	p.Loss.LidOff += p.Loss.LidOn * unit.WattsPerKelvin(loss-1)
	p.Loss.LidOn *= unit.WattsPerKelvin(loss)
	p.Vessel.Capacity *= unit.JoulesPerKelvin(vessel)
	p.Probe.Lag = scaled(p.Probe.Lag, lag)
	p.Circulation.Delay = scaled(p.Circulation.Delay, delay)
	p.Circulation.Flow *= unit.LitresPerSecond(c.log(1.25))
	p.Circulation.BedTransfer *= unit.WattsPerKelvin(c.log(1.5))
	p.Circulation.OutsideBed = max(0.05, min(p.Circulation.OutsideBed*unit.Ratio(c.even(1.0/3)), 0.95))
	p.Evaporation.LidOff *= unit.WattsPerPascal(c.even(0.30))
	p.Chiller.Transfer *= unit.WattsPerKelvin(c.even(0.20))
	p.Probe.Offset += unit.Kelvin(c.within(0.5))
}

// day draws what is left open about what is put in, and about the place.
func (c chance) day(d *Drawn) {
	p := &d.Plant
	p.Supply.Actual *= unit.Volts(c.normal(0.01))
	p.Water.Error = (1+p.Water.Error)*unit.Ratio(c.even(0.02)) - 1
	p.Grain.Error = (1+p.Grain.Error)*unit.Ratio(c.even(0.01)) - 1
	p.Grain.Retention *= unit.LitresPerKilogram(c.even(0.15))
	tap := unit.Celsius(c.within(2))
	p.Water.Temperature, p.Chiller.Water = max(0, p.Water.Temperature+tap), max(0, p.Chiller.Water+tap)
	p.Site.Room += unit.Celsius(c.within(3))
	p.Site.Altitude += unit.Metres(c.within(200))
	d.Load.GrainTemperature += unit.Celsius(c.within(2))
	d.Load.Moisture = max(0, d.Load.Moisture+unit.Ratio(c.within(0.01)))
}

func scaled(d time.Duration, by float64) time.Duration { return time.Duration(float64(d) * by) }

// Words tell what was drawn, against what it was drawn around.
func (d Drawn) Words(u Unsure) []string {
	p, q := d.Plant, u.Plant
	out := []string{
		fmt.Sprintf("element %s, mains voltage %s, loss %s, vessel %s", percent(p.Element.Power, q.Element.Power),
			percent(p.Supply.Actual, q.Supply.Actual), percent(p.Loss.LidOn, q.Loss.LidOn), percent(p.Vessel.Capacity, q.Vessel.Capacity)),
		fmt.Sprintf("probe %+.2f °C off, its lag %.1f s", float64(p.Probe.Offset-q.Probe.Offset), p.Probe.Lag.Seconds()),
		fmt.Sprintf("water %s of %+.1f °C, grain %s of %+.1f °C, room %+.1f °C", percent(1+p.Water.Error, 1+q.Water.Error),
			float64(p.Water.Temperature-q.Water.Temperature), percent(1+p.Grain.Error, 1+q.Grain.Error),
			float64(d.Load.GrainTemperature-u.Load.GrainTemperature), float64(p.Site.Room-q.Site.Room)),
	}
	if q.Circulation.Flow > 0 {
		out = append(out, "flow of the pump "+percent(p.Circulation.Flow, q.Circulation.Flow))
	}
	if u.Delay > 0 {
		out = append(out, "each prompt answered after "+unit.FormatDuration(d.Delay.Round(time.Second)))
	}
	return out
}

// percent is how far one figure is from another; "as it was" from none.
func percent[T ~float64](now, was T) string {
	if was == 0 {
		return "as it was"
	}
	return fmt.Sprintf("%+.1f %%", (float64(now/was)-1)*100)
}
