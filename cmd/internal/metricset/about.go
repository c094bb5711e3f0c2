package metricset

import "strings"

// About is what does not change while a process runs.
type About struct {
	Build     Build
	Rig       Rig
	Simulated bool // kettle, probe and element are
}

// Build says which program runs.
type Build struct {
	Version, Revision, Go string
}

// Rig is the kettle, as far as figures of many are told apart by it.
type Rig struct {
	Name  string // "" where its file could not be read: no label then
	Relay string // how the element's relay switches: mechanical or solid-state
}

// Label is the value of LabelRig. It must be UTF-8, else a whole scrape would
// fail of a name.
func (r Rig) Label() string { return strings.ToValidUTF8(r.Name, unreadable) }

// Each gives the figures about the process.
func (a *About) Each(emit Emit) {
	emit(BuildIdentity, 1, a.Build.Version, a.Build.Revision, a.Build.Go)
	emit(RigIdentity, 1, a.Rig.Relay)
	emit(Simulated, truth(a.Simulated))
}
