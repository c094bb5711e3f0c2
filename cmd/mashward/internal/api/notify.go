package api

import (
	"net/http"

	"mashward/cmd/mashward/internal/notify"
)

// Nothing is a request that says all by its address.
type Nothing struct{}

func (a *API) notifications(*http.Request) answer { return found(a.o.Notify.State()) }

// TriedAll is how a test went.
type TriedAll struct {
	Tried []notify.Tried `json:"tried"`
}

// tryNotifications sends a test to each target and tells what came back.
func (a *API) tryNotifications(r *http.Request, body []byte) answer {
	if err := decode(body, &Nothing{}); err != nil {
		return unreadable(err)
	}
	tried, ok := a.o.Notify.Test(r.Context())
	if !ok {
		out := problem(http.StatusTooManyRequests, "test-under-way", "Another test is under way", "Wait for its answer, 8 s at most.")
		out.retry, out.again = 2, true
		return out
	}
	return found(TriedAll{tried})
}

// SaidNoMore is what is not said again.
type SaidNoMore struct {
	Seen []string `json:"seen"`
}

// seen ends the repeating of what stands; the alarms in it count as seen.
func (a *API) seen(r *http.Request, body []byte) answer {
	if err := decode(body, &Nothing{}); err != nil {
		return unreadable(err)
	}
	ctx, cancel := patience(r, takenWithin)
	defer cancel()
	if err := a.o.Daemon.SeenAllAlarms(ctx); err != nil { // the messages end all the same
		a.o.Log.Warn("alarms are not noted as seen", "error", err)
	}
	return found(SaidNoMore{append([]string{}, a.o.Notify.Seen()...)})
}
