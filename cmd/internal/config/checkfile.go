package config

import (
	"fmt"
	"strings"

	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sim"
)

// CheckFile reads a file of any kind; the kind is told by its first keys. A
// profile is also held against the rig, if one is given. The faults are
// warnings or, for a profile against a rig, refusals; the error is a *Failure.
func CheckFile(path string, rig *Rig) ([]strict.Fault, error) {
	text, err := read(path)
	if err != nil {
		return nil, unreadable(path, err, "check the name")
	}
	keys := topKeys(text)
	switch {
	case keys["rig"]:
		_, faults, err := LoadRig(path)
		return faults, err
	case keys["plant"]:
		_, faults, err := LoadPlant(path, sim.Defaults())
		return faults, err
	case keys["faults"]:
		_, faults, err := LoadFaults(path)
		return faults, err
	case keys["profile"] || keys["steps"]:
		return checkProfile(path, rig)
	}
	return nil, &Failure{Code: ExitBadInput, Err: fmt.Errorf(
		"%s: what is it? A file of ours has one of the keys profile, rig, plant or faults at its top", path)}
}

func checkProfile(path string, rig *Rig) ([]strict.Fault, error) {
	var p profile.Profile
	p, faults, err := LoadProfile(path)
	if err != nil || rig == nil {
		return faults, err
	}
	return append(faults, Check(p, *rig)...), nil
}

// topKeys are the keys that stand at the left margin. It looks no closer: the
// strict reader will.
func topKeys(text []byte) map[string]bool {
	keys := map[string]bool{}
	for line := range strings.Lines(string(text)) {
		if key, _, ok := strings.Cut(line, ":"); ok && key == strings.TrimSpace(key) {
			keys[key] = true
		}
	}
	return keys
}
