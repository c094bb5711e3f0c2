package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"time"

	"mashward/cmd/mashward/internal/daemon"
)

// MaxClients is how many may listen to the stream at a time.
const MaxClients = 32

// pace is how often the stream speaks. A tick lasts a second, so that at its
// own speed the loop gives one event a tick; a fast simulation is thinned out.
type pace struct {
	gap   time.Duration // between two events at least
	alive time.Duration // between two events at most, whether or not anything is new
	write time.Duration // for a client to take one
}

var realPace = pace{gap: 900 * time.Millisecond, alive: 1200 * time.Millisecond, write: 5 * time.Second}

// Clients is how many listen to the stream now.
func (a *API) Clients() int { return len(a.seats) }

// events streams the state as server-sent events (HTML standard, section 9.2):
// the whole state first, then at most one a second. It looks at what the loop
// has published and is waited for by nobody: a client that does not read loses
// its connection, and that is all.
func (a *API) events(w http.ResponseWriter, r *http.Request) {
	select {
	case a.seats <- struct{}{}:
		defer func() { <-a.seats }()
	default:
		out := problem(http.StatusServiceUnavailable, "too-many-listeners", "Too many listen already",
			fmt.Sprintf("At most %d at a time: close a page, or ask for the state instead.", MaxClients))
		out.retry = 5
		out.write(w)
		return
	}
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("Cache-Control", "no-store")
	if r.Method == http.MethodHead {
		return
	}
	rc := http.NewResponseController(w)
	first := "retry: 1000\n"
	for {
		s := a.o.Daemon.Latest()
		if a.send(w, rc, first, s) != nil || !a.next(r.Context(), s.Number) {
			return
		}
		first = ""
	}
}

// next waits until another event is due; false if the client has gone.
func (a *API) next(ctx context.Context, shown uint64) bool {
	if !wait(ctx, a.pace.gap, nil) {
		return false
	}
	changed := a.o.Daemon.Changed() // before looking, so that nothing is missed in between
	if a.o.Daemon.Latest().Number != shown {
		return ctx.Err() == nil
	}
	return wait(ctx, a.pace.alive-a.pace.gap, changed)
}

// wait passes the time, or until something happens; false if the client has gone.
func wait(ctx context.Context, d time.Duration, happens <-chan struct{}) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
	case <-happens:
	}
	return true
}

// send writes one event, and gives the client so long to take it.
func (a *API) send(w http.ResponseWriter, rc *http.ResponseController, first string, s *daemon.Snapshot) error {
	text, err := json.Marshal(a.stateOf(s))
	if err != nil {
		a.o.Log.Error("api", "error", err)
		return err
	}
	if err := rc.SetWriteDeadline(time.Now().Add(a.pace.write)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	if _, err := fmt.Fprintf(w, "%sid: %d\nevent: state\ndata: %s\n\n", first, s.Number, text); err != nil {
		return err
	}
	return rc.Flush()
}
