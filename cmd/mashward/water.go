package main

import (
	"fmt"
	"io"
	"strings"

	"mashward/cmd/internal/config"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// runWater is `mashward water`.
func runWater(c *call) error {
	o := newOptions("water", "--litres N --to T [--hold TIME] [--cleaning] | --brew PROFILE",
		"Writes a profile of water only, to standard output or to --out, for plan, dryrun and\n"+
			"serve: water that is heated by hand, kept or not, and off by itself; or, with\n"+
			"--brew, a brew's whole day with water, its rests cut to 2 min and its boil to\n"+
			"5 min, to try kettle, hands and prompts before any grain is at stake.", c.out)
	litres := o.String("litres", "", "cold water, a `volume` with its unit, as 20L")
	to := o.String("to", "", "`temperature` it is brought to, as 65C")
	hold := o.String("hold", "", "for how long it is kept there, a `time` as 2h; else it is only heated")
	cleaning := o.Bool("cleaning", false, "a cleaner is in the water")
	brew := o.Bool("brew", false, "a water brew of the profile that is named")
	out := o.String("out", "", "`file` to write")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	var p profile.Profile
	var err error
	byHand := *litres != "" || *to != "" || *hold != "" || *cleaning
	switch {
	case *brew && byHand:
		return usage("water: a water brew takes its water and its temperatures from the profile: leave the other options out")
	case *brew:
		p, err = c.inWater(o)
	case len(o.words) > 0:
		return usage("water: what is %s? Add --brew for the water brew of a profile", o.words[0])
	default:
		p, err = waterByHand(*litres, *to, *hold, *cleaning)
	}
	if err != nil {
		return err
	}
	return c.putWater(p, *out, strings.Join(o.words, ""))
}

// inWater is the water brew of the profile that is named.
func (c *call) inWater(o *options) (profile.Profile, error) {
	path, err := o.one("profile")
	if err != nil {
		return profile.Profile{}, err
	}
	p, warnings, err := config.LoadProfile(path)
	if err != nil {
		return p, err
	}
	c.warn(warnings)
	w, err := p.InWater()
	if err != nil {
		return w, &config.Failure{Code: config.ExitBadInput, Err: fmt.Errorf("%s: %w", path, err)}
	}
	return w, nil
}

// waterByHand reads what is to be heated.
func waterByHand(litres, to, hold string, cleaning bool) (p profile.Profile, err error) {
	if litres == "" || to == "" {
		return p, usage("water: how much, and to which temperature? Add --litres 20L --to 65C")
	}
	volume, err := unit.ParseLitres(litres)
	if err != nil {
		return p, usage("--litres: %v", err)
	}
	target, err := unit.ParseCelsius(to)
	if err != nil {
		return p, usage("--to: %v", err)
	}
	use := profile.Brew
	if cleaning {
		use = profile.Cleaning
	}
	if hold == "" {
		return profile.Water(volume, target, 0, use), nil
	}
	length, err := unit.ParseDuration(hold)
	if err != nil {
		return p, usage("--hold: %v", err)
	}
	if length <= 0 || length > plan.LongestByHand {
		return p, usage("--hold %s: give a length, 4 h at most, or leave it out", hold)
	}
	return profile.Water(volume, target, length, use), nil
}

// putWater writes the profile, if a reader takes it.
func (c *call) putWater(p profile.Profile, out, from string) error {
	text := config.ProfileText(p, nil)
	if _, faults := profile.Parse("the profile", []byte(text)); strict.Refused(faults) {
		return &config.Failure{Code: config.ExitBadInput, Faults: faults}
	}
	if out == "" {
		_, err := io.WriteString(c.out, text)
		return err
	}
	if err := putMade(out, from, text); err != nil {
		return err
	}
	_, err := fmt.Fprintf(c.out, "Written to %s.\n", out)
	return err
}
