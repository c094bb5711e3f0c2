package say

import (
	"fmt"
	"time"

	"mashward/controller"
)

// Outage is what is known of the time a batch was cut off, for sentences.
type Outage struct {
	Stopped            time.Time     // zero: no clock can be trusted
	Length             time.Duration // good where Stopped is
	Least, About, Most time.Duration // by the fall of the temperature; Most 0: it says nothing
	Weighed            bool          // the temperature has been asked
	Cause              string        // "" is not known
}

// RCD is what to do about a cut that may not have been the supply's.
const RCD = "A tripped RCD (GFCI) looks like a power cut. If one has tripped, isolate the kettle, do not reset again and again, and call an electrician."

// HotAfter is said of a kettle that was left alone.
const HotAfter = "Kettle, pump and hoses may be hot: they burn until they are below 45 °C."

// cutOff is where a batch was when it was cut off.
func (d Day) cutOff(f *controller.Decision) string {
	where := fmt.Sprintf("Cut off in the %s", d.Step(f.Index))
	if f.Earned > 0 {
		where += fmt.Sprintf(", with %s of %s counted", Length(f.Earned), Length(f.Earned+f.Left))
	}
	return where + ". Not heating; still live: isolate before opening or reaching in."
}

// Long says how long a batch was cut off, and how that is known.
func (o Outage) Long() string {
	switch {
	case !o.Stopped.IsZero():
		return fmt.Sprintf("That was at %s UTC, %s ago.", o.Stopped.UTC().Format("15:04"), Length(o.Length))
	case o.Most > 0:
		return fmt.Sprintf("No clock tells how long ago. By the fall of the temperature it was about %s: between %s and %s.",
			Length(o.About), Length(o.Least), Length(o.Most))
	case o.Weighed:
		return "How long ago is not known: neither the clock nor the temperature tells."
	}
	return "How long ago is not known yet: the temperature is being asked."
}

// Why says what ended mashward, as far as it is known.
func (o Outage) Why() string {
	if o.Cause == "" {
		return "What ended it is not known."
	}
	return "What is known: " + o.Cause + "."
}

// takenUp is how an offered batch went on.
func takenUp(w controller.Wish) string {
	if w == controller.TakeUpAlone {
		return "It goes on by itself, as was chosen at arming. The time away counts for nothing."
	}
	return "It goes on by a person's word. The time away counts for nothing."
}
