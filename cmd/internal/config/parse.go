package config

import (
	"fmt"
	"math"
	"regexp"
	"strings"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

var (
	relayDrivers = []string{"gpio", "sysfs"}
	probeDrivers = []string{"w1", "ds248x", "max31865", "ads1115", "sysfs"}
	relayKeys    = strict.Keys{"driver", "line", "type"}
)

// ParseRig reads a rig file. All faults are reported at once, in the order of
// the file. With a fault that is more than a warning the rig returned is the
// zero value, which has no element.
func ParseRig(name string, text []byte) (Rig, []strict.Fault) {
	doc := strict.Parse(name, text)
	m := doc.Map(strict.Keys{
		"rig", "kettle", "element", "pump", "probe", "supply", "site", "bag",
		"limits", "tuning", "contactor", "inputs", "signals",
	})
	r := Rig{
		Name:   m.Text("rig", strict.Required, strict.Example("Yard kettle")),
		Tuning: m.Text("tuning", strict.MaxRunes(200), strict.Example("yard-kettle.tuning.yaml")),
		File:   name,
	}
	r.Kettle = parseKettle(m)
	r.Element = parseElement(m)
	r.Pump = parsePump(m)
	r.Probe = parseProbe(m, r)
	r.Supply = parseSupply(m, r.Element.Power)
	r.Site = parseSite(m)
	r.Bag = parseBag(m)
	r.Limits = parseLimits(m, r)
	r.Contactor = parseRelay(m.Map("contactor", strict.Keys{"relay"}))
	r.Inputs, r.Signals = parseInputs(m), parseSignals(m)
	refuseSharedLines(m, r)
	if doc.Refused() {
		return Rig{}, doc.Faults()
	}
	return r, doc.Faults()
}

func parseKettle(m *strict.Map) Kettle {
	k := m.Map("kettle", strict.Keys{"capacity", "diameter", "element_covered_at", "vessel", "loss"}, strict.Required)
	capacity := k.Litres("capacity", strict.Required, strict.Between(5, 300), strict.Example("50 L"))
	kettle := Kettle{
		Capacity:         capacity,
		Diameter:         k.Metres("diameter", strict.Between(0.1, 2), strict.Example("40 cm")),
		ElementCoveredAt: k.Litres("element_covered_at", strict.Required, strict.Between(0.2, 200), strict.Example("12 L")),
		VesselEstimated:  !k.Has("vessel"),
		LossEstimated:    !k.Has("loss"),
	}
	kettle.Vessel = strict.Value(k, "vessel", parseVessel, unit.FormatJoulesPerKelvin, "4.1 kJ/K or 8 kg steel",
		strict.Between(unit.JoulesPerKelvin(100), 50e3), strict.Default(EstimatedVessel(capacity)))
	kettle.Loss = k.WattsPerKelvin("loss", strict.Between(0.2, 60), strict.Default(EstimatedLoss(capacity)))
	if k.Sound("element_covered_at") && k.Sound("capacity") && kettle.ElementCoveredAt >= capacity {
		k.Refuse("element_covered_at", fmt.Sprintf("%s is not below the capacity of %s",
			unit.FormatLitres(kettle.ElementCoveredAt), unit.FormatLitres(capacity)), "write the volume that just covers the element")
	}
	return kettle
}

// vesselHeat is the specific heat of what kettles are made of, J/(kg K)
// (handbook values at 50 °C, from memory: stainless steel 304, copper,
// aluminium).
var vesselHeat = []struct {
	word string
	heat float64
}{{"steel", 500}, {"copper", 387}, {"aluminium", 905}, {"aluminum", 905}}

// parseVessel reads a heat capacity, or a mass and what it is made of.
func parseVessel(text string) (unit.JoulesPerKelvin, error) {
	for _, v := range vesselHeat {
		if written, ok := strings.CutSuffix(strings.TrimSpace(text), v.word); ok {
			mass, err := unit.ParseKilograms(written)
			return unit.JoulesPerKelvin(float64(mass) * v.heat), err
		}
	}
	if mass, err := unit.ParseKilograms(text); err == nil {
		return 0, &unit.TextError{
			What:   unit.FormatKilograms(mass) + " of what?",
			Remedy: "write " + unit.FormatKilograms(mass) + " steel, copper or aluminium",
		}
	}
	return unit.ParseJoulesPerKelvin(text)
}

func parseElement(m *strict.Map) Element {
	e := m.Map("element", strict.Keys{"power", "relay"}, strict.Required)
	return Element{
		Power: e.Watts("power", strict.Required, strict.Between(200, 15e3)),
		Relay: parseRelay(e, strict.Required), // the control depends on it
	}
}

// parseRelay reads a relay below its owner. Relays count as mechanical unless
// the options ask for the type to be said.
func parseRelay(owner *strict.Map, typed ...strict.Option) Relay {
	r := owner.Map("relay", relayKeys, strict.Required, strict.Example("{driver: gpio, line: GPIO17, type: solid-state}"))
	relay := Relay{
		Driver: r.Word("driver", relayDrivers, strict.Required),
		Line:   r.Text("line", strict.Required, strict.MaxRunes(200), strict.Example("GPIO17")),
		Type:   RelayType(index(relayTypes, r.Word("type", relayTypes, typed...))),
	}
	if relay.Driver == "sysfs" && r.Sound("line") && !fileLine.MatchString(relay.Line) {
		r.Refuse("line", fmt.Sprintf("%q is neither a whole path nor the number of a line", relay.Line), "write one such as /sys/class/leds/relay/brightness, or 17")
	}
	return relay
}

// fileLine is a line of driver sysfs: a file, or a line of the kernel's older
// numbering.
var fileLine = regexp.MustCompile(`^(/.+|(GPIO|gpio)?[0-9]{1,4})$`)

func index(words []string, word string) int {
	for i, w := range words {
		if w == word {
			return i
		}
	}
	return 0
}

func parsePump(m *strict.Map) Pump {
	p := m.Map("pump", strict.Keys{"relay", "in_boil"})
	return Pump{Relay: parseRelay(p), InBoil: p.Yes("in_boil")}
}

// oneWireID is a device's address as the kernel prints it: family and serial
// number.
var oneWireID = regexp.MustCompile(`^[0-9a-f]{2}-[0-9a-f]{12}$`)

func parseProbe(m *strict.Map, r Rig) Probe {
	p := m.Map("probe", strict.Keys{"driver", "id", "place", "covered_at"}, strict.Required)
	probe := Probe{
		Driver: p.Word("driver", probeDrivers, strict.Required),
		ID:     p.Text("id", strict.Required, strict.MaxRunes(200), strict.Example("28-0000075a1c3f")),
		Place:  Place(index(placeNames, p.Word("place", placeNames, strict.Required))),
	}
	if (probe.Driver == "w1" || probe.Driver == "ds248x") && p.Sound("id") && !oneWireID.MatchString(probe.ID) {
		p.Refuse("id", fmt.Sprintf("%q is not a 1-wire address", probe.ID), "write it as the kernel lists it, such as 28-0000075a1c3f")
	}
	if probe.Driver == "sysfs" && p.Sound("id") && !strings.HasPrefix(probe.ID, "/") {
		p.Refuse("id", fmt.Sprintf("%q is not a whole path", probe.ID), "write one such as /sys/bus/iio/devices/iio:device0/in_temp_input")
	}
	if !p.Sound("place") {
		return probe
	}
	if probe.Place == Return {
		probe.CoveredAt = p.Litres("covered_at", strict.Between(0, 200))
		if !m.Has("pump") {
			p.Refuse("place", "the probe sits in the pump's hose, and the rig has no pump", "write the pump, or place the probe at outlet or bed")
		}
		return probe
	}
	probe.CoveredAt = p.Litres("covered_at", strict.Required, strict.Between(0.1, 200), strict.Example("9 L"))
	if p.Sound("covered_at") && r.Kettle.Capacity > 0 && probe.CoveredAt >= r.Kettle.Capacity {
		p.Refuse("covered_at", fmt.Sprintf("%s is not below the capacity of %s",
			unit.FormatLitres(probe.CoveredAt), unit.FormatLitres(r.Kettle.Capacity)), "write the volume that just covers the probe")
	}
	return probe
}

// parseSupply refuses an element that draws more than its fuse carries: while
// the relay is closed the whole current flows, whatever the duty.
func parseSupply(m *strict.Map, power unit.Watts) Supply {
	s := m.Map("supply", strict.Keys{"voltage", "fuse", "tariff"})
	supply := Supply{
		Voltage: s.Volts("voltage", strict.Required, strict.Between(90, 420)),
		Fuse:    s.Amperes("fuse", strict.Between(2, 125)),
		Tariff:  parseTariff(s),
	}
	if !s.Sound("voltage") || !s.Sound("fuse") {
		return supply
	}
	if current := unit.Amperes(float64(power) / float64(supply.Voltage)); current > supply.Fuse {
		s.Refuse("fuse", fmt.Sprintf("the element draws %s, and the fuse carries %s", unit.FormatAmperes(current), unit.FormatAmperes(supply.Fuse)),
			"use a circuit made for it or a smaller element; a relay that pulses does not make it fit; ask a licensed electrician")
	}
	return supply
}

func parseSite(m *strict.Map) Site {
	s := m.Map("site", strict.Keys{"altitude", "room", "tap"})
	return Site{
		Altitude: s.Metres("altitude", strict.Between(-430, 5000)),
		Room:     s.Celsius("room", strict.Between(-20, 50), strict.Default(DefaultRoom), strict.Example("18 °C")),
		Tap:      s.Celsius("tap", strict.Between(0, 40), strict.Default(DefaultTap), strict.Example("12 °C")),
	}
}

func parseBag(m *strict.Map) Bag {
	b := m.Map("bag", strict.Keys{"retention", "stirring"})
	return Bag{
		Retention: b.LitresPerKilogram("retention", strict.Between(0, 2.5), strict.Default(DefaultRetention)),
		Stirring:  b.Kelvin("stirring", strict.Between(0, 5)),
	}
}

// parseLimits refuses a limit that loosens what holds anyway.
func parseLimits(m *strict.Map, r Rig) Limits {
	boiling := r.Boiling()
	l := m.Map("limits", strict.Keys{"over_temperature", "hot_side"})
	limits := Limits{HotSide: l.Kelvin("hot_side", strict.Between(unit.Kelvin(0.3), 10), strict.Example("0.8 K"))}
	if l.Sound("hot_side") && r.Probe.Place != Outlet {
		l.Refuse("hot_side", "only a probe in the wort outside the bag sees how hot the wort at the element gets; this one sits in place: "+r.Probe.Place.String(),
			"take hot_side out, or move the probe to the outlet")
	}
	limit := l.Celsius("over_temperature", strict.Between(40, 200), strict.Example("102 °C"))
	if !l.Sound("over_temperature") {
		return limits
	}
	most := loosest(boiling)
	switch written := unit.FormatCelsius(limit); {
	case limit > most:
		l.Refuse("over_temperature", fmt.Sprintf("%s loosens the limit: water boils at %s here, and %s is the most",
			written, unit.FormatCelsius(boiling), roundedDown(most)), "write at most "+roundedDown(most)+", or take it out")
	case limit < boiling.Plus(tight):
		l.Warn("over_temperature", fmt.Sprintf("%s is less than %s above the %s where water boils here: it may cut a healthy boil",
			written, unit.FormatKelvin(tight), unit.FormatCelsius(boiling)), "write "+roundedDown(most)+" unless this kettle never boils")
	}
	limits.OverTemperature = limit
	return limits
}

// roundedDown prints a limit so that what is printed is within it.
func roundedDown(c unit.Celsius) string {
	return unit.FormatCelsius(unit.Celsius(math.Floor(float64(c)*10) / 10))
}

func parseInputs(m *strict.Map) Inputs {
	i := m.Map("inputs", strict.Keys{"go", "off", "level", "flow", "emergency"})
	line := func(key string) string { return i.Text(key, strict.Example("GPIO5")) }
	return Inputs{line("go"), line("off"), line("level"), line("flow"), line("emergency")}
}

func parseSignals(m *strict.Map) Signals {
	s := m.Map("signals", strict.Keys{"buzzer", "lamp"})
	line := func(key string) string { return s.Text(key, strict.Example("GPIO6")) }
	return Signals{line("buzzer"), line("lamp")}
}

// refuseSharedLines refuses a line with two jobs: a pump that starts must not
// close the element's relay.
func refuseSharedLines(m *strict.Map, r Rig) {
	taken := map[string]string{}
	for _, l := range []struct{ key, job, line string }{
		{"element", "the element's relay", r.Element.Relay.Line},
		{"contactor", "the contactor", r.Contactor.Line},
		{"pump", "the pump's relay", r.Pump.Relay.Line},
		{"inputs", "the go button", r.Inputs.Go},
		{"inputs", "the off button", r.Inputs.Off},
		{"inputs", "the level switch", r.Inputs.Level},
		{"inputs", "the flow switch", r.Inputs.Flow},
		{"inputs", "the emergency stop", r.Inputs.Emergency},
		{"signals", "the buzzer", r.Signals.Buzzer},
		{"signals", "the lamp", r.Signals.Lamp},
	} {
		if l.line == "" {
			continue
		}
		name := strings.TrimPrefix(strings.ToLower(l.line), "gpio")
		if other, twice := taken[name]; twice {
			m.Refuse(l.key, fmt.Sprintf("line %s is both %s and %s", l.line, other, l.job), "give each a line of its own")
			continue
		}
		taken[name] = l.job
	}
}
