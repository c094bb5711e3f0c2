package page

import (
	"context"
	"errors"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/controller/unit"
)

// patience is how long a press waits for the tick that takes it.
const patience = 5 * time.Second

// maxForm bounds what a form may bring.
const maxForm = 8 << 10

// longer is what the page adds to a step.
const longer = 5 * time.Minute

// wishOf knows the wishes a form may name. Start and stop have ways of their
// own.
func wishOf(name string) controller.Wish {
	for w := controller.PouringNow; w <= controller.ChillDone; w++ {
		if w.String() == name && w != controller.Stop && w != controller.TakeUp && w != controller.TakeUpAlone {
			return w
		}
	}
	return controller.NoWish
}

// do takes one press.
func (s *site) do(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if err := r.ParseForm(); err != nil {
		back(w, r, "/", codeWhat)
		return
	}
	wish := wishOf(r.PostForm.Get("wish"))
	snap := s.o.Daemon.Latest()
	command := controller.Command{Wish: wish}
	switch {
	case wish == controller.NoWish:
		back(w, r, "/", codeWhat)
		return
	case snap.HeatDisabled:
		back(w, r, "/", codeDown)
		return
	case !stillAsked(snap, wish, r):
		back(w, r, "/", codeOld)
		return
	case wish == controller.Extend:
		command.By = longer
	case wish == controller.AdditionDone:
		command.Which = which(r.PostForm.Get("addition"))
	case wish == controller.Drained || isDeed(wish):
		figures(&command, r)
	}
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	reply, err := s.o.Daemon.Do(ctx, command)
	back(w, r, "/", outcome(wish, reply, err))
}

// stillAsked tells whether what the press answers still stands. A second tap
// on a bad link must not answer the next question or skip a second step.
func stillAsked(snap *daemon.Snapshot, wish controller.Wish, r *http.Request) bool {
	prompt, batch := snap.Decision.Prompt, ""
	if snap.Batch != nil {
		batch = snap.Batch.ID
	}
	switch {
	case batch != r.PostForm.Get("batch"):
		return false
	case wish == controller.ClearTrip && prompt == controller.NoPrompt:
		return true // what has latched outlives its batch
	case batch == "":
		return false
	}
	if wish == controller.NoGrain {
		return prompt == controller.AskDidGrainGo
	}
	if answers(wish) && !early(wish, r.PostForm.Get("prompt")) {
		return say.Answer(prompt) == wish && prompt.String() == r.PostForm.Get("prompt")
	}
	if isDeed(wish) {
		return strconv.FormatUint(uint64(snap.Decision.Deeds), 10) == r.PostForm.Get("told") // the same deed is not told twice
	}
	switch wish {
	case controller.Skip, controller.StepBack, controller.Extend, controller.HereLidOff, controller.ChillerIn, controller.ChillDone:
		return strconv.Itoa(int(snap.Decision.Index)) == r.PostForm.Get("step")
	}
	return true
}

// answers tells whether a wish is the answer to some prompt.
func answers(w controller.Wish) bool {
	for p := controller.AskPour; p <= controller.AskColdest; p++ {
		if say.Answer(p) == w {
			return true
		}
	}
	return false
}

// outcome is the code of what became of a press.
func outcome(w controller.Wish, r daemon.Reply, err error) string {
	switch {
	case err != nil:
		return lost(err)
	case !r.Accepted:
		return noCode(r.Why)
	}
	return didCode(w)
}

// lost is the code for an order that got no answer.
func lost(err error) string {
	for _, c := range []struct {
		err  error
		code string
	}{
		{daemon.ErrBusy, codeBusy},
		{daemon.ErrDown, codeDown},
		{daemon.ErrDisabled, codeDown},
		{daemon.ErrStopped, codeOvertaken},
		{daemon.ErrTooLate, codeWithdrawn},
		{daemon.ErrNonce, codeArmAgain},
		{daemon.ErrSpent, codeSpent},
		{daemon.ErrRunning, codeNotNow},
		{daemon.ErrWaiting, codeNotNow},
		{daemon.ErrTripped, codeNotNow},
		{daemon.ErrRelay, codeNotNow},
		{daemon.ErrNotOffered, codeOld},
		{daemon.ErrNoAlarm, codeOld},
		{daemon.ErrUntuned, codeNotRestored},
		{daemon.ErrNoBefore, codeNotRestored},
	} {
		if errors.Is(err, c.err) {
			return c.code
		}
	}
	return codeLate
}

// litres reads a volume as people type it, with a point or a comma. What is no
// number is nothing, and nothing is refused by the core.
func litres(text string) unit.Litres {
	v, ok := number(text)
	if !ok || v < 0 {
		return 0
	}
	return unit.Litres(v)
}

// which reads the number of an addition; 0 is all that have been called out.
func which(text string) uint8 {
	n, _ := strconv.ParseUint(text, 10, 8)
	return uint8(n)
}

// number reads a figure with a point or a comma.
func number(text string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

// stop takes heat and pump away. It looks at nothing in the request.
func (s *site) stop(w http.ResponseWriter, r *http.Request) {
	snap := s.o.Daemon.Latest()
	if snap.HeatDisabled {
		back(w, r, "/", codeStopIdle) // no line is driven
		return
	}
	// The tap may be gone before the answer is: the order is not.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(r.Context()), patience)
	defer cancel()
	_, err := s.o.Daemon.Stop(ctx)
	code := codeStop
	switch {
	case err != nil:
		code = codeStopLate
	case !under(snap):
		code = codeStopIdle
	}
	back(w, r, "/", code)
}

// under tells whether a batch is under way.
func under(snap *daemon.Snapshot) bool {
	m := snap.Decision.Mode
	return m != controller.Idle && !m.Ended()
}

// undoUntil is the batch clock until which the last skip can be taken back; 0
// where there is none.
func undoUntil(snap *daemon.Snapshot) time.Duration {
	if d := &snap.Decision; d.Undoes > 0 {
		return d.Clock + d.Undoes
	}
	return 0
}

// ending asks once more before a batch is ended for good.
type ending struct {
	base
	Batch, Profile string
}

func (s *site) end(w http.ResponseWriter, r *http.Request) {
	snap := s.o.Daemon.Latest()
	if m := snap.Decision.Mode; snap.Batch == nil || m != controller.Held && m != controller.Offered {
		back(w, r, "/", "")
		return
	}
	s.show(w, http.StatusOK, "end.html", ending{s.base(r, "End this batch"), snap.Batch.ID, snap.Batch.Profile.Name})
}
