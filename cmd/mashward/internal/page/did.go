package page

import (
	"net/http"
	"slices"
	"strconv"

	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile/gravity"
)

// did is what a person may tell of the kettle beside what he is asked. It has a
// page of its own, which is not loaded anew while he types.
type did struct {
	base
	Batch, Told   string
	Water         string // litres, by what was told so far
	Grain, Warm   string // kilograms, and how warm it is
	True          string // at which a scale is true that does not say
	Wort          []string
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
		Water: strconv.FormatFloat(v.Batch.Water, 'f', 1, 64), Grain: strconv.FormatFloat(v.Batch.Grain, 'f', 2, 64), Wort: v.Wort.Lines(), Lid: controller.LidOff.String(), LidLabel: "The lid is off",
	}
	m.Warm, m.True = m.Scale.figure(v.Batch.GrainAt), m.Scale.figure(20)
	if v.Batch.LidOff {
		m.Lid, m.LidLabel = controller.LidOn.String(), "The lid is on"
	}
	s.show(w, http.StatusOK, "did.html", m)
}

// isDeed tells whether a wish is one of that page.
func isDeed(w controller.Wish) bool { return w >= controller.Added && w <= controller.GravityIs }

// figures fills in what a form brings. What cannot be read is nothing, and nothing is
// refused by the core.
func figures(c *controller.Command, r *http.Request) {
	form := r.PostForm
	c.Volume, c.At = litres(form.Get("litres")), scaleOf(r).read(form.Get("warm"))
	if mass, ok := number(form.Get("kilograms")); ok {
		c.Grain = unit.Kilograms(mass)
	}
	if value, ok := number(form.Get("value")); ok {
		c.Value = value
	}
	c.Spot, _ = controller.SpotOf(form.Get("spot"))
	c.Calibrated = scaleOf(r).read(form.Get("calibrated"))
	for k := gravity.Hydrometer; k <= gravity.Refractometer; k++ {
		if k.String() == form.Get("instrument") {
			c.Instrument = k
		}
	}
}
