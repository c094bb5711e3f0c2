package main

import (
	"testing"
	"time"
	_ "time/tzdata" // zones of the IANA database, also where the system has none
	"unsafe"
)

// reading is what time.Now gives where the wall clock shows this and the process
// has run for so long: whatever sets the wall clock leaves the second reading as
// it is, and lengths of time are taken from that. Package time has no way to make
// one (a bubble's clock has none either); the layout is that of the comment at
// time.Time, and the test below fails where it is another.
func reading(wall time.Time, since time.Duration) time.Time {
	const (
		hasMonotonic = 1 << 63 // then 33 bits of seconds since 1885 and 30 of nanoseconds
		nanoseconds  = 30
	)
	t := wall.Round(0)
	words := (*[2]uint64)(unsafe.Pointer(&t))
	seconds := wall.Unix() - time.Date(1885, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	words[0] = hasMonotonic | uint64(seconds)<<nanoseconds | uint64(wall.Nanosecond())
	words[1] = uint64(since)
	return t
}

func TestAReadingIsWhatAClockThatWasSetGives(t *testing.T) {
	first := reading(time.Date(2026, 3, 1, 8, 0, 0, 5, time.UTC), time.Second)
	for _, by := range []time.Duration{0, time.Hour, -time.Hour, 10 * year, -10 * year, -56 * year, 21*day24 + 7} {
		wall := time.Date(2026, 3, 1, 8, 0, 0, 5, time.UTC).Add(by)
		then := reading(wall, 3*time.Second)
		if got := then.Round(0); !got.Equal(wall) {
			t.Errorf("set by %v, the wall shows %v", by, got)
		}
		if got := then.Sub(first); got != 2*time.Second {
			t.Errorf("set by %v, two seconds are %v", by, got)
		}
	}
}

const (
	day24 = 24 * time.Hour
	year  = 365 * day24
	// set is when most clocks are: in the heat-up to the rest.
	set = 42 * time.Minute
)

// a wallClock is what the wall shows when it should show now, so long after the
// start.
type wallClock func(now time.Time, since time.Duration) time.Time

// right is a clock that is.
func right(now time.Time, _ time.Duration) time.Time { return now }

// setBy is one that is set by so much in the middle of the day.
func setBy(by time.Duration) wallClock {
	return func(now time.Time, since time.Duration) time.Time {
		if since < set {
			return now
		}
		return now.Add(by)
	}
}

// across is a clock by which that moment comes in the middle of the day, in a zone.
func across(t *testing.T, zone, moment string) wallClock {
	t.Helper()
	where, err := time.LoadLocation(zone)
	if err != nil {
		t.Fatal(err)
	}
	at, err := time.Parse(time.RFC3339, moment)
	if err != nil {
		t.Fatal(err)
	}
	return func(_ time.Time, since time.Duration) time.Time { return at.Add(since - set).In(where) }
}

// hostile jumps ten years up or down with every minute.
func hostile(now time.Time, since time.Duration) time.Time {
	return now.Add(time.Duration(1-2*(int(since.Minutes())%2)) * 10 * year)
}

// wallClocks are the clocks that a day is played under. Summer time in Berlin begins
// and ends at 01:00 UTC on the last Sundays of March and October (IANA time zone
// database); 2^31 s since 1970 are over at 03:14:08 on 2038-01-19.
func wallClocks(t *testing.T) map[string]wallClock {
	return map[string]wallClock{
		"three weeks ahead": setBy(21 * day24),
		"two hours back":    setBy(-2 * time.Hour),
		"a leap second":     setBy(-time.Second),
		"1970 until a server is met": func(now time.Time, since time.Duration) time.Time {
			if since < set {
				return time.Unix(0, 0).Add(since)
			}
			return now
		},
		"over 2038":          across(t, "UTC", "2038-01-19T03:14:08Z"),
		"summer time begins": across(t, "Europe/Berlin", "2026-03-29T01:00:00Z"),
		"summer time ends":   across(t, "Europe/Berlin", "2026-10-25T01:00:00Z"),
		"another zone": func(now time.Time, since time.Duration) time.Time {
			if since < set {
				return now
			}
			return now.In(time.FixedZone("far", 14*3600))
		},
		"ten years each minute": hostile,
		"500 ppm fast":          func(now time.Time, since time.Duration) time.Time { return now.Add(since / 2000) },
		"one that stands":       func(now time.Time, since time.Duration) time.Time { return now.Add(-since) },
		"all of it":             anyhow(t),
	}
}

// anyhow is a clock that begins in 1970, goes over 2038 and into another zone, is
// put back over the end of summer time, stands, runs fast, and jumps.
func anyhow(t *testing.T) wallClock {
	t.Helper()
	over, autumn := across(t, "UTC", "2038-01-19T03:14:08Z"), across(t, "Europe/Berlin", "2026-10-25T01:00:00Z")
	return func(now time.Time, since time.Duration) time.Time {
		switch {
		case since < 20*time.Minute:
			return time.Unix(0, 0).Add(since)
		case since < set+3*time.Minute:
			return over(now, since).In(time.FixedZone("far", 14*3600))
		case since < set+6*time.Minute:
			return autumn(now, since+2*time.Minute)
		case since < set+8*time.Minute:
			return now.Add(-since)
		case since < set+12*time.Minute:
			return hostile(now, 5*since)
		}
		return now.Add(since / 2000).In(time.UTC)
	}
}

// some are all clocks, or, under the race detector, the one that is set while the
// program is off, or does all of it: the detector makes a day ten times slower.
func some(clocks map[string]wallClock) map[string]wallClock {
	if everyClock {
		return clocks
	}
	for _, name := range []string{"a year ahead meanwhile", "all of it"} {
		if c, ok := clocks[name]; ok {
			return map[string]wallClock{name: c}
		}
	}
	return nil
}
