package sim

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

// ParsePlant reads a plant file. What it does not say stays as in base. The
// faults are all there are in the file; with one that is no warning, the
// parameters are not to be used.
func ParsePlant(name string, text []byte, base Params) (Params, []strict.Fault) {
	doc := strict.Parse(name, text)
	m := doc.Map(strict.Keys{
		"plant", "element", "vessel", "loss", "evaporation", "circulation",
		"probe", "supply", "water", "grain", "chiller", "site",
	})
	p := base
	p.Name = m.Text("plant", strict.Required, strict.DefaultText(base.Name), strict.Example("Yard kettle as built"))
	parseElement(m, &p)
	parseVessel(m, &p)
	parseLosses(m, &p)
	parseCirculation(m, &p)
	parseProbe(m, &p.Probe)
	parseSupply(m, &p.Supply)
	parseLoad(m, &p)
	parseSurroundings(m, &p)
	return p, doc.Faults()
}

func parseElement(m *strict.Map, p *Params) {
	e := m.Map("element", strict.Keys{"power", "capacity", "transfer"})
	p.Element.Power = e.Watts("power", strict.Default(p.Element.Power), strict.Between[unit.Watts](1, 30000))
	p.Element.Capacity = e.JoulesPerKelvin("capacity", strict.Default(p.Element.Capacity), strict.Between[unit.JoulesPerKelvin](10, 20000))
	p.Element.Transfer = e.WattsPerKelvin("transfer", strict.Default(p.Element.Transfer), strict.Between[unit.WattsPerKelvin](1, 5000))
	slow(e, "capacity", float64(p.Element.Capacity)/float64(p.Element.Transfer))
}

func parseVessel(m *strict.Map, p *Params) {
	v := m.Map("vessel", strict.Keys{"capacity", "transfer"})
	p.Vessel.Capacity = v.JoulesPerKelvin("capacity", strict.Default(p.Vessel.Capacity), strict.Between[unit.JoulesPerKelvin](100, 200000))
	p.Vessel.Transfer = v.WattsPerKelvin("transfer", strict.Default(p.Vessel.Transfer), strict.Between[unit.WattsPerKelvin](1, 10000))
	slow(v, "capacity", float64(p.Vessel.Capacity)/float64(p.Vessel.Transfer))
}

// slow refuses a metal part that would follow the wort within half a second: no
// real one does, and the plant would be integrated in needlessly small steps.
func slow(m *strict.Map, key string, seconds float64) {
	if !m.Missing() && seconds < 0.5 {
		m.Refuse(key, "capacity divided by transfer is below 0.5 s", "raise the capacity or lower the transfer")
	}
}

func parseLosses(m *strict.Map, p *Params) {
	l := m.Map("loss", strict.Keys{"lid_on", "lid_off"})
	watts := strict.Between[unit.WattsPerKelvin](0, 1000)
	p.Loss.LidOn = l.WattsPerKelvin("lid_on", strict.Default(p.Loss.LidOn), watts)
	p.Loss.LidOff = l.WattsPerKelvin("lid_off", strict.Default(max(p.Loss.LidOff, p.Loss.LidOn)), watts)
	if p.Loss.LidOff < p.Loss.LidOn {
		l.Refuse("lid_off", "less is lost with the lid off than with it on", "write lid_off at or above lid_on")
	}
	v := m.Map("evaporation", strict.Keys{"lid_on", "lid_off"})
	vapour := strict.Between[unit.WattsPerPascal](0, 1)
	p.Evaporation.LidOn = v.WattsPerPascal("lid_on", strict.Default(p.Evaporation.LidOn), vapour)
	p.Evaporation.LidOff = v.WattsPerPascal("lid_off", strict.Default(max(p.Evaporation.LidOff, p.Evaporation.LidOn)), vapour)
	if p.Evaporation.LidOff < p.Evaporation.LidOn {
		v.Refuse("lid_off", "less evaporates with the lid off than with it on", "write lid_off at or above lid_on")
	}
}

