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

// Seen is what is not said again.
type Seen struct {
	Seen []string `json:"seen"`
}

// seen ends the repeating of what stands.
func (a *API) seen(_ *http.Request, body []byte) answer {
	if err := decode(body, &Nothing{}); err != nil {
		return unreadable(err)
	}
	return found(Seen{append([]string{}, a.o.Notify.Seen()...)})
}
