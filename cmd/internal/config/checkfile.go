package config

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sim"
)

// Report is all there is to say about one file.
type Report struct {
	File   string
	Kind   string // profile, rig, plant, faults, tuning or notify; "": it cannot be told
	Code   int    // exit code; 0: the file can be used
	Faults []strict.Fault
	Text   []byte // what was read, to show the place of a fault
}

// CheckAll reads files of any kind, and the .yaml and .yml files of folders with
// all below them. Profiles are also held against the rig, if one is named; it
// is then the first to be reported on. Each file is reported on once.
func CheckAll(paths []string, rigPath string) []Report {
	var reports []Report
	var rig *Rig
	seen := map[string]bool{}
	if rigPath != "" {
		r, faults, err := LoadRig(rigPath)
		if err == nil {
			rig = &r
		}
		reports = append(reports, report(rigPath, "rig", faults, err))
		seen[filepath.Clean(rigPath)] = true
	}
	add := func(path string, check func(string, *Rig) Report) {
		if !seen[filepath.Clean(path)] {
			seen[filepath.Clean(path)] = true
			reports = append(reports, check(path, rig))
		}
	}
	for _, path := range paths {
		if about, err := os.Stat(path); err != nil || !about.IsDir() {
			add(path, CheckFile)
			continue
		}
		files, trouble := filesBelow(path)
		reports = append(reports, trouble...)
		for _, file := range files {
			add(file, checkAmongOthers)
		}
	}
	return reports
}

// filesBelow are the YAML files of a folder, in the order of their names, and
// reports on what could not be looked into. Names with a dot before them are
// passed over, as in a listing.
func filesBelow(folder string) (files []string, trouble []Report) {
	filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			trouble = append(trouble, report(path, "", nil, unreadable(path, err, "check the folder")))
		case path != folder && strings.HasPrefix(d.Name(), "."):
			if d.IsDir() {
				return fs.SkipDir
			}
		case d.IsDir():
		case slices.Contains([]string{".yaml", ".yml"}, strings.ToLower(filepath.Ext(path))):
			files = append(files, path)
		}
		return nil // whatever one part is like, the others are looked at
	})
	if len(files) == 0 && len(trouble) == 0 {
		err := &Failure{Code: ExitMissing, Err: fmt.Errorf("%s has no .yaml or .yml file in it; name another folder", folder)}
		trouble = append(trouble, report(folder, "", nil, err))
	}
	return files, trouble
}

// CheckFile reads a file of any kind; the kind is told by its keys. A profile
// is also held against the rig, if one is given.
func CheckFile(path string, rig *Rig) Report {
	text, err := read(path)
	if err != nil {
		return report(path, "", nil, unreadable(path, err, "check the name"))
	}
	var faults []strict.Fault
	kind := KindOf(text)
	switch kind {
	case "rig":
		_, faults, err = LoadRig(path)
	case "plant":
		_, faults, err = LoadPlant(path, sim.Defaults())
	case "faults":
		_, faults, err = LoadFaults(path)
	case "tuning":
		_, faults, err = LoadTuning(path)
	case "notify":
		_, faults, err = LoadNotify(path)
	case "profile":
		faults, err = checkProfile(path, rig)
	default:
		doc := strict.Parse(path, text)
		if !doc.Refused() {
			doc.Refuse(0, notOurs, "write one of them, or name another file")
		}
		err = &Failure{Code: ExitBadInput, Faults: doc.Faults()}
	}
	return report(path, kind, faults, err)
}

// notOurs is what is said of YAML that is none of our files.
const notOurs = "none of the keys profile, rig, plant, faults, tuning or notify stands at its top"

// checkAmongOthers is CheckFile for one of many files: a folder may hold YAML
// of others, so that a file that is none of ours is said and passed over.
func checkAmongOthers(path string, rig *Rig) Report {
	r := CheckFile(path, rig)
	if len(r.Faults) == 1 && r.Faults[0].What == notOurs {
		f := &r.Faults[0]
		f.Remedy, f.Warning, r.Code = "it is passed over", true, 0
	}
	return r
}

func checkProfile(path string, rig *Rig) ([]strict.Fault, error) {
	var p profile.Profile
	p, faults, err := LoadProfile(path)
	if err != nil || rig == nil {
		return faults, err
	}
	faults = append(faults, Check(p, *rig)...)
	strict.Sort(faults)
	return faults, nil
}

// report puts together what reading a file has brought up.
func report(path, kind string, faults []strict.Fault, err error) Report {
	r := Report{File: path, Kind: kind, Faults: faults}
	if strict.Refused(faults) {
		r.Code = ExitBadInput
	}
	var f *Failure
	switch {
	case err == nil:
	case errors.As(err, &f) && f.Err == nil:
		r.Code, r.Faults = f.Code, f.Faults
	default:
		r.Code = ExitIO
		if f != nil {
			r.Code = f.Code
		}
		what, remedy, _ := strings.Cut(strings.TrimPrefix(err.Error(), path+" "), "; ")
		r.Faults = []strict.Fault{{File: path, What: what, Remedy: remedy}}
	}
	if len(r.Faults) > 0 {
		r.Text, _ = read(path) // what cannot be read has no lines to show
	}
	return r
}

// kinds are the kinds of files, each with keys at the top that no other has; the
// first of them is its name.
var kinds = [][]string{
	{"rig", "kettle", "pump", "bag", "limits", "contactor", "inputs", "signals"},
	{"tuning", "lags", "residual", "doubt"},
	{"plant", "vessel", "loss", "evaporation", "circulation", "chiller"},
	{"faults"},
	{"profile", "steps"},
	{"notify"},
}

// KindOf tells the kind of a file, as in Report, by its keys: by the one that names it, else by
// another that only this kind has, else by one that is nearly its name. "": it
// cannot be told.
func KindOf(text []byte) string {
	has := topKeys(text)
	names := make([]string, len(kinds))
	for i, k := range kinds {
		// A rig names its tuning with the key that names a tuning.
		if names[i] = k[0]; has(k[0]) && k[0] != "tuning" {
			return k[0]
		}
	}
	for _, k := range kinds {
		if slices.ContainsFunc(k, has) {
			return k[0]
		}
	}
	for line := range strings.Lines(string(text)) {
		if key, _, ok := strings.Cut(line, ":"); ok && key == strings.TrimSpace(key) {
			if near := strict.Nearest(key, names); near != "" {
				return near
			}
		}
	}
	return ""
}

// topKeys tells which keys stand at the top. Where the file is no YAML, those at
// the left margin count: the strict reader will say what is wrong.
func topKeys(text []byte) func(key string) bool {
	m := strict.Parse("", text).Map(nil)
	if !m.Missing() {
		return m.Has
	}
	margin := "\n" + strings.ReplaceAll(string(text), "\r", "\n")
	return func(key string) bool { return strings.Contains(margin, "\n"+key+":") }
}
