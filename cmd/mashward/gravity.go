package main

import (
	"errors"
	"fmt"
	"strings"

	"mashward/cmd/internal/config"
	"mashward/controller/unit"
	"mashward/profile/gravity"
)

// gravityCall is a reading, and the day it belongs to if one was named.
type gravityCall struct {
	rig, profile, target             string
	at, calibrated, volume, volumeAt string
	after                            bool
}

// runGravity is `mashward gravity`.
func runGravity(c *call) error {
	o := newOptions("gravity", "[options] READING\n       mashward gravity --rig FILE --profile FILE --volume LITRES [options] READING",
		"Corrects a reading of a hydrometer (1.046), a saccharometer (11.4P) or a\nrefractometer (11.9Bx). With a day and the volume in the kettle it says what gravity\n"+
			"to expect after the boil, and how much more boil or water meets the plan's.", c.out)
	var g gravityCall
	o.StringVar(&g.at, "at", "20 °C", "`temperature` of the sample")
	o.StringVar(&g.calibrated, "calibrated", "20 °C", "`temperature` at which a hydrometer's scale is true")
	o.StringVar(&g.rig, "rig", "", "the kettle's `file`")
	o.StringVar(&g.profile, "profile", "", "the day's `file`")
	o.StringVar(&g.volume, "volume", "", "`litres` in the kettle")
	o.StringVar(&g.volumeAt, "volume-at", "20 °C", "`temperature` of the wort when its volume was read")
	o.BoolVar(&g.after, "after-boil", false, "it was read after the boil; else before it")
	o.StringVar(&g.target, "target", "", "`gravity` to come to; else the plan's original gravity")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if len(o.words) == 0 {
		return usage("gravity: which reading? Write what the instrument shows, such as 1.046, 11.4P or 11.9Bx")
	}
	text, err := o.one("reading")
	if err != nil {
		return err
	}
	r, err := g.reading(text)
	if err != nil {
		return err
	}
	day := g.rig != "" || g.profile != "" || g.volume != "" || g.after || g.target != ""
	if day && (g.rig == "" || g.profile == "" || g.volume == "") {
		return usage("gravity: the course of a day takes --rig, --profile and --volume")
	}
	corrected, err := r.Gravity()
	if err != nil {
		return &config.Failure{Code: config.ExitBadInput, Err: err}
	}
	out := fmt.Sprintf("%s at %s is a gravity of %s, %s.\n", text, unit.FormatCelsius(r.Temperature),
		unit.FormatSpecificGravity(corrected), unit.FormatPlato(gravity.PlatoOf(corrected)))
	if g.profile != "" {
		course, err := g.course(c, r)
		if err != nil {
			return err
		}
		out += course
	}
	_, err = fmt.Fprint(c.out, out)
	return err
}

// reading is what was written, each part with its unit; errors are wrong calls.
func (g gravityCall) reading(text string) (gravity.Reading, error) {
	r, err := gravity.Read(text)
	if err != nil {
		return r, usage("gravity: %v", err)
	}
	for _, t := range []struct {
		flag, text string
		to         *unit.Celsius
	}{{"at", g.at, &r.Temperature}, {"calibrated", g.calibrated, &r.Calibrated}, {"volume-at", g.volumeAt, &r.VolumeAt}} {
		if *t.to, err = unit.ParseCelsius(t.text); err != nil {
			return r, usage("--%s: %v", t.flag, err)
		}
	}
	if g.volume != "" {
		if r.Volume, err = unit.ParseLitres(g.volume); err != nil {
			return r, usage("--volume: %v", err)
		}
	}
	return r, nil
}

// course says where the wort stands against the plan, and what helps.
func (g gravityCall) course(c *call, r gravity.Reading) (string, error) {
	d, err := c.loadDay(g.profile, g.rig, "")
	if err != nil {
		return "", err
	}
	if err := d.refuse(); err != nil {
		return "", err
	}
	planned := d.plan.Wort
	if !planned.Known {
		return "", &config.Failure{Code: config.ExitBadInput, Err: errors.New(g.profile + " makes no wort: it has no grain, or no lift")}
	}
	target := planned.Original.Gravity
	if g.target != "" {
		if target, err = wishedGravity(g.target); err != nil {
			return "", usage("--target: %v", err)
		}
	}
	wort, err := r.Wort()
	if err != nil {
		return "", &config.Failure{Code: config.ExitBadInput, Err: err}
	}
	var b strings.Builder
	expected, original := planned.PreBoil, wort
	if g.after {
		expected = planned.Original
	} else if original, err = planned.Boil.Leaves(wort); err != nil {
		return "", &config.Failure{Code: config.ExitBadInput, Err: err}
	}
	fmt.Fprintf(&b, "Cold it is %.1f L at %s; the plan has %.1f L at %s.\n", wort.Volume, unit.FormatSpecificGravity(wort.Gravity),
		expected.Volume, unit.FormatSpecificGravity(expected.Gravity))
	if !g.after {
		fmt.Fprintf(&b, "After the boil as planned it will be %.1f L at %s.\n", original.Volume, unit.FormatSpecificGravity(original.Gravity))
	}
	remedy, err := gravity.Meet(original, target, planned.Boil.Rate)
	if err != nil {
		return "", &config.Failure{Code: config.ExitBadInput, Err: err}
	}
	// Where the interlock ends heat a boil ends, whatever its gravity.
	least, lowest := d.rig.Kettle.ElementCoveredAt+1, min(original.Volume, remedy.After.Volume)
	if lowest < least && (remedy.Boil > 0 || !g.after) {
		return "", &config.Failure{Code: config.ExitBadInput, Err: fmt.Errorf("that boil would leave %.1f L, and heat ends at %.1f L: boil less, and accept what gravity it has",
			lowest, least)}
	}
	b.WriteString(remedySentence(remedy, target))
	return b.String(), nil
}

func remedySentence(r gravity.Remedy, target unit.SpecificGravity) string {
	goal := unit.FormatSpecificGravity(target)
	switch {
	case r.Boil > 0:
		return fmt.Sprintf("For %s boil %.0f min longer: %.1f L more go off, and %.1f L are left.\n", goal, r.Boil.Minutes(), r.Gone, r.After.Volume)
	case r.Water > 0:
		return fmt.Sprintf("For %s add %.1f L of boiled water: that makes %.1f L.\n", goal, r.Water, r.After.Volume)
	}
	return fmt.Sprintf("That is %s to within what a hydrometer shows: leave it as it is.\n", goal)
}
