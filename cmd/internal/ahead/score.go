package ahead

import (
	"fmt"
	"strings"
	"time"

	"mashward/cmd/internal/say"
	"mashward/controller"
	"mashward/controller/record"
)

// Score keeps what was forecast, and judges it when the truth is there. The zero
// value is ready.
type Score struct {
	said  []record.Forecast
	calls []call // when persons were really needed
	over  bool   // the batch has come to its end
	end   time.Duration
}

// call is a moment that has come.
type call struct {
	step uint8
	of   string
	at   time.Duration
}

// mostSaid bounds what is kept: a day of forecasts, one a minute.
const mostSaid = 24 * 60

// Said takes what was forecast.
func (s *Score) Said(f record.Forecast) {
	if len(s.said) < mostSaid {
		s.said = append(s.said, f)
	}
}

func spanOf(s Span) record.Span {
	return record.Span{Early: s.Early.Round(time.Second), At: s.At.Round(time.Second), Late: s.Late.Round(time.Second)}
}

// asks are the moments that a question of the controller is the coming of.
var asks = map[controller.Prompt]string{
	controller.AskPour: "pour", controller.AskLift: "lift", controller.AskHereLidOff: "break", controller.AskScald: "chiller",
	controller.AskChiller: "chill", controller.AskChillerWater: "chill", controller.AskColdest: "tap",
}

// Event takes what happened at an instant since arming.
func (s *Score) Event(e controller.Event, at time.Duration, c *controller.Config) {
	of := ""
	switch e.Kind {
	case controller.PromptRaised:
		of = asks[controller.Prompt(e.Value)]
	case controller.AdditionDue:
		if int(e.Step) < len(c.Steps) {
			of = fmt.Sprintf("addition-%d", int(e.Value)-int(c.Steps[e.Step].From)+1)
		}
	case controller.ModeChanged:
		s.over, s.end = controller.Mode(e.Value) == controller.Complete, at
	}
	if of != "" && len(s.calls) < mostSaid {
		s.calls = append(s.calls, call{e.Step, of, at})
	}
}

// Block takes a block of the record of a batch with this configuration.
func (s *Score) Block(b *record.Block, c *controller.Config) {
	switch b.Kind {
	case record.KindForecast:
		s.Said(b.Forecast)
	case record.KindTick:
		for _, e := range b.Tick.Events {
			s.Event(e, b.Tick.Clock, c)
		}
	case record.KindHead, record.KindStart, record.KindCheckpoint, record.KindGap, record.KindNote, record.KindEnd:
	}
}

// Judged is one forecast beside the truth. Instants are seconds since arming.
type Judged struct {
	Made  float64 `json:"made_seconds"`
	What  string  `json:"what"` // finish, or the name of a moment
	Step  int     `json:"step"`
	Early float64 `json:"early_seconds"`
	At    float64 `json:"at_seconds"`
	Late  float64 `json:"late_seconds"`
	Truth float64 `json:"truth_seconds"`
	Held  bool    `json:"held"`
}

// Beside is how far the truth lies outside of the band, s.
func (j *Judged) Beside() float64 { return max(0, j.Early-j.Truth, j.Truth-j.Late) }

// Told is how the forecasts of a batch did.
type Told struct {
	Made    int      `json:"made"`    // forecasts
	Finish  *Share   `json:"finish"`  // null: the batch did not come to its end
	Moments *Share   `json:"moments"` // of the next moment with a person; null: none came
	Samples []Judged `json:"samples"`
	Text    string   `json:"text"` // the same in words
}

// Lines are the words, one each; none where nothing was forecast.
func (t *Told) Lines() []string {
	if t == nil {
		return nil
	}
	return strings.Split(t.Text, "\n")
}

// Share is how often the truth lay in the band that was said.
type Share struct {
	Judged int     `json:"judged"`
	Held   float64 `json:"held_ratio"`
	Worst  Judged  `json:"worst"`
}

