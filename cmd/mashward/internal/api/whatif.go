package api

import (
	"net/http"

	"mashward/cmd/mashward/internal/view"
)

// whatIf tells what would come of a wish that changes the day, and does nothing.
func (a *API) whatIf(r *http.Request, body []byte) answer {
	var ask ToDo
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	c, bad := ask.command()
	if bad != "" {
		return missing(bad)
	}
	out, err := a.o.Daemon.WhatIf(r.Context(), c)
	if err != nil {
		return a.sorry(err)
	}
	return found(view.OutlookOf(&out, a.o.Daemon.Latest()))
}
