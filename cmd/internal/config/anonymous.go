package config

import (
	"fmt"
	"strings"

	"mashward/controller/unit"
)

// Anonymous is a rig file with the figures of a rig and nothing that tells whose it
// is or how it is wired: no name, no lines, no addresses, no files. It parses, and a
// day on it is planned as on the rig.
func (r Rig) Anonymous() string {
	var b strings.Builder
	kettle := []string{
		"capacity: " + volume(r.Kettle.Capacity), "element_covered_at: " + volume(r.Kettle.ElementCoveredAt),
		"vessel: " + heatCapacity(r.Kettle.Vessel), "loss: " + transfer(r.Kettle.Loss),
	}
	if r.Kettle.Diameter > 0 {
		kettle = append(kettle, "diameter: "+height(r.Kettle.Diameter))
	}
	fmt.Fprintf(&b, "rig: Kettle\nkettle: {%s}\n", strings.Join(kettle, ", "))
	fmt.Fprintf(&b, "element: {power: %s, relay: {driver: gpio, line: GPIO17, type: %s}}\n", watts(r.Element.Power), r.Element.Relay.Type)
	if r.Pump.Present() {
		fmt.Fprintf(&b, "pump: {relay: {driver: gpio, line: GPIO27, type: %s}, in_boil: %s}\n", r.Pump.Relay.Type, yes(r.Pump.InBoil))
	}
	fmt.Fprintf(&b, "probe: {driver: w1, id: 28-000000000000, place: %s, covered_at: %s}\n", r.Probe.Place, volume(r.Probe.CoveredAt))
	if s := r.Supply; s.Voltage > 0 {
		fmt.Fprintf(&b, "supply: {voltage: %s", volts(s.Voltage))
		if s.Fuse > 0 {
			fmt.Fprintf(&b, ", fuse: %s", exact(s.Fuse, unit.ParseAmperes, "A"))
		}
		if s.Tariff.Currency != "" {
			fmt.Fprintf(&b, ", tariff: %s", s.Tariff)
		}
		b.WriteString("}\n")
	}
	fmt.Fprintf(&b, "site: {altitude: %s, room: %s, tap: %s}\n", height(r.Site.Altitude), temperature(r.Site.Room), temperature(r.Site.Tap))
	fmt.Fprintf(&b, "bag: {retention: %s, stirring: %s}\n", retention(r.Bag.Retention), difference(r.Bag.Stirring))
	var limits []string
	if r.Limits.OverTemperature > 0 {
		limits = append(limits, "over_temperature: "+temperature(r.Limits.OverTemperature))
	}
	if r.Limits.HotSide > 0 {
		limits = append(limits, "hot_side: "+difference(r.Limits.HotSide))
	}
	if len(limits) > 0 {
		fmt.Fprintf(&b, "limits: {%s}\n", strings.Join(limits, ", "))
	}
	return b.String()
}

func yes(is bool) string {
	if is {
		return "yes"
	}
	return "no"
}
