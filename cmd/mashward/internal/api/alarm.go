package api

import (
	"net/http"

	"mashward/cmd/mashward/internal/view"
)

// ToSee says which alarms a person has seen.
type ToSee struct {
	UpTo *uint64 `json:"up_to"` // the highest number he has seen
}

// AlarmsSeen is what was said.
type AlarmsSeen struct {
	Accepted bool   `json:"accepted"`
	UpTo     uint64 `json:"up_to"`
}

// alarms are all since the start.
func (a *API) alarms(*http.Request) answer {
	return found(struct {
		Alarms []view.Alarm `json:"alarms"`
	}{view.Alarms(a.o.Daemon.Latest())})
}

// alarmsSeen takes a person's word that he has seen them. It changes nothing else.
func (a *API) alarmsSeen(r *http.Request, body []byte) answer {
	var ask ToSee
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	if ask.UpTo == nil || *ask.UpTo == 0 {
		return missing("Give up_to, the highest number of an alarm that was seen.")
	}
	ctx, cancel := patience(r, takenWithin)
	defer cancel()
	if _, err := a.o.Daemon.SeenAlarms(ctx, *ask.UpTo); err != nil {
		return a.sorry(err)
	}
	return found(AlarmsSeen{true, *ask.UpTo})
}
