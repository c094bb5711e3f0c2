package api

import (
	"context"
	"errors"
	"net/http"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

const (
	// takenWithin is how long an order may wait for the loop, which takes one a
	// second: longer than a queue of a few, shorter than anyone would wait.
	takenWithin = 5 * time.Second
	// heardWithin is how long STOP waits for the loop's word; heat is off before.
	heardWithin = 2 * time.Second

	mostLitres  = 500
	mostMinutes = 360
	mostReady   = 24 * 60 // min
)

// complete is the outcome of a rehearsal that came to its end.
var complete = controller.Complete.String()

// ToRehearse is what to rehearse.
type ToRehearse struct {
	Profile *string `json:"profile"`
}

// Rehearsed is how a rehearsal went.
type Rehearsed struct {
	Profile string          `json:"profile"`
	Hash    string          `json:"hash"`
	Passed  bool            `json:"passed"`
	Result  rehearse.Result `json:"result"`
}

func (a *API) rehearsal(_ *http.Request, body []byte) answer {
	var ask ToRehearse
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	if ask.Profile == nil {
		return missing("Say which profile: {\"profile\": \"...\"}.")
	}
	b, result, err := a.o.Daemon.Rehearse(*ask.Profile)
	if err != nil {
		return a.sorry(err)
	}
	a.o.Log.Info("rehearsed", "profile", b.File, "outcome", result.Outcome)
	return found(Rehearsed{*ask.Profile, b.Hash, result.Kept(), result})
}

// ToArm is the first of two steps to heat: what, and the four statements.
type ToArm struct {
	Profile   *string  `json:"profile"`
	Hash      *string  `json:"hash"`
	Litres    *float64 `json:"litres"`
	BagClear  *bool    `json:"bag_clear"`
	ValveShut *bool    `json:"valve_shut"`
	RCDTested *bool    `json:"rcd_tested"`
	Resume    *float64 `json:"resume_minutes"`        // of a power cut after which it may go on by itself; left out: 0
	Override  *bool    `json:"override_expectations"` // although the last rehearsal broke what the profile expects; left out: no
	ReadyAt   *string  `json:"ready_at"`              // RFC 3339: by when the strike water is to be hot
	ReadyIn   *float64 `json:"ready_in_minutes"`
}

// Armed is what can be started now, and what it will do.
type Armed struct {
	Nonce   string         `json:"nonce"`
	Valid   float64        `json:"valid_seconds"`
	Profile string         `json:"profile"`
	Name    string         `json:"name"`
	Hash    string         `json:"hash"`
	Water   float64        `json:"water_litres"`
	Strike  *float64       `json:"strike_celsius"` // null where there is no mash-in
	First   *FirstRest     `json:"first_rest"`     // null where there is none
	Finish  float64        `json:"finish_seconds"` // since the start
	Later   *view.Schedule `json:"later"`          // null: it heats at once when it is started
}

// FirstRest is the first rest that is heated to.
type FirstRest struct {
	Title  string  `json:"title"`
	Target float64 `json:"target_celsius"`
	At     float64 `json:"at_seconds"` // since the start
}

func (a *API) arm(_ *http.Request, body []byte) answer {
	var ask ToArm
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	if bad := ask.incomplete(); bad != "" {
		return missing(bad)
	}
	stated := daemon.Statements{Litres: *ask.Litres, BagClear: *ask.BagClear, ValveShut: *ask.ValveShut, RCDTested: *ask.RCDTested}
	if ask.Resume != nil {
		stated.ResumeWithin = time.Duration(*ask.Resume * float64(time.Minute))
	}
	ask.later(&stated)
	stated.Override = ask.Override != nil && *ask.Override
	nonce, b, err := a.o.Daemon.Arm(*ask.Profile, *ask.Hash, stated)
	if err != nil {
		return a.noted("arm", a.sorry(err))
	}
	out := Armed{
		Nonce: nonce, Valid: daemon.ArmedFor.Seconds(), Profile: *ask.Profile, Name: b.Profile.Name, Hash: b.Hash,
		Water: float64(b.Profile.Water), First: firstRest(b), Finish: b.Plan.Finish.Seconds(), Later: view.ScheduleOf(b),
	}
	if b.Plan.HasStrike {
		strike := float64(b.Plan.Strike.Temperature)
		out.Strike = &strike
	}
	return found(out)
}

// incomplete says what is missing; "" if nothing is.
func (t *ToArm) incomplete() string {
	switch {
	case t.Profile == nil || t.Hash == nil || t.Litres == nil || t.BagClear == nil || t.ValveShut == nil || t.RCDTested == nil:
		return "Give profile, hash, litres, bag_clear, valve_shut and rcd_tested, all six."
	case !(*t.Litres > 0 && *t.Litres <= mostLitres):
		return "litres is what stands in the kettle: more than 0, at most 500."
	case t.Resume != nil && !(*t.Resume >= 0 && *t.Resume <= daemon.MostResume.Minutes()):
		return "resume_minutes is from 0, which asks a person, to 30."
	case t.ReadyIn != nil && !(*t.ReadyIn > 0 && *t.ReadyIn <= mostReady):
		return "ready_in_minutes is in how long the strike water is to be hot: more than 0, at most 1440."
	case t.ReadyAt != nil && !isTime(*t.ReadyAt):
		return "ready_at is by when the strike water is to be hot, as 2026-11-27T08:30:00+01:00."
	}
	return ""
}

func isTime(text string) bool {
	_, err := time.Parse(time.RFC3339, text)
	return err == nil
}

// later is when the strike water is to be hot, where that was said.
func (t *ToArm) later(s *daemon.Statements) {
	if t.ReadyAt != nil {
		s.ReadyAt, _ = time.Parse(time.RFC3339, *t.ReadyAt)
	}
	if t.ReadyIn != nil {
		s.ReadyIn = time.Duration(*t.ReadyIn * float64(time.Minute))
	}
}

func firstRest(b *daemon.Batch) *FirstRest {
	for _, s := range b.Plan.Steps {
		if s.Kind == profile.Rest {
			return &FirstRest{b.Say.Step(uint8(s.Index)), float64(s.Target), (s.Start + s.Heat()).Seconds()}
		}
	}
	return nil
}

// ToStart is the second step.
type ToStart struct {
	Nonce *string `json:"nonce"`
}

// Started is a batch that has begun.
type Started struct {
	Accepted bool   `json:"accepted"`
	Batch    string `json:"batch"`
}

func (a *API) start(r *http.Request, body []byte) answer {
	var ask ToStart
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	if ask.Nonce == nil {
		return missing("Give the nonce that arm answered.")
	}
	ctx, cancel := patience(r, takenWithin)
	defer cancel()
	reply, err := a.o.Daemon.Begin(ctx, *ask.Nonce)
	switch {
	case err != nil:
		return a.noted("start", a.sorry(err))
	case !reply.Accepted:
		return a.noted("start", refused(reply.Why))
	}
	return found(Started{true, reply.Batch})
}

// patience is for how long a request waits for the loop. A client that hangs
// up changes nothing: it may ask again with the same key what became of it.
func patience(r *http.Request, d time.Duration) (context.Context, context.CancelFunc) {
	return context.WithTimeout(context.WithoutCancel(r.Context()), d)
}

// refused is the core's no, with its reason.
func refused(why controller.Refusal) answer {
	return problem(http.StatusUnprocessableEntity, "refused", "Refused", "Refused: "+why.String()+".")
}

// noted keeps in the log that heat was asked for in vain.
func (a *API) noted(what string, out answer) answer {
	a.o.Log.Warn("refused", "what", what, "status", out.status)
	return out
}

// ToDo is one wish of a person.
type ToDo struct {
	Wish    *string  `json:"wish"`
	Litres  *float64 `json:"litres"`  // drained: what is left, cold; the press alone confirms the plan; a deed: as measured
	Celsius *float64 `json:"celsius"` // how warm that is, or the sample; thermometer-says: what it says; retarget: the new target
	Minutes *float64 `json:"minutes"` // extend: how much longer; negative: shorter

	Addition   *int     `json:"addition"`           // addition-done: its number; without it all that have been called out
	Kilograms  *float64 `json:"kilograms"`          // grain-is
	Value      *float64 `json:"value"`              // ph-is, gravity-is: as read
	Spot       *string  `json:"spot"`               // ph-is: where in the mash
	Instrument *string  `json:"instrument"`         // gravity-is
	Calibrated *float64 `json:"calibrated_celsius"` // gravity-is: at which a float's scale is true; left out: 20
	Step       *int     `json:"step"`               // extend, retarget: entry of the profile, the present one or one to come; left out: the present one
}

// Done is a wish that was granted.
type Done struct {
	Accepted bool   `json:"accepted"`
	Wish     string `json:"wish"`
}

func (a *API) command(r *http.Request, body []byte) answer {
	var ask ToDo
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	c, bad := ask.command()
	if bad != "" {
		return missing(bad)
	}
	ctx, cancel := patience(r, takenWithin)
	defer cancel()
	reply, err := a.o.Daemon.Do(ctx, c)
	switch {
	case err != nil:
		return a.sorry(err)
	case !reply.Accepted:
		return refused(reply.Why)
	}
	a.o.Log.Info("order", "wish", c.Wish.String())
	return found(Done{true, c.Wish.String()})
}

// command is what was asked in the core's terms; bad says what is wrong with it.
func (t *ToDo) command() (c controller.Command, bad string) {
	if t.Wish == nil {
		return c, "Say what you wish: {\"wish\": \"pause\"}."
	}
	c.Wish = wishes()[*t.Wish]
	switch {
	case *t.Wish == controller.Stop.String():
		return c, "STOP has an address of its own, which needs no key and is never answered from memory: POST " + Prefix + "stop."
	case c.Wish == controller.NoWish:
		return c, "There is no wish " + short(*t.Wish) + ": look into openapi.json for those there are."
	case t.Litres != nil && c.Wish != controller.Drained && !measured(c.Wish):
		return c, "litres goes with drained, added, took-out and volume-is only."
	case t.Litres == nil && measured(c.Wish):
		return c, "Say how many litres."
	case t.Celsius != nil && !isWarm(c.Wish):
		return c, "celsius goes with added, volume-is, grain-is, thermometer-says, ph-is, gravity-is and retarget only."
	case t.Celsius == nil && isWarm(c.Wish):
		return c, "Say how warm it is, or is to be, in celsius."
	case t.Minutes != nil && c.Wish != controller.Extend:
		return c, "minutes goes with extend only."
	case t.Minutes == nil && c.Wish == controller.Extend:
		return c, "Say by how many minutes."
	case t.Step != nil && c.Wish != controller.Extend && c.Wish != controller.Retarget:
		return c, "step goes with extend and retarget only."
	case t.Step != nil && !(*t.Step >= 1 && *t.Step <= profile.MaxSteps):
		return c, "step is an entry of the profile, from 1 on."
	}
	if t.Step != nil {
		c.Step = uint8(*t.Step)
	}
	if t.Addition != nil {
		if c.Wish != controller.AdditionDone {
			return c, "addition goes with addition-done only."
		}
		if *t.Addition < 1 || *t.Addition > profile.MaxAdditions {
			return c, "addition is the number of one of the additions in the state: from 1, at most 32."
		}
		c.Which = uint8(*t.Addition)
	}
	if t.Litres != nil {
		if !(*t.Litres > 0 && *t.Litres <= mostLitres) {
			return c, "litres is more than 0, at most 500."
		}
		c.Volume = unit.Litres(*t.Litres)
	}
	if t.Celsius != nil {
		if !(*t.Celsius > 0 && *t.Celsius <= 100) {
			return c, "celsius is a temperature of water or grain: more than 0, at most 100."
		}
		c.At = unit.Celsius(*t.Celsius)
	}
	if t.Minutes != nil {
		if !(*t.Minutes >= -mostMinutes && *t.Minutes <= mostMinutes) || *t.Minutes == 0 {
			return c, "minutes is how much longer, or less than 0 for shorter: 360 at most, and not 0."
		}
		c.By = time.Duration(*t.Minutes * float64(time.Minute))
	}
	return c, t.note(&c)
}

// wishes are those that can be asked for here, by their word. Start, stop and
// going on after an outage have addresses of their own.
func wishes() map[string]controller.Wish {
	all := map[string]controller.Wish{}
	for w := controller.Start + 1; w.String() != "unknown"; w++ {
		if w != controller.Stop && w != controller.TakeUp && w != controller.TakeUpAlone {
			all[w.String()] = w
		}
	}
	return all
}

// Off is what STOP answers.
type Off struct {
	// Confirmed says that the loop has taken it. Heat and pump were taken away
	// before it was asked.
	Confirmed bool   `json:"confirmed"`
	Text      string `json:"text"`
}

// stop takes heat and pump away. It looks at nothing in the request but that
// no form of a foreign page can have sent it; a key is not heeded: a second
// press is a second STOP.
func (a *API) stop() http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		bare := r.ContentLength == 0 && r.Header.Get("Content-Type") == ""
		if !bare && !isJSON(r.Header.Get("Content-Type")) {
			problem(http.StatusUnsupportedMediaType, "not-json", "JSON only", "Send Content-Type: application/json, or nothing at all.").write(w)
			return
		}
		ctx, cancel := patience(r, heardWithin)
		defer cancel()
		_, err := a.o.Daemon.Stop(ctx)
		if errors.Is(err, daemon.ErrDisabled) {
			a.disabled().write(w)
			return
		}
		a.o.Log.Info("STOP", "confirmed", err == nil)
		stopped(err).write(w)
	}
}

func stopped(err error) answer {
	const live = " Not heating; still live: isolate before opening or reaching in."
	if err == nil {
		return found(Off{true, "Heat and pump are off." + live})
	}
	out := found(Off{false, "Heat and pump were taken away, but the loop has not confirmed it. Isolate the element." + live})
	out.status = http.StatusAccepted
	return out
}