func parseCirculation(m *strict.Map, p *Params) {
	c := m.Map("circulation", strict.Keys{"flow", "bed_transfer", "outside_bed", "delay", "pipe_loss"})
	to := &p.Circulation
	to.Flow = c.LitresPerSecond("flow", strict.Default(to.Flow), strict.Between[unit.LitresPerSecond](0, 2))
	to.BedTransfer = c.WattsPerKelvin("bed_transfer", strict.Default(to.BedTransfer), strict.Between[unit.WattsPerKelvin](1, 20000))
	to.OutsideBed = c.Ratio("outside_bed", strict.Default(to.OutsideBed), strict.Between[unit.Ratio](0.05, 0.95))
	to.Delay = c.Duration("delay", strict.Default(to.Delay), strict.Between(time.Second, 2*time.Minute))
	to.PipeLoss = c.WattsPerKelvin("pipe_loss", strict.Default(to.PipeLoss), strict.Between[unit.WattsPerKelvin](0, 100))
}

func parseProbe(m *strict.Map, p *Probe) {
	pr := m.Map("probe", strict.Keys{"place", "lag", "noise", "step", "offset", "conversion"})
	word := pr.Word("place", placeNames[:], strict.DefaultText(p.Place.String()))
	for i, name := range placeNames {
		if name == word {
			p.Place = Place(i)
		}
	}
	p.Lag = pr.Duration("lag", strict.Default(p.Lag), strict.Between(time.Duration(0), 5*time.Minute))
	p.Noise = pr.Kelvin("noise", strict.Default(p.Noise), strict.Between[unit.Kelvin](0, 5))
	p.Step = pr.Kelvin("step", strict.Default(p.Step), strict.Between[unit.Kelvin](0, 5))
	p.Offset = pr.Kelvin("offset", strict.Default(p.Offset), strict.Between[unit.Kelvin](-20, 20))
	p.Conversion = pr.Duration("conversion", strict.Default(p.Conversion), strict.Between(time.Duration(0), 10*time.Second))
}

func parseSupply(m *strict.Map, p *Supply) {
	s := m.Map("supply", strict.Keys{"nominal", "actual"})
	p.Nominal = s.Volts("nominal", strict.Default(p.Nominal), strict.Between[unit.Volts](50, 500))
	p.Actual = s.Volts("actual", strict.Default(p.Actual), strict.Between[unit.Volts](0, 600))
}

func parseLoad(m *strict.Map, p *Params) {
	w := m.Map("water", strict.Keys{"error", "temperature"})
	share := strict.Between[unit.Ratio](-0.9, 2)
	p.Water.Error = w.Ratio("error", strict.Default(p.Water.Error), share)
	p.Water.Temperature = w.Celsius("temperature", strict.Default(p.Water.Temperature), strict.Between[unit.Celsius](0, 95))
	g := m.Map("grain", strict.Keys{"error", "slaking", "retention"})
	p.Grain.Error = g.Ratio("error", strict.Default(p.Grain.Error), share)
	p.Grain.Slaking = g.JoulesPerKilogram("slaking", strict.Default(p.Grain.Slaking), strict.Between[unit.JoulesPerKilogram](0, 100000))
	p.Grain.Retention = g.LitresPerKilogram("retention", strict.Default(p.Grain.Retention), strict.Between[unit.LitresPerKilogram](0, 3))
}

func parseSurroundings(m *strict.Map, p *Params) {
	c := m.Map("chiller", strict.Keys{"transfer", "water"})
	p.Chiller.Transfer = c.WattsPerKelvin("transfer", strict.Default(p.Chiller.Transfer), strict.Between[unit.WattsPerKelvin](0, 10000))
	p.Chiller.Water = c.Celsius("water", strict.Default(p.Chiller.Water), strict.Between[unit.Celsius](0, 60))
	s := m.Map("site", strict.Keys{"room", "altitude"})
	p.Site.Room = s.Celsius("room", strict.Default(p.Site.Room), strict.Between[unit.Celsius](-20, 50))
	p.Site.Altitude = s.Metres("altitude", strict.Default(p.Site.Altitude), strict.Between[unit.Metres](-430, 5500))
}
