package main

import (
	"fmt"

	"mashward/cmd/internal/config"
	"mashward/profile/strict"
)

// runCheck is `mashward check`.
func runCheck(c *call) error {
	o := newOptions("check", "[--rig FILE] FILE...",
		"Checks files of any kind: profiles, rigs, plants, faults. With --rig, profiles are\nalso held against that kettle. All faults of a file are told at once.", c.out)
	rigPath := o.String("rig", "", "kettle `file` to hold profiles against")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if len(o.words) == 0 {
		return usage("check: which files? Name at least one")
	}
	var rig *config.Rig
	if *rigPath != "" {
		r, warnings, err := config.LoadRig(*rigPath)
		if err != nil {
			return err
		}
		c.warn(warnings)
		rig = &r
	}
	code := exitOK
	for _, path := range o.words {
		faults, err := config.CheckFile(path, rig)
		if err != nil {
			code = max(code, exitCode(err, c.err))
			continue
		}
		c.warn(faults)
		if strict.Refused(faults) {
			code = max(code, config.ExitBadInput)
			continue
		}
		fmt.Fprintf(c.out, "%s: good\n", path)
	}
	if code != exitOK {
		return &exit{code: code}
	}
	return nil
}
