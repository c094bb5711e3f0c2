package tune

import (
	"testing"
	"time"

	"mashward/controller/unit"
)

// A real clock comes some milliseconds early or late, and now and then a tick is
// missing: the course stays one sample a second of the clock.
func TestACourseHasOneSampleASecondHoweverTheTicksCome(t *testing.T) {
	var c Course
	for s := range 300 {
		jitter := time.Duration(s*s%401-200) * time.Millisecond
		if s == 100 || s == 201 || s == 202 {
			continue // nobody was there
		}
		c.Add(time.Hour+time.Duration(s)*time.Second+jitter, false, Sample{On: s >= 200, Reading: unit.Celsius(s), Has: true})
	}
	got := c.Samples()
	if len(got) != 300 || c.Broken() {
		t.Fatalf("%d samples, broken %v; want 300 in one piece", len(got), c.Broken())
	}
	for s, sample := range got {
		missing := s == 100 || s == 201 || s == 202
		if sample.Has == missing || sample.On != (s >= 200) || !missing && sample.Reading != unit.Celsius(s) {
			t.Errorf("second %d is %+v", s, sample)
		}
	}
}

// The clock drifts by nothing, but a tick that is always 20 ms late must not add up.
func TestACourseDoesNotAddUpWhatTicksAreLate(t *testing.T) {
	var c Course
	for s := range 200 {
		c.Add(time.Duration(s)*1020*time.Millisecond, false, Sample{Has: true})
	}
	if n := len(c.Samples()); n != 204 { // 199 * 1.02 s = 202.98 s
		t.Errorf("%d samples for 203 s", n)
	}
	c = Course{}
	c.Add(time.Second, false, Sample{Reading: 1})
	c.Add(1200*time.Millisecond, false, Sample{Reading: 2})
	if got := c.Samples(); len(got) != 1 || got[0].Reading != 1 {
		t.Errorf("two ticks in one second give %+v", got)
	}
}

func TestACourseKeepsTheLastOfTheRestAndKnowsWhenItIsBroken(t *testing.T) {
	var c Course
	for s := range 500 {
		c.Add(time.Duration(s)*time.Second, true, Sample{Reading: unit.Celsius(s), Has: true})
	}
	for s := range 10 {
		c.Add(time.Duration(500+s)*time.Second, false, Sample{On: true, Has: true})
	}
	if got := c.Samples(); len(got) != 100 || got[0].Reading != 410 || !got[99].On || c.Broken() {
		t.Errorf("%d samples from %v °C on, broken %v", len(got), got[0].Reading, c.Broken())
	}
	for seconds, broken := range map[time.Duration]bool{3: false, 4: true, 60: true} {
		var c Course
		c.Add(0, false, Sample{Has: true})
		c.Add(seconds*time.Second, false, Sample{Has: true})
		if c.Broken() != broken {
			t.Errorf("after a tick that came %d s after the last one, broken: %v", seconds, c.Broken())
		}
	}
}
