package page

import (
	"fmt"
	"net/http"
	"slices"
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
)

// additions is what is thrown in during the day, each with a press of its own.
type additions struct {
	base
	Batch  string
	List   []view.Addition
	Open   bool   // something can still be told
	Longer string // by how much the boil may be longer; "" where nothing came late
}

func (s *site) additions(w http.ResponseWriter, r *http.Request) {
	snap := s.o.Daemon.Latest()
	v := view.Of(snap)
	if v.Batch == nil || len(v.Additions) == 0 {
		back(w, r, "/", "")
		return
	}
	m := additions{base: s.base(r, "What goes in"), Batch: v.Batch.ID, List: v.Additions, Open: !snap.Decision.Mode.Ended()}
	if slices.Contains(v.Can, controller.ExtendByDelay.String()) {
		m.Longer = say.Length(snap.Decision.Late)
	}
	s.show(w, http.StatusOK, "additions.html", m)
}

// early tells of a wish that answers a prompt and may be said before it is asked,
// in the step that the page was of.
func early(wish controller.Wish, prompt string) bool {
	switch wish {
	case controller.HereLidOff, controller.ChillerIn, controller.ChillDone:
		return prompt == ""
	}
	return false
}

// delay is the label of the press that makes the boil longer by the delay.
func delay(late time.Duration) string {
	if late == 0 {
		return "Boil longer by the delay"
	}
	return fmt.Sprintf("Boil %s longer, by the delay", say.Length(late))
}
