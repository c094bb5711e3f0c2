package metricset

import (
	"time"

	"mashward/controller/interlock"
	"mashward/sensors"
)

// reason is why a reading failed, as a label.
type reason uint8

const (
	noFailure reason = iota
	open
	shorted
	checksum
	powerOn
	outOfRange
	bus
	stale

	reasonCount
)

var reasonNames = [reasonCount]string{"", "open", "shorted", "checksum", "power-on", "out-of-range", "bus", "stale"}

// failureOf is why a reading has no value. Before the first measurement
// nothing has failed yet. What nobody knows came over the bus.
func failureOf(f sensors.Fault) reason {
	switch f {
	case sensors.None, sensors.NoReading:
		return noFailure
	case sensors.Open:
		return open
	case sensors.Shorted:
		return shorted
	case sensors.Checksum:
		return checksum
	case sensors.PowerOn:
		return powerOn
	case sensors.Range:
		return outOfRange
	case sensors.Bus:
	}
	return bus
}

// judge tells whether a reading is the present, and why not.
func judge(r sensors.Reading, now time.Duration) (up bool, why reason) {
	if !r.Good() {
		return false, failureOf(r.Fault)
	}
	if age := r.Age(now); age < 0 || age > interlock.Fresh {
		return false, stale
	}
	return true, noFailure
}
