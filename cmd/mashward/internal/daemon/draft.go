package daemon

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/profile/strict"
)

// Errors of a profile that is to be saved; each says what to do.
var (
	ErrName   = errors.New("a file's name has letters of the alphabet, digits, - and _, at most 64: choose one")
	ErrExists = errors.New("there is a profile of that name already, and none is written over: choose another name")
	ErrFull   = errors.New("the folder has too many files: take some out first")
	ErrFolder = errors.New("the folder of profiles cannot be written by mashward: copy the text and put it there yourself")
)

// mostFiles is how many files a folder of profiles may have for another to be saved.
const mostFiles = 500

// Rig is the kettle that is served, and its file's text.
func (d *Daemon) Rig() (config.Rig, []byte) { return d.o.Rig, d.o.RigText }

// RigPath is where the kettle's file was read.
func (d *Daemon) RigPath() string { return d.o.RigPath }

// Text is a profile as it is written.
func (d *Daemon) Text(id string) ([]byte, error) {
	_, text, err := d.source(id)
	return text, err
}

// Draft plans a text that is in no folder. name stands in its faults.
func (d *Daemon) Draft(name string, text []byte) (*Batch, []strict.Fault, error) {
	b, faults := d.planned(name, "", text)
	if d.kettle == nil {
		return b, faults, ErrDisabled
	}
	return b, faults, nil
}

// RehearseDraft rehearses a text that is in no folder. Saved as it is, it has been
// rehearsed.
func (d *Daemon) RehearseDraft(name string, text []byte) (*Batch, rehearse.Result, error) {
	b, faults, err := d.Draft(name, text)
	return d.rehearseBatch(b, faults, err)
}

// Save writes a profile that can be run into the folder, under a name that is free:
// what is there stays as it is.
func (d *Daemon) Save(id string, text []byte) error {
	if !goodID(id) {
		return ErrName
	}
	_, faults, err := d.Draft(id, text)
	if err != nil {
		return err
	}
	if strict.Refused(faults) {
		return &Refusal{faults}
	}
	if entries, err := os.ReadDir(d.o.Profiles); err == nil && len(entries) >= mostFiles {
		return ErrFull
	}
	root, err := os.OpenRoot(d.o.Profiles)
	if err != nil {
		return errors.Join(ErrFolder, err)
	}
	defer root.Close()
	f, err := root.OpenFile(id+".yaml", os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	switch {
	case errors.Is(err, fs.ErrExist):
		return ErrExists
	case err != nil:
		return errors.Join(ErrFolder, err)
	}
	_, err = f.Write(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return errors.Join(ErrFolder, err, root.Remove(id+".yaml"))
	}
	d.o.Log.Info("a profile was saved", "profile", id)
	return nil
}

// FreeName is a name like another one that no file of the folder has.
func (d *Daemon) FreeName(like string) string {
	if !goodID(like) {
		like = "profile"
	}
	stem := like[:min(len(like), 60)]
	for n := 2; n <= mostFiles+1; n++ {
		id := fmt.Sprintf("%s-%d", stem, n)
		if _, err := d.Text(id); errors.Is(err, ErrNoProfile) {
			return id
		}
	}
	return ""
}
