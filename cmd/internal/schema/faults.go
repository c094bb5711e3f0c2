package schema

func faultsFile() *node {
	return mapping("mashward faults", "What goes wrong in a rehearsal, and when.",
		must("faults", &node{
			Title: "Faults", Description: "One entry for each thing that goes wrong.", Type: types{"array"}, MinItems: 1,
			Items: &node{Title: "Fault", OneOf: forms()},
		}))
}

// forms are the faults by what can be written with them.
func forms() []*node {
	return []*node{
		entry("A fault without a value.", lasts(""), nil, "relay-welded", "probe-open", "probe-stuck", "probe-power-on", "probe-crc", "probe-shorted",
			"probe-out", "relay-open", "element-half", "element-dry", "pump-stopped", "lid-off", "storage-full", "storage-error"),
		entry("The power is cut.", lasts("10 min"), nil, "power-cut"),
		entry("The probe reads too high.", lasts(""), value(figure{of: kelvin, from: "-60 K", to: "60 K", without: "3 K"}), "probe-offset"),
		entry("The probe reads higher and higher.", lasts(""), value(figure{of: ramp, from: "-60 K/min", to: "60 K/min", without: "1 K/h"}), "probe-drift"),
		entry("Further noise, by its standard deviation.", lasts(""), value(figure{of: kelvin, from: "0 K", to: "20 K", without: "0.5 K"}), "probe-noise"),
		spike(),
		entry("Wort runs out.", lasts(""), value(figure{of: flow, from: "0 L/min", to: "120 L/min", without: "5 L/min"}), "drained"),
		entry("The voltage is lower by this share.", lasts(""), value(figure{of: ratio, from: "0 %", to: "100 %", without: "10 %"}), "supply-sag"),
		entry("The next tick comes so long after the one before.", lasts(""), value(figure{of: duration, from: "2 s", to: "1 h", without: "5 s"}), "tick-late"),
		entry("At once: this share of the wort is left.", nil, value(figure{of: ratio, from: "0 %", to: "100 %", without: "35 %"}), "low-volume"),
		entry("At once: so much cold water on top.", nil, value(figure{of: litres, from: "0 L", to: "200 L", without: "5 L"}), "cold-water"),
		entry("At once: the wall clock jumps.", nil, value(figure{of: duration, from: "1 s", to: "366 d", without: "14 d"}), "clock-step"),
	}
}

// entry is one form: the kinds it is for, and what can be written with them.
func entry(about string, lasts, value *node, kinds ...string) *node {
	all := keys{must("at", moment()), must("fault", words("Fault", "What goes wrong.", "", kinds...))}
	if lasts != nil {
		all = append(all, may("for", lasts))
	}
	if value != nil {
		all = append(all, may("value", value))
	}
	return mapping("Fault: "+kinds[0], about, all...)
}

// spike is the one fault with a chance.
func spike() *node {
	n := entry("On top of some readings.", lasts(""), value(figure{of: kelvin, from: "-100 K", to: "100 K", without: "20 K"}), "probe-spike")
	n.Properties = append(n.Properties, may("chance", figure{
		of: ratio, title: "Chance", about: "Share of the readings.",
		from: "0 %", to: "100 %", without: "5 %", example: "5 %",
	}.node()))
	return n
}

func value(f figure) *node {
	f.title, f.example = "Value", f.without
	return f.node()
}

func lasts(without string) *node {
	f := figure{of: duration, title: "How long", from: "1 s", to: "2 d", without: without, derived: "for good", example: "10 min"}
	if without != "" {
		f.derived = ""
	}
	return f.node()
}

// moment is when a fault begins: after arming, or after a step was reached.
func moment() *node {
	after := func(about, without, example string) *node {
		return figure{of: duration, title: "After", about: about, from: "0 s", to: "2 d", without: without, example: example}.node()
	}
	return &node{Title: "When", OneOf: []*node{
		after("From arming.", "", "42 min"),
		mapping("After a step", "From when a step was reached, or from its start where nothing is to be reached.",
			must("step", count("Step", "Its index; 0 is the strike, where there is a mash-in.", 0, 32)),
			may("after", after("From then.", "0 s", "5 min"))),
	}}
}
