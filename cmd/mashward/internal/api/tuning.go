package api

import (
	"net/http"
	"time"

	"mashward/cmd/mashward/internal/daemon"
)

// Tuning is what a test with water found.
type Tuning struct {
	Written  string  `json:"written"` // RFC 3339, by the file system
	Power    float64 `json:"power_watts"`
	Water    float64 `json:"water_litres"`
	Capacity float64 `json:"capacity_joules_per_kelvin"`
	Loss     float64 `json:"loss_watts_per_kelvin"`
	Doubt    float64 `json:"doubt_ratio"`
}

// ShownRig is the kettle that is served.
type ShownRig struct {
	Name   string  `json:"name"`
	Text   string  `json:"text"`          // of its file, as it was read at the start
	Tuning *Tuning `json:"tuning"`        // on disk
	Before *Tuning `json:"tuning_before"` // that it replaced
}

func tuningOf(t *daemon.TuningFile) *Tuning {
	if t == nil {
		return nil
	}
	return &Tuning{
		t.Written.UTC().Format(time.RFC3339), float64(t.Power), float64(t.Water), float64(t.Capacity), float64(t.Loss), float64(t.Doubt),
	}
}

func (a *API) rig(*http.Request) answer {
	rig, text := a.o.Daemon.Rig()
	now, before := a.o.Daemon.Tunings()
	return found(ShownRig{rig.Name, string(text), tuningOf(now), tuningOf(before)})
}

// restoreTuning brings back the tuning that another one replaced. It counts from the
// next start on.
func (a *API) restoreTuning(_ *http.Request, body []byte) answer {
	if err := decode(body, &struct{}{}); err != nil {
		return unreadable(err)
	}
	if err := a.o.Daemon.RestoreTuning(); err != nil {
		return a.sorry(err)
	}
	now, _ := a.o.Daemon.Tunings()
	return found(struct {
		Accepted bool    `json:"accepted"`
		Tuning   *Tuning `json:"tuning"`
	}{true, tuningOf(now)})
}
