package schema

func rigFile() *node {
	n := mapping("mashward rig", "What the brewer has: kettle, element, pump and probe, and where they stand.",
		must("rig", line("Name", "What the kettle is called.", 64, "Yard kettle")),
		must("kettle", kettle()),
		must("element", mapping("Element", "What heats. One element behind one relay.",
			must("power", figure{of: watts, title: "Power", about: "At the nominal voltage.", from: "200 W", to: "15000 W", example: "3000 W"}.node()),
			must("relay", relay("Relay of the element", must("type", words("Type", "How it switches; the control depends on it.", "", "solid-state", "mechanical")))))),
		may("pump", mapping("Pump", "Turns the wort over. Left out: there is none.",
			must("relay", relay("Relay of the pump", contacts())),
			may("in_boil", yes("In the boil", "Whether the pump may run in boiling wort.")))),
		must("probe", probe()),
		may("supply", mapping("Supply", "The circuit the element hangs on. Left out: current and fuse are not checked; local code decides.",
			must("voltage", figure{of: volts, title: "Voltage", from: "90 V", to: "420 V", example: "230 V"}.node()),
			may("fuse", figure{
				of: amperes, title: "Fuse", about: "An element that draws more is refused.", from: "2 A", to: "125 A",
				derived: "not checked", example: "16 A",
			}.node()),
			may("tariff", tariff()))),
		may("site", mapping("Site", "Where the kettle stands.",
			may("altitude", figure{of: metres, title: "Altitude", about: "Decides the boiling point.", from: "-430 m", to: "5000 m", without: "0 m", example: "340 m"}.node()),
			may("room", figure{of: celsius, title: "Room temperature", from: "-20 °C", to: "50 °C", without: "18 °C", example: "18 °C"}.node()),
			may("tap", figure{
				of: celsius, title: "Tap water", about: "What is filled in and what the chiller gets.", from: "0 °C", to: "40 °C",
				without: "12 °C", example: "12 °C",
			}.node()))),
		may("bag", mapping("Bag", "What the grain hangs in.",
			may("retention", figure{
				of: volumePerMass, title: "Retention", about: "Water in minus wort out, cold, for each kilogram of grain.",
				from: "0 L/kg", to: "2.5 L/kg", without: "0.8 L/kg", example: "0.8 L/kg",
			}.node()),
			may("stirring", figure{
				of: kelvin, title: "Stirring", about: "Temperature lost while the grain is stirred in; 0.6 to 1.3 K in 5 to 10 min with the lid off.",
				from: "0 K", to: "5 K", without: "0 K", example: "0.8 K",
			}.node()))),
		may("limits", mapping("Limits", "They may only tighten what holds anyway.",
			may("over_temperature", figure{
				of: celsius, title: "Over-temperature", about: "Heat trips at or above it. At most 4 K above the boiling point and 105 °C.",
				from: "40 °C", to: "200 °C", derived: "4 K above the boiling point at the site, 105 °C at most", example: "102 °C",
			}.node()),
			may("hot_side", figure{
				of: kelvin, title: "Hot side", about: "Ceiling for the wort at the element above the target, in heat-ups of a mash. Needs a probe at the outlet. Left out: none.",
				from: "0.3 K", to: "10 K", derived: "no ceiling", example: "0.8 K",
			}.node()))),
		may("tuning", line("Tuning", "File with the identified kettle model, counted from the rig file. Left out: untuned.", 200, "yard-kettle.tuning.yaml")),
		may("contactor", mapping("Contactor", "Second contactor, in series with the relay of the element.", must("relay", relay("Relay of the contactor", contacts())))),
		may("inputs", inputs()),
		may("signals", mapping("Signals", "Lines that tell people something.",
			may("buzzer", wire("Buzzer", "GPIO12")), may("lamp", wire("Lamp", "GPIO16")))),
	)
	// A probe in the pump's hose is blind without a pump.
	n.If = mapping("", "", must("probe", mapping("", "", must("place", &node{Const: "return"}))))
	n.If.open()
	n.Then = &node{Required: []string{"pump"}}
	return n
}

// open lets a condition look at some keys whatever else is there.
func (n *node) open() {
	n.Closed, n.Type = false, nil
	for _, k := range n.Properties {
		if k.is.Properties != nil {
			k.is.open()
		}
	}
}

