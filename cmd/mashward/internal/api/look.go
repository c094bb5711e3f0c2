package api

import (
	"bytes"
	"errors"
	"net/http"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// State is the state with its age.
type State struct {
	view.State
	// Age is how old it is: a loop that hangs goes on showing its last state.
	// Null where no loop runs because heat is disabled.
	Age *float64 `json:"age_seconds"`
}

// stateOf projects a snapshot as it looks now.
func (a *API) stateOf(s *daemon.Snapshot) State {
	out := State{State: view.Of(s)}
	if !s.HeatDisabled {
		age := max(0, a.o.Now().Sub(s.Wall).Seconds())
		out.Age = &age
	}
	return out
}

func (a *API) state(*http.Request) answer { return found(a.stateOf(a.o.Daemon.Latest())) }

func (a *API) moments(*http.Request) answer { return found(view.NeededOf(a.o.Daemon.Latest())) }

// ListedProfile is one profile in the list.
type ListedProfile struct {
	ID        string `json:"id"`
	Name      string `json:"name"` // "" where it cannot be read
	Hash      string `json:"hash"` // of profile and rig
	Refused   bool   `json:"refused"`
	Rehearsed bool   `json:"rehearsed"` // and it came to its end
}

func (a *API) profiles(*http.Request) answer {
	list, err := a.o.Daemon.Profiles()
	if err != nil {
		return a.sorry(err)
	}
	out := struct {
		Profiles []ListedProfile `json:"profiles"`
	}{[]ListedProfile{}}
	for _, p := range list {
		out.Profiles = append(out.Profiles, ListedProfile{p.ID, p.Name, p.Hash, strict.Refused(p.Faults), a.rehearsed(p.Hash)})
	}
	return found(out)
}

func (a *API) rehearsed(hash string) bool {
	r, ok := a.o.Daemon.Rehearsed(hash)
	return ok && r.Outcome == complete
}

// ShownProfile is one profile with its text.
type ShownProfile struct {
	ListedProfile
	Text   string  `json:"text"`
	Faults []Fault `json:"faults"`
}

func (a *API) shown(id string, b *daemon.Batch, faults []strict.Fault) ShownProfile {
	return ShownProfile{
		ListedProfile{id, b.Profile.Name, b.Hash, strict.Refused(faults), a.rehearsed(b.Hash)}, string(b.Text), faultsOf(faults),
	}
}

func (a *API) profile(r *http.Request) answer {
	id := r.PathValue("id")
	b, faults, err := a.o.Daemon.Plan(id)
	if err != nil && !errors.Is(err, daemon.ErrDisabled) || b == nil {
		return a.sorry(err)
	}
	out := found(a.shown(id, b, faults))
	out.etag = b.Hash
	return out
}

func (a *API) plan(r *http.Request) answer {
	b, faults, err := a.o.Daemon.Plan(r.PathValue("id"))
	if err != nil {
		return a.sorry(err)
	}
	if strict.Refused(faults) {
		return a.sorry(&daemon.Refusal{Faults: faults})
	}
	var text bytes.Buffer
	if err := plan.JSON(&text, b.Plan); err != nil {
		return a.sorry(err)
	}
	return answer{status: http.StatusOK, kind: jsonKind, body: text.Bytes(), etag: b.Hash}
}
