package page

import (
	"slices"
	"strconv"
	"strings"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/controller/interlock"
)

// What not heating means, and never more than that.
const (
	treatAsHot   = "Unknown: treat it as hot."
	heatUnknown  = "heating or not, nobody knows: isolate before opening or reaching in"
	notHeating   = say.StillLive
	stoppedWords = "Heat and pump are off. Still live: isolate before opening or reaching in."
)

// Rule is one reason for a heat cut, with its words.
type rule struct{ ID, Cause string }

// rules are all of them: the script shows the one that holds.
func rules() []rule {
	var all []rule
	for _, r := range interlock.Rules() {
		all = append(all, rule{r.String(), view.Cause(r)})
	}
	return all
}

// done is what is said after a wish was taken.
var done = map[controller.Wish]string{
	controller.PouringNow: "Heat and pump are off: pour.",
	controller.GrainIn:    "Noted: the grain is in.",
	controller.NoGrain:    "Noted: no grain went in.",
	controller.LiftingNow: "Heat and pump are off: lift.",
	controller.BagClear:   "Noted: it hangs clear.",
	controller.Drained:    "Noted: it has drained.",
	controller.HereLidOff: "Noted: you are here and the lid is off.",
	controller.ItBoils:    "Noted: it boils.",
	controller.ChillerIn:  "Noted: the chiller.",

	controller.AdditionDone:  "Noted: it is in.",
	controller.ExtendByDelay: "The boil is longer, by the delay.",
	controller.ChillDone:     "The chill is over: close the chiller's water.",

	controller.GoOn:       "Noted: the time counts all the same.",
	controller.Pause:      "Paused: the clock stands, the temperature is kept.",
	controller.Resume:     "It goes on.",
	controller.Skip:       "Skipped. You can take it back for 15 s.",
	controller.UndoSkip:   "The skip is taken back.",
	controller.StepBack:   "The step before is repeated.",
	controller.Extend:     "The step is 5 min longer.",
	controller.PumpOff:    "The pump stays off.",
	controller.PumpOn:     "The pump may run again.",
	controller.RestBed:    "The bed rests: heat and pump are off for 3 min.",
	controller.End:        "The batch is ended.",
	controller.Added:      "Noted: it is counted as mixed in. For the level above the element, read the kettle and say its volume.",
	controller.TookOut:    "Noted: it is out.",
	controller.VolumeIs:   "Noted: the kettle holds that much.",
	controller.LidOn:      "Noted: the lid is on.",
	controller.LidOff:     "Noted: the lid is off.",
	controller.PumpStands: "Noted: the pump is off. Look for grain in its inlet, a kinked hose or air before it runs again.",
	controller.GrainIs:    "Noted: the strike water is brought to what this grain needs.",
	controller.PHIs:       "Noted: the pH is in the record.",
	controller.GravityIs:  "Noted: what is expected of the wort rests on this gravity now.",

	controller.ThermometerSays: "Noted: it is compared with the probe. Nothing is corrected.",
	controller.ClearTrip:       "Asked to clear: it stays cut as long as its cause stands.",
	controller.Retarget:        "Changed: the rest is to be at that temperature.",
}

// The codes of what may be said at the top of a page, beside those of wishes
// and refusals. An address never carries a sentence.
const (
	codeBegun       = "begun"
	codeStop        = "stop"
	codeStopIdle    = "stop-idle"
	codeStopLate    = "stop-late"
	codeOld         = "old"
	codeBusy        = "busy"
	codeDown        = "down"
	codeLate        = "late"
	codeWhat        = "what"
	codeArmAgain    = "arm-again"
	codeNotNow      = "not-now"
	codeChanged     = "changed"
	codeWaits       = "waits"
	codeCalledOff   = "called-off"
	codeGoesOn      = "goes-on"
	codeSpent       = "spent"
	codeOvertaken   = "overtaken"
	codeWithdrawn   = "withdrawn"
	codeRehearsing  = "rehearsing"
	codeSeen        = "seen"
	codeSaved       = "saved"
	codeRestored    = "restored"
	codeNotRestored = "not-restored"
)

var codes = map[string]string{
	codeBegun:       "The batch has begun.",
	codeGoesOn:      "It goes on.",
	codeChanged:     "Changed: the step lasts that long.",
	codeWaits:       "Armed for later. Nothing is heated yet.",
	codeCalledOff:   "Called off: nothing is armed.",
	codeRestored:    "The tuning before is back. It counts from the next start of mashward on.",
	codeNotRestored: "There is no tuning to bring back, or it cannot be written.",
	codeSaved:       "Saved as a new file. What it was made from is as it was.",
	codeSeen:        "Noted: you have seen the alarms. Their causes are as they were.",
	codeStop:        "Stopped. " + stoppedWords,
	codeStopIdle:    "Nothing was heated, and everything is off. Still live: isolate before opening or reaching in.",
	codeStopLate:    "Heat and pump have been taken away, but the controller has not confirmed it. Isolate the kettle at the breaker.",
	codeOld:         "That page was older than the kettle, so nothing was done. Look again before you press.",
	codeBusy:        "Too many orders wait. Try again in a second.",
	codeDown:        "The controller does not run: no order can be taken.",
	codeLate:        "The controller has not answered, so it is not certain what became of it. Look again before you press.",
	codeWhat:        "That is not something this page can ask for.",
	codeArmAgain:    "This arming is not valid any more. Arm again.",
	codeSpent:       "This arming has been used already: its batch has begun.",
	codeOvertaken:   "STOP was pressed after this, so it was not done. Look at the kettle, then press again.",
	codeWithdrawn:   "The controller did not take it in time, so nothing was done. Look again before you press.",
	codeRehearsing:  "Another rehearsal is under way. Try again in a few seconds.",
	codeNotNow:      "Not done: a batch is under way or armed for later, or a heat cut is latched.",
}

// message is what a code says; "" for one that is not ours. grave tells that
// it is bad news.
func message(code string) (text string, grave bool) {
	if text, ok := codes[code]; ok {
		return text, !slices.Contains([]string{codeBegun, codeGoesOn, codeChanged, codeWaits, codeCalledOff, codeSeen, codeSaved, codeRestored, codeStop, codeStopIdle}, code)
	}
	kind, number, _ := strings.Cut(code, "-")
	n, err := strconv.ParseUint(number, 10, 8)
	if err != nil {
		return "", false
	}
	switch kind {
	case "did":
		return done[controller.Wish(n)], false
	case "no":
		if r := controller.Refusal(n); r != controller.NotRefused && r.String() != "unknown" {
			return "Not done: " + r.String() + ".", true
		}
	}
	return "", false
}

// didCode says that a wish was taken.
func didCode(w controller.Wish) string { return "did-" + strconv.Itoa(int(w)) }

// noCode says why a wish was refused.
func noCode(r controller.Refusal) string { return "no-" + strconv.Itoa(int(r)) }
