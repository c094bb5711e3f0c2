package tune

import "time"

// Course gathers the seconds of a water test as Identify takes them: the last of
// the rest before full power, and all from there on. The zero value is empty.
type Course struct {
	samples []Sample
	begun   bool
	origin  time.Duration // run clock of the first second
	last    int           // seconds from there to the newest one
	broken  bool
}

const (
	courseRest = 90 // s of rest that are kept
	// courseGap is how many seconds may be missing in a row. The lease of heat is
	// as long: over a longer gap nobody knows when the element was on.
	courseGap = 2
)

// Add takes the second that ended at now on the run clock; still tells that full
// power has not begun yet. Ticks may jitter: a second that has none is one
// without a reading.
func (c *Course) Add(now time.Duration, still bool, s Sample) {
	if !c.begun {
		c.begun, c.origin, c.last = true, now, -1
	}
	second := int((now - c.origin + time.Second/2) / time.Second)
	missing := second - c.last - 1
	switch {
	case missing < 0:
		return // a second tick in the same one
	case missing > courseGap:
		c.broken = true
	default:
		for range missing {
			c.samples = append(c.samples, Sample{On: s.On})
		}
	}
	c.samples = append(c.samples, s)
	c.last = second
	if still && len(c.samples) > courseRest {
		c.samples = c.samples[len(c.samples)-courseRest:]
	}
}

// Broken tells that too many seconds in a row are missing for the course to be
// that of one test.
func (c *Course) Broken() bool { return c.broken }

// Samples are the seconds.
func (c *Course) Samples() []Sample { return c.samples }