// Tell judges; nil where nothing was forecast. clock writes an instant since arming:
// nil writes hours and minutes of it.
func (s *Score) Tell(clock func(time.Duration) string) *Told {
	if len(s.said) == 0 {
		return nil
	}
	if clock == nil {
		clock = say.Clock
	}
	finishes, moments := s.judge()
	t := &Told{Made: len(s.said), Finish: share(finishes), Moments: share(moments), Samples: append(pick(finishes, 4), pick(moments, 3)...)}
	t.Text = t.words(clock)
	return t
}

// Off is the mean distance of what was said of the finish from the truth; false where
// nothing was said.
func (s *Score) Off(finish time.Duration) (time.Duration, bool) {
	sum := time.Duration(0)
	for i := range s.said {
		sum += max(s.said[i].Finish.At-finish, finish-s.said[i].Finish.At)
	}
	if len(s.said) == 0 {
		return 0, false
	}
	return sum / time.Duration(len(s.said)), true
}

// presses is how late a press may be against what was said at once.
const presses = 3.0 // s

func (s *Score) judge() (finishes, moments []Judged) {
	for i := range s.said {
		f := &s.said[i]
		if s.over {
			finishes = append(finishes, judged(f.Made, f.Finish, s.end, "finish", 0))
		}
		if at, ok := s.came(f); ok {
			moments = append(moments, judged(f.Made, f.Next, at, f.Of, int(f.Step)))
		}
	}
	return finishes, moments
}

// came is when the next moment of a forecast came; a step that is repeated calls
// again.
func (s *Score) came(f *record.Forecast) (time.Duration, bool) {
	for _, c := range s.calls {
		if c.step == f.Step && c.of == f.Of && c.at >= f.Made {
			return c.at, true
		}
	}
	return 0, false
}

func judged(made time.Duration, s record.Span, truth time.Duration, what string, step int) Judged {
	j := Judged{
		Made: made.Seconds(), What: what, Step: step, Early: s.Early.Seconds(), At: s.At.Seconds(), Late: s.Late.Seconds(),
		Truth: truth.Round(time.Second).Seconds(),
	}
	j.Held = j.Beside() <= presses
	return j
}

func share(all []Judged) *Share {
	if len(all) == 0 {
		return nil
	}
	s := Share{Judged: len(all), Worst: all[0]}
	held := 0
	for _, j := range all {
		if j.Held {
			held++
		}
		if j.Beside() > s.Worst.Beside() {
			s.Worst = j
		}
	}
	s.Held = float64(held) / float64(len(all))
	return &s
}

// pick takes some of them, evenly over the day.
func pick(all []Judged, n int) []Judged {
	out := []Judged{}
	for i := range min(n, len(all)) {
		out = append(out, all[(2*i+1)*len(all)/(2*min(n, len(all)))])
	}
	return out
}

// words tells it in sentences.
func (t *Told) words(clock func(time.Duration) string) string {
	at := func(s float64) string { return clock(time.Duration(s * float64(time.Second))) }
	var b strings.Builder
	fmt.Fprintf(&b, "It was forecast %d times how the day goes on.", t.Made)
	if t.Finish == nil {
		b.WriteString(" The batch did not come to its end, so that nothing can be said of its finish.")
	}
	t.Finish.words(&b, "the finish", at)
	t.Moments.words(&b, "the next moment with a person", at)
	for _, j := range t.Samples {
		what := "the finish"
		if j.What != "finish" {
			what = fmt.Sprintf("%s of step %d", strings.ReplaceAll(j.What, "-", " "), j.Step)
		}
		fmt.Fprintf(&b, "\nAt %s it said %s to %s for %s; it was %s.", at(j.Made), at(j.Early), at(j.Late), what, at(j.Truth))
	}
	return b.String()
}

func (s *Share) words(b *strings.Builder, what string, at func(float64) string) {
	if s == nil {
		return
	}
	fmt.Fprintf(b, "\nOf %s, %.0f %% of %d lay in the band that was said", what, 100*s.Held, s.Judged)
	if beside := s.Worst.Beside(); beside > presses {
		fmt.Fprintf(b, "; the worst was %s beside it, said at %s", say.Length(time.Duration(beside*float64(time.Second))), at(s.Worst.Made))
	}
	b.WriteByte('.')
}
