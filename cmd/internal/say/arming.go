package say

// StillLive is what not heating means, and never more than that.
const StillLive = "not heating; still live: isolate before opening or reaching in"

// Arming is what a person is asked and told before heat. Page and terminal use
// these words; what the daemon demands of them is its own.
type Arming struct {
	GoThere string // where to stand while answering
	Litres  string // asks for a volume
	// What has to be seen at the kettle.
	Clear, Shut, RCD string
	Real             []string // what a real element needs beside this program
	Stay             string
	// Override is said where the rehearsal broke what the profile expects.
	Override string
}

// ToArm is all of it.
func ToArm() Arming {
	return Arming{
		GoThere: "Go to the kettle. Say each of these only when you have seen it.",
		Litres:  "I have read the level, and the kettle holds this many litres of cold water:",
		Clear:   "The bag or false bottom is clear of the element; nothing touches it.",
		Shut:    "The valve is shut and the hoses are clamped.",
		RCD:     "I have pressed the test button of the RCD (GFCI) today, and it tripped.",
		Real: []string{
			"A program cannot open a contact that has welded, and can itself fail with the relay on. Arm only where there are: " +
				"an independent thermal cut-out with manual reset; a contactor in series with the relay; an RCD (GFCI) and a breaker that fit the cable; " +
				"protective earth; a pull-down at the relay, so that a line that nothing drives means off; an emergency stop that needs no program.",
			"Local codes decide what may be built; a licensed electrician does the wiring. SAFETY.md tells what each of these is for.",
		},
		Override: "I have read what the rehearsal did not keep, and arm all the same. It is written into the record.",
		Stay:     "A person stays in the room for as long as the element has power.",
	}
}
