package api

import (
	"net/http"
	"strings"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller/unit"
)

// ToByHand is water to be heated by hand.
type ToByHand struct {
	Litres   *float64 `json:"litres"`
	Celsius  *float64 `json:"celsius"`
	Minutes  *float64 `json:"minutes"` // for how long it is kept; left out, with until too: it is only heated
	Until    *string  `json:"until"`   // RFC 3339
	Cleaning *bool    `json:"cleaning"`
}

// byHand makes a profile of it, to be rehearsed and armed as any other. Nothing is
// kept, and nothing is heated.
func (a *API) byHand(_ *http.Request, body []byte) answer {
	var ask ToByHand
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	h := daemon.ByHand{Cleaning: ask.Cleaning != nil && *ask.Cleaning}
	switch {
	case ask.Litres == nil || ask.Celsius == nil:
		return missing("Say how many litres, and to how many degrees celsius.")
	case ask.Minutes != nil && !(*ask.Minutes > 0 && *ask.Minutes <= 240):
		return missing("minutes is for how long it is kept: more than 0, at most 240.")
	case ask.Until != nil && !isTime(*ask.Until):
		return missing("until is a time, as 2026-11-27T14:00:00+01:00.")
	}
	h.Litres, h.Target = *ask.Litres, unit.Celsius(*ask.Celsius)
	if ask.Minutes != nil {
		h.Hold = time.Duration(*ask.Minutes * float64(time.Minute))
	}
	if ask.Until != nil {
		h.Until, _ = time.Parse(time.RFC3339, *ask.Until)
	}
	if beyond := h.Beyond(); beyond != "" {
		return missing(strings.ToUpper(beyond[:1]) + beyond[1:] + ".")
	}
	id, err := a.o.Daemon.ByHandID(h)
	if err != nil {
		return a.sorry(err)
	}
	b, faults, err := a.o.Daemon.Plan(id)
	if err != nil {
		return a.sorry(err)
	}
	return found(a.shown(id, b, faults))
}
