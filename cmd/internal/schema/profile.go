package schema

// most is the number of steps, and of additions, that a profile may have.
const most = 32

func profileFile() *node {
	return mapping("mashward profile", "What the brewer wants done on one day: water, grain and the steps of the mash and the boil.",
		must("profile", line("Name", "What the brew is called.", 64, "Rye, four rests")),
		must("water", figure{
			of: litres, title: "Water", about: "Cold litres filled before the strike.",
			from: "1 L", to: "200 L", example: "26 L",
		}.node()),
		may("grain", grain()),
		may("trub", figure{
			of: ratio, title: "Trub", about: "Share of the cold wort that stays in the kettle with hops and break.",
			from: "0 %", to: "30 %", without: "5 %", example: "5 %",
		}.node()),
		may("use", words("Use", "What it is for. A water brew goes through mash-in and lift without grain; cleaning has its cautions.", "brew", "brew", "water-brew", "cleaning")),
		must("steps", &node{
			Title: "Steps", Description: "The day in its order: mash-in, rests, mash-out, lift, boil, stands, chill. At most 32.",
			Type: types{"array"}, MinItems: 1, MaxItems: most, Items: step(),
		}),
		may("expect", &node{
			Title: "Expectations", Description: "What a rehearsal has to keep, judged by the truth about the simulated kettle. At most 32.",
			Type: types{"array"}, MaxItems: most, Items: expectation(),
		}),
	)
}

func grain() *node {
	return mapping("Grain", "What goes into the bag. A profile without it heats water only.",
		must("mass", figure{of: mass, title: "Mass of the grain", from: "0.05 kg", to: "100 kg", example: "4.6 kg"}.node()),
		must("temperature", figure{
			of: celsius, title: "Temperature of the grain", about: "As it lies in the store: it decides the strike temperature.",
			from: "-20 °C", to: "60 °C", example: "18 °C",
		}.node()),
		may("moisture", figure{of: ratio, title: "Moisture of the malt", from: "0 %", to: "20 %", without: "4 %", example: "4 %"}.node()),
		may("slaking", figure{
			of: specificEnergy, title: "Heat of wetting", about: "Set free when the malt takes up water; 10 to 25 kJ/kg for dry malt.",
			from: "0 kJ/kg", to: "50 kJ/kg", without: "0 kJ/kg", example: "10 kJ/kg",
		}.node()),
		may("extract", figure{
			of: ratio, title: "Extract of the malt", about: "What a laboratory gets out of its dry matter, finely ground; the mean of a mixed grist.",
			from: "30 %", to: "100 %", without: "80 %", example: "80 %",
		}.node()),
		may("conversion", figure{
			of: ratio, title: "Conversion", about: "The share of that extract which this mash dissolves; what the grain keeps is counted apart.",
			from: "30 %", to: "100 %", without: "92 %", example: "92 %",
		}.node()),
	)
}

// step is one entry of the steps, in the forms the reader takes.
func step() *node {
	return &node{Title: "Step", OneOf: []*node{
		mapping("Mash-in", "The grain goes in; the strike temperature is computed so that the mash comes out here.",
			must("mash-in", target("Mash temperature", "80 °C", "44 °C")), must("for", long("15 min")), may("name", label()), may("floor", floor()),
			may("additions", additions(timed("5 min", "strike", "into the strike water")))),
		heated("rest", "Rest", "A temperature kept for a time.", "63 °C", "35 min"),
		heated("mash-out", "Mash-out", "The last, hot rest of the mash.", "77 °C", "10 min"),
		{Title: "Lift", Description: "The grain is lifted out and drains. Written - lift, without a value.", Type: types{"string"}, Const: "lift"},
		mapping("Lift with additions", "The same where something goes in when the grain hangs clear. Written - lift: without a value, with additions below.",
			must("lift", &node{Title: "Lift", Description: "Without a value.", Type: types{"null"}}), must("additions", additions(once()))),
		mapping("Boil", "From the moment it boils. Written - boil: 75 min, with its other keys below.",
			must("boil", long("75 min")), may("name", label()),
			may("boil_off", figure{
				of: flow, title: "Boil-off", about: "Cold litres evaporated in a time; sets the vigour. 0.5 L/min are 30 L/h.",
				from: "0 L/min", to: "0.5 L/min", derived: "a tenth of the wort in an hour", example: "2.4 L/h",
			}.node()),
			may("additions", additions(timed("60 min", "flame-out", "when the heat goes off")))),
		mapping("Stand", "A temperature below the boil kept for a time, for late hops.",
			must("stand", target("Temperature of the stand", "100 °C", "80 °C")), must("for", long("20 min")),
			may("name", label()), may("floor", floor()), may("additions", additions(timed("5 min", "", "")))),
		mapping("Chill", "Cooling down to a temperature.",
			must("chill", target("Temperature at its end", "100 °C", "18 °C")), may("name", label()), may("additions", additions(once()))),
	}}
}

// heated is a mash step that is reached by heating.
func heated(word, title, about, celsius, minutes string) *node {
	return mapping(title, about,
		must(word, target("Temperature of the "+word, "80 °C", celsius)), must("for", long(minutes)),
		may("ramp", figure{
			of: ramp, title: "Ceiling of the heat-up", about: "The mash climbs no faster than this.",
			from: "0.01 K/min", to: "10 K/min", derived: "as fast as the kettle can", example: "1 K/min",
		}.node()),
		may("name", label()), may("floor", floor()), may("additions", additions(timed("5 min", "", ""))))
}

func target(title, top, example string) *node {
	about := ""
	if top == "80 °C" {
		about = "Without grain up to 100 °C."
	}
	return figure{of: celsius, title: title, about: about, from: "0 °C", to: top, example: example}.node()
}

func long(example string) *node {
	return figure{of: duration, title: "How long", about: "Counted from when the target is reached.", from: "1 s", to: "1 d", example: example}.node()
}

func label() *node { return line("Label", "What the page calls the step.", 64, "protein rest") }

func floor() *node {
	return figure{
		of: kelvin, title: "Floor", about: "How far below its target a rest still counts.",
		from: "0.1 K", to: "10 K", without: "1 K", example: "1 K",
	}.node()
}

func additions(one *node) *node {
	return &node{
		Title: "Additions", Description: "What is thrown in on the way. At most 32 in the whole profile.", Type: types{"array"}, MaxItems: most,
		Items: one,
	}
}

func thing() key {
	return must("add", line("What", "What goes in, and how much.", 64, "28 g bittering hops"))
}

// once is an addition of a step that has no clock.
func once() *node {
	return mapping("Addition", "One thing thrown in, when the step has come to it.", thing())
}

// timed is an addition of a step with a clock: by what is left of it, by what it has
// had, or by a word for a moment of its own, "" for none.
func timed(example, word, about string) *node {
	left := figure{
		of: duration, title: "Time left", about: "Of the step, when it goes in; no more than that has.",
		from: "0 s", to: "1 d", example: example,
	}.node()
	at := figure{
		of: duration, title: "Time from its beginning", about: "Since the step's clock began; no more than that has.",
		from: "0 s", to: "1 d", example: "5 min",
	}.node()
	if word != "" {
		at = &node{Title: at.Title, Description: at.Description + " Or " + word + ": " + about + ".", OneOf: []*node{at, {Title: "At " + word, Description: "It goes in " + about + ".", Type: types{"string"}, Const: word}}}
	}
	return &node{Title: "Addition", OneOf: []*node{
		mapping("Addition", "One thing thrown in.", must("left", left), thing()),
		mapping("Addition", "One thing thrown in.", must("at", at), thing()),
	}}
}
