package api

import (
	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile/gravity"
)

// mostKilograms and mostFigure bound what may be told; the core looks closer.
const (
	mostKilograms = 500
	mostFigure    = 100
	leastScale    = 10 // °C
	mostScale     = 30
)

// measured tells of a deed that comes with litres, isWarm of what comes with a
// temperature, isRead of what an instrument showed.
func measured(w controller.Wish) bool {
	return w == controller.Added || w == controller.TookOut || w == controller.VolumeIs
}

func isWarm(w controller.Wish) bool {
	switch w {
	case controller.Added, controller.VolumeIs, controller.GrainIs, controller.ThermometerSays, controller.Retarget:
		return true
	}
	return isRead(w)
}

func isRead(w controller.Wish) bool { return w == controller.PHIs || w == controller.GravityIs }

// instruments are those that a gravity may be read with, by their word.
var instruments = map[string]gravity.Kind{
	gravity.Hydrometer.String(): gravity.Hydrometer, gravity.Saccharometer.String(): gravity.Saccharometer,
	gravity.Refractometer.String(): gravity.Refractometer,
}

// note fills in what was weighed or read; bad says what is wrong with it.
func (t *ToDo) note(c *controller.Command) (bad string) {
	switch {
	case (t.Kilograms != nil) != (c.Wish == controller.GrainIs):
		return "kilograms goes with grain-is, and with nothing else."
	case (t.Value != nil) != isRead(c.Wish):
		return "value goes with ph-is and gravity-is, and with nothing else."
	case (t.Instrument != nil) != (c.Wish == controller.GravityIs):
		return "instrument goes with gravity-is, and with nothing else: hydrometer, saccharometer or refractometer."
	case t.Calibrated != nil && (t.Instrument == nil || *t.Instrument == gravity.Refractometer.String()):
		return "calibrated_celsius goes with gravity-is by hydrometer or saccharometer only."
	case t.Calibrated != nil && !(*t.Calibrated >= leastScale && *t.Calibrated <= mostScale):
		return "calibrated_celsius is at which the scale is true: from 10 to 30."
	case t.Spot != nil && c.Wish != controller.PHIs:
		return "spot goes with ph-is only."
	}
	if t.Kilograms != nil {
		if !(*t.Kilograms > 0 && *t.Kilograms <= mostKilograms) {
			return "kilograms is more than 0, at most 500."
		}
		c.Grain = unit.Kilograms(*t.Kilograms)
	}
	if t.Value != nil {
		if !(*t.Value > 0 && *t.Value <= mostFigure) {
			return "value is what the instrument shows: more than 0, at most 100."
		}
		c.Value = *t.Value
	}
	if t.Calibrated != nil {
		c.Calibrated = unit.Celsius(*t.Calibrated)
	}
	known := true
	if t.Instrument != nil {
		c.Instrument, known = instruments[*t.Instrument]
		if !known {
			return "instrument is hydrometer, saccharometer or refractometer."
		}
	}
	if t.Spot != nil {
		if c.Spot, known = controller.SpotOf(*t.Spot); !known {
			return "spot is middle, top, outlet or stirred."
		}
	}
	return ""
}
