package config

import (
	"mashward/cmd/internal/notice"
	"mashward/profile/strict"
)

// LoadNotify reads the file that says who is told what, with the secrets that lie
// in files of their own. The faults are warnings; the error is a *Failure with exit
// code 66, 74, 77 or 78.
func LoadNotify(path string) (notice.File, []strict.Fault, error) {
	f, faults, err := load(path, ExitBadRig, notice.Parse)
	if err != nil {
		return f, faults, err
	}
	faults = append(faults, f.ReadSecrets(path)...)
	strict.Sort(faults)
	if strict.Refused(faults) {
		return notice.File{}, nil, &Failure{Code: ExitBadRig, Faults: faults}
	}
	return f, faults, nil
}
