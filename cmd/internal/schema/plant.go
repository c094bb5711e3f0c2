package schema

// What a plant file leaves out comes from the rig it stands for. Where that is
// the same for every rig it is a default here.
func plantFile() *node {
	const byPower, bySurface, byVolume = " for 3 kW, and in proportion", " for 50 L, and with the surface", " for 50 L, and in proportion"
	w := func(about, from, to, derived, example string) *node {
		return figure{of: heatTransfer, title: "Heat transfer", about: about, from: from, to: to, derived: derived, example: example}.node()
	}
	heat := func(about, from, to, derived, example string) *node {
		return figure{of: heatCapacity, title: "Heat capacity", about: about, from: from, to: to, derived: derived, example: example}.node()
	}
	volt := func(title, from, to, example string) *node {
		return figure{of: volts, title: title, about: "The power goes with its square.", from: from, to: to, derived: "the rig's, else 230 V", example: example}.node()
	}
	vapour := func(title, derived, example string) *node {
		return figure{
			of: evaporation, title: title, about: "Cooling by vapour for each kPa of vapour pressure above the room's.",
			from: "0 W/kPa", to: "1000 W/kPa", derived: derived, example: example,
		}.node()
	}
	return mapping("mashward plant", "The true physics of a simulated rig. All but the name can be left out; the controller never reads it.",
		must("plant", line("Name", "What the simulated kettle is called.", 64, "Yard kettle as built")),
		may("element", mapping("Element", "What heats, at the nominal voltage.",
			may("power", figure{of: watts, title: "True power", from: "1 W", to: "30000 W", derived: "the rig's", example: "2930 W"}.node()),
			may("capacity", heat("Of the sheath.", "10 J/K", "20000 J/K", "900 J/K"+byPower, "900 J/K")),
			may("transfer", w("Sheath to wort, covered.", "1 W/K", "5000 W/K", "140 W/K"+byPower, "140 W/K")))),
		may("vessel", mapping("Vessel", "The wall of the kettle.",
			may("capacity", heat("Of the wall.", "100 J/K", "200000 J/K", "the rig's", "4300 J/K")),
			may("transfer", w("Wall to wort.", "1 W/K", "10000 W/K", "180 W/K"+bySurface, "180 W/K")))),
		may("loss", mapping("Loss", "Heat to the room.",
			may("lid_on", w("With the lid on, through the wall.", "0 W/K", "1000 W/K", "the rig's", "6.5 W/K")),
			may("lid_off", w("With the lid off; not less than with it on.", "0 W/K", "1000 W/K", "3 W/K more than with the lid on for 50 L", "9.5 W/K")))),
		may("evaporation", mapping("Evaporation", "Below the boil. At the boil the surplus power evaporates.",
			may("lid_on", vapour("With the lid on", "0.6 W/kPa"+bySurface, "0.6 W/kPa")),
			may("lid_off", vapour("With the lid off", "6 W/kPa"+bySurface, "6 W/kPa")))),
		may("circulation", circulation(byVolume)),
		may("probe", plantProbe()),
		may("supply", mapping("Supply", "The mains.",
			may("nominal", volt("Nominal voltage", "50 V", "500 V", "230 V")),
			may("actual", volt("Actual voltage", "0 V", "600 V", "225 V")))),
		may("water", mapping("Water", "What really went into the kettle.",
			may("error", wrong("Error of the water")),
			may("temperature", figure{of: celsius, title: "Temperature of the water", from: "0 °C", to: "95 °C", derived: "the rig's tap water", example: "12 °C"}.node()))),
		may("grain", plantGrain()),
		may("chiller", mapping("Chiller", "An exchanger hung into the wort.",
			may("transfer", w("Wort to water.", "0 W/K", "10000 W/K", "300 W/K"+byVolume, "300 W/K")),
			may("water", figure{of: celsius, title: "Temperature of its water", from: "0 °C", to: "60 °C", derived: "the rig's tap water", example: "12 °C"}.node()))),
		may("site", mapping("Site", "Where the kettle stands.",
			may("room", figure{of: celsius, title: "Room temperature", from: "-20 °C", to: "50 °C", derived: "the rig's", example: "17 °C"}.node()),
			may("altitude", figure{of: metres, title: "Altitude", about: "Decides the boiling point.", from: "-430 m", to: "5500 m", derived: "the rig's", example: "340 m"}.node()))),
	)
}

func circulation(byVolume string) *node {
	transfer := func(title, about, from, to, without, derived, example string) *node {
		return figure{of: heatTransfer, title: title, about: about, from: from, to: to, without: without, derived: derived, example: example}.node()
	}
	return mapping("Circulation", "What the pump moves, and where it goes.",
		may("flow", figure{
			of: flow, title: "Flow", about: "With the pump on.", from: "0 L/min", to: "120 L/min",
			derived: "6 L/min" + byVolume + "; none where the rig has no pump", example: "6 L/min",
		}.node()),
		may("bed_transfer", transfer("Wort to grain", "Within the bed.", "1 W/K", "20000 W/K", "", "260 W/K"+byVolume, "260 W/K")),
		may("outside_bed", figure{
			of: ratio, title: "Outside the bed", about: "Share of the wort that is not in the grain bed.",
			from: "5 %", to: "95 %", without: "30 %", example: "30 %",
		}.node()),
		may("delay", figure{of: duration, title: "Delay", about: "Time in the pipe.", from: "1 s", to: "2 min", without: "5 s", example: "5 s"}.node()),
		may("pipe_loss", transfer("Loss of the pipe", "To the room.", "0 W/K", "100 W/K", "0.8 W/K", "", "0.8 W/K")),
	)
}

func plantProbe() *node {
	k := func(title, about, from, to, without string) *node {
		return figure{of: kelvin, title: title, about: about, from: from, to: to, without: without, example: without}.node()
	}
	return mapping("Probe", "How the thermometer really behaves.",
		may("place", words("Place", "outlet: in the wort outside the bag. return: at the end of the pump's hose. bed: in the grain. Left out: the rig's.",
			"", "outlet", "return", "bed")),
		may("lag", figure{of: duration, title: "Lag", about: "Time constant of its tip.", from: "0 s", to: "5 min", without: "9 s", example: "9 s"}.node()),
		may("noise", k("Noise", "Standard deviation of a reading.", "0 K", "5 K", "0.05 K")),
		may("step", k("Step", "Resolution; 0 K: none.", "0 K", "5 K", "0.0625 K")),
		may("offset", k("Offset", "What it reads too high.", "-20 K", "20 K", "0 K")),
		may("conversion", figure{of: duration, title: "Conversion time", from: "0 s", to: "10 s", without: "0.75 s", example: "0.75 s"}.node()))
}

func wrong(title string) *node {
	return figure{of: ratio, title: title, about: "The true amount against the profile's.", from: "-90 %", to: "200 %", without: "0 %", example: "3 %"}.node()
}

func plantGrain() *node {
	return mapping("Grain", "How the real grain differs from the profile's.",
		may("error", wrong("Error of the grain")),
		may("slaking", figure{of: specificEnergy, title: "Heat of wetting", from: "0 kJ/kg", to: "100 kJ/kg", without: "0 kJ/kg", example: "10 kJ/kg"}.node()),
		may("retention", figure{
			of: volumePerMass, title: "Retention", about: "Cold wort that leaves with each kilogram of lifted grain.",
			from: "0 L/kg", to: "3 L/kg", derived: "the rig's", example: "0.8 L/kg",
		}.node()))
}
