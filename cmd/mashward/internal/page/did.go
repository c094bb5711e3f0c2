package page

import (
	"net/http"
	"slices"
	"strconv"

	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
)

// did is what a person may tell of the kettle beside what he is asked. It has a
// page of its own, which is not loaded anew while he types.
type did struct {
	base
	Batch, Told   string
	Water         string // litres, by what was told so far
	Can           []string
	Lid, LidLabel string // the move of the lid that can be told
}

// May tells whether a deed can be told now.
func (d did) May(wish string) bool { return slices.Contains(d.Can, wish) }

func (s *site) did(w http.ResponseWriter, r *http.Request) {
	snap := s.o.Daemon.Latest()
	v := view.Of(snap)
	if v.Batch == nil || !slices.Contains(v.Can, controller.LidOn.String()) && !slices.Contains(v.Can, controller.LidOff.String()) {
		back(w, r, "/", "")
		return
	}
	m := did{
		base: s.base(r, "I did this"), Batch: v.Batch.ID, Told: strconv.FormatUint(uint64(v.Batch.Told), 10), Can: v.Can,
		Water: strconv.FormatFloat(v.Batch.Water, 'f', 1, 64), Lid: controller.LidOff.String(), LidLabel: "The lid is off",
	}
	if v.Batch.LidOff {
		m.Lid, m.LidLabel = controller.LidOn.String(), "The lid is on"
	}
	s.show(w, http.StatusOK, "did.html", m)
}

// isDeed tells whether a wish is one of that page.
func isDeed(w controller.Wish) bool { return w >= controller.Added && w <= controller.LidOff }