func kettle() *node {
	return mapping("Kettle", "The vessel.",
		must("capacity", figure{of: litres, title: "Capacity", about: "Brim-full.", from: "5 L", to: "300 L", example: "50 L"}.node()),
		may("diameter", figure{
			of: metres, title: "Inner diameter", about: "Gives the depths for the dipstick.", from: "0.1 m", to: "2 m",
			derived: "no depths are given", example: "40 cm",
		}.node()),
		must("element_covered_at", figure{
			of: litres, title: "Element covered at", about: "The least volume that covers the element. Heat ends 1 L above it.",
			from: "0.2 L", to: "200 L", example: "12 L",
		}.node()),
		may("vessel", figure{
			of: vessel, title: "Heat capacity of the empty kettle", from: "100 J/K", to: "50000 J/K",
			derived: "estimated from the capacity", example: "8 kg steel",
		}.node()),
		may("loss", figure{
			of: heatTransfer, title: "Heat loss", about: "To the room, lid on.", from: "0.2 W/K", to: "60 W/K",
			derived: "estimated from the capacity", example: "7 W/K",
		}.node()),
	)
}

// tariff is what energy costs, as package config reads it.
func tariff() *node {
	return &node{
		Title: "Tariff", Description: "What a kilowatt-hour costs: a number, three capitals for the currency, /kWh. Left out: no cost is given.",
		Type: types{"string"}, Pattern: `^\s*[0-9]{1,5}(\.[0-9]{1,6})? ?[A-Z]{3} ?/ ?kWh\s*$`, Examples: []string{"0.32 EUR/kWh"},
	}
}

// contacts is the type of a relay that need not be said.
func contacts() key {
	return may("type", words("Type", "How it switches: contacts wear, and are switched more slowly.", "mechanical", "mechanical", "solid-state"))
}

func relay(title string, kind key) *node {
	n := mapping(title, "One switched line.",
		must("driver", words("Driver", "How the line is reached: gpio by its name, sysfs by a file that takes 0 and 1.", "", "gpio", "sysfs")),
		must("line", line("Line", "The line as its driver names it; each line has one job.", 200, "GPIO17")), kind)
	file := mapping("", "", must("driver", &node{Const: "sysfs"}))
	file.open()
	n.AllOf = []*node{{If: file, Then: &node{Properties: keys{may("line", &node{Pattern: `^\s*(/.+|(GPIO|gpio)?[0-9]{1,4})\s*$`})}}}}
	return n
}

func wire(title, example string) *node {
	return line(title, "The line as its driver names it; each line has one job.", 64, example)
}

func probe() *node {
	n := mapping("Probe", "The one thermometer.",
		must("driver", words("Driver", "Chip or kernel interface.", "", "w1", "ds248x", "max31865", "ads1115", "sysfs")),
		must("id", line("Address", "Which one on its bus; a 1-wire address as the kernel lists it.", 200, "28-0000075a1c3f")),
		must("place", words("Place", "outlet: in the wort outside the bag. return: in the pump's hose, blind while the pump is off. bed: in the grain.",
			"", "outlet", "return", "bed")),
		may("covered_at", figure{
			of: litres, title: "Covered at", about: "The least volume that covers the probe. Unused in the return.",
			from: "0.1 L", to: "200 L", example: "9 L",
		}.node()),
	)
	wired := mapping("", "", must("driver", &node{Enum: []string{"w1", "ds248x"}}))
	wired.open()
	returned := mapping("", "", must("place", &node{Const: "return"}))
	returned.open()
	file := mapping("", "", must("driver", &node{Const: "sysfs"}))
	file.open()
	n.AllOf = []*node{
		{If: file, Then: &node{Properties: keys{may("id", &node{Pattern: `^\s*/`})}}},
		{If: wired, Then: &node{Properties: keys{may("id", &node{Pattern: `^\s*[0-9a-f]{2}-[0-9a-f]{12}\s*$`})}}},
		{If: returned, Else: &node{Required: []string{"covered_at"}}},
	}
	return n
}

func inputs() *node {
	return mapping("Inputs", "Dry contacts that are read. off and emergency are normally closed, so that a broken wire counts as pressed.",
		may("go", wire("Go button", "GPIO5")),
		may("off", wire("Off button", "GPIO6")),
		may("level", wire("Level switch", "GPIO13")),
		may("flow", wire("Flow switch", "GPIO19")),
		may("emergency", wire("Emergency stop", "GPIO26")))
}
