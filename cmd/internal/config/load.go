package config

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"mashward/profile"
	"mashward/profile/strict"
)

// Exit codes of files that cannot be used, after BSD's sysexits.
const (
	ExitBadInput   = 65 // bad profile, plant or faults
	ExitMissing    = 66 // a file is missing
	ExitIO         = 74 // it cannot be read
	ExitPermission = 77 // it may not be read
	ExitBadRig     = 78 // bad rig, tuning or notify file
)

// Failure is why a file cannot be used.
type Failure struct {
	Code   int            // exit code
	Faults []strict.Fault // what is wrong in it, warnings included; empty where it could not be read
	Err    error          // why it could not be read; nil where it could
}

// Error is one line a fault.
func (f *Failure) Error() string {
	if f.Err != nil {
		return f.Err.Error()
	}
	lines := make([]string, len(f.Faults))
	for i, fault := range f.Faults {
		lines[i] = fault.String()
	}
	return strings.Join(lines, "\n")
}

// Unwrap is the error of the file system, if it was one.
func (f *Failure) Unwrap() error { return f.Err }

// LoadProfile reads a profile. The faults are warnings; the error is a
// *Failure with exit code 65, 66, 74 or 77.
func LoadProfile(path string) (profile.Profile, []strict.Fault, error) {
	return load(path, ExitBadInput, profile.Parse)
}

// LoadRig reads a rig and makes sure that the tuning it names is there. The
// faults are warnings; the error is a *Failure with exit code 66, 74, 77 or 78.
func LoadRig(path string) (Rig, []strict.Fault, error) {
	r, faults, err := load(path, ExitBadRig, ParseRig)
	if err != nil || r.Tuning == "" {
		return r, faults, err
	}
	t, more, err := LoadTuning(r.TuningPath())
	if errors.Is(err, fs.ErrNotExist) {
		return Rig{}, nil, unreadable(r.TuningPath(), fs.ErrNotExist, "write it with `mashward tune`, or take the key tuning out of "+path)
	}
	if err != nil {
		return Rig{}, nil, err
	}
	return r.Tuned(t), append(faults, more...), nil
}

// TuningPath is where the tuning of this rig lies: names in a rig file count
// from the rig file. "" for a rig without one.
func (r Rig) TuningPath() string {
	if r.Tuning == "" || filepath.IsAbs(r.Tuning) {
		return r.Tuning
	}
	return filepath.Join(filepath.Dir(r.File), r.Tuning)
}

// load reads a file and parses it; bad is the exit code of a bad one.
func load[T any](path string, bad int, parse func(string, []byte) (T, []strict.Fault)) (T, []strict.Fault, error) {
	var nothing T
	text, err := read(path)
	if err != nil {
		return nothing, nil, unreadable(path, err, "check the name")
	}
	value, faults := parse(path, text)
	if strict.Refused(faults) {
		return nothing, nil, &Failure{Code: bad, Faults: faults}
	}
	return value, faults, nil
}

// read takes in no more of a file than a parser would look at, so that a name
// that leads to a device or a huge file costs nothing.
func read(path string) ([]byte, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close() // opened for reading: nothing to lose
	return io.ReadAll(io.LimitReader(file, strict.MaxBytes+1))
}

// unreadable sorts an error of the file system by exit code.
func unreadable(path string, err error, remedy string) error {
	var cause *fs.PathError
	reason := err
	if errors.As(err, &cause) {
		reason = cause.Err // without the name, which comes first here
	}
	f := &Failure{Code: ExitIO, Err: fmt.Errorf("%s cannot be read: %w; %s", path, reason, remedy)}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		f.Code, f.Err = ExitMissing, fmt.Errorf("%s is missing (%w); %s", path, reason, remedy)
	case errors.Is(err, fs.ErrPermission):
		f.Code = ExitPermission
	}
	return f
}
