package api

import (
	"net/http"

	"mashward/cmd/mashward/internal/daemon"
)

// ToGoOn is a person's word that the offered batch goes on, with the statements
// of arming made again.
type ToGoOn struct {
	Batch     *string  `json:"batch"`
	Litres    *float64 `json:"litres"`
	BagClear  *bool    `json:"bag_clear"`
	ValveShut *bool    `json:"valve_shut"`
	RCDTested *bool    `json:"rcd_tested"`
}

// incomplete says what is missing; "" if nothing is.
func (t *ToGoOn) incomplete() string {
	switch {
	case t.Batch == nil || t.Litres == nil || t.BagClear == nil || t.ValveShut == nil || t.RCDTested == nil:
		return "Give batch, litres, bag_clear, valve_shut and rcd_tested, all five."
	case !(*t.Litres > 0 && *t.Litres <= mostLitres):
		return "litres is what stands in the kettle: more than 0, at most 500."
	}
	return ""
}

func (a *API) goOn(r *http.Request, body []byte) answer {
	var ask ToGoOn
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	if bad := ask.incomplete(); bad != "" {
		return missing(bad)
	}
	ctx, cancel := patience(r, takenWithin)
	defer cancel()
	stated := daemon.Statements{Litres: *ask.Litres, BagClear: *ask.BagClear, ValveShut: *ask.ValveShut, RCDTested: *ask.RCDTested}
	reply, err := a.o.Daemon.GoOn(ctx, *ask.Batch, stated)
	switch {
	case err != nil:
		return a.noted("go on", a.sorry(err))
	case !reply.Accepted:
		return a.noted("go on", refused(reply.Why))
	}
	return found(Started{true, *ask.Batch})
}
