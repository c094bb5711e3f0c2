package ahead

import (
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// What the controller takes beside the heat-ups themselves, s, as mean and
// standard deviation over random kettles: the lag of the reading, the coast, a
// second, small heat-up where the first fell short.
const (
	strikeTold, strikeToldOff = 85, 25 // with a water test
	strikeEven, strikeEvenOff = 100, 75
	restEven, restEvenOff     = 2, 6
	bedLag, bedLagOff         = 70, 20 // of a probe in the bed, until a model sees through it
	untunedLag, untunedLagOff = 12, 14 // where nobody knows the lags
	climbLag, climbLagOff     = 25, 20
	breakSure, breakSureOff   = 100, 60
	landing, landingOff       = 22, 30
	chillLag, chillLagOff     = 20, 20
	press                     = 2    // a prompt that is answered at once
	meanOff                   = 0.08 // K: the mean of the kettle while it is heated
)

// walk goes through what is left of the day with closed forms: from heat-up to
// rest to heat-up. It is a plan from the present state on, with what the batch
// has taught.
type walk struct {
	day    *Day
	s      *controller.State
	c      *controller.Config
	now    time.Duration
	at     instant
	temp   unit.Celsius         // of all that stands in the kettle
	load   unit.JoulesPerKelvin // and what it holds
	in     bool                 // the grain is
	open   bool                 // the lid is off
	fitted bool                 // a heat-up of this mash lies behind
	wort   unit.Litres          // cold, after the lift
	gain   float64              // real over declared power over load
	off    float64              // how well that is known
	sum    energy
	out    Forecast
	legs   []leg
	temp0  unit.Celsius // where it began
	lowest unit.Litres  // cold, at the end of a boil; 0: there is none
	lost   bool         // a target is out of reach: nothing can be said of what comes behind it
}

// leg is a piece of the kettle's course: a straight line.
type leg struct {
	step   uint8
	long   float64 // s
	to     unit.Celsius
	target unit.Celsius
	kind   profile.Kind
	rest   bool // the step's clock runs
}

// newWalk stands where the batch is.
func newWalk(d *Day, s *controller.State) *walk {
	w := &walk{
		day: d, s: s, c: &d.Config, now: s.Clock, at: instant{at: s.Clock.Seconds()}, load: s.Load, temp: s.Law.Mean,
		in: s.GrainIn && !s.Lifted, open: s.Deeds.LidOff, wort: s.Volume,
	}
	w.out.Made = s.Clock
	w.learned()
	if s.Law.Way != controller.Full && s.Law.Way != controller.Coast && !s.Law.Landed && s.Filter.Known {
		w.temp = s.Filter.Filtered
		if s.Sight.Trusted {
			w.temp = s.Sight.Mean
		}
	}
	w.temp0 = w.temp
	return w
}

// learned takes over what the batch has taught of its kettle.
func (w *walk) learned() {
	l := &w.s.Law
	w.gain, w.off = 1, powerDeclared
	if w.c.Model.Good() {
		w.off = powerTested
	}
	if l.Gain != 0 {
		w.gain, w.off = l.Gain, rateSeen
	}
	if !w.s.GrainIn && !w.s.Lifted {
		return
	}
	w.off = math.Hypot(rateInMash, gainOpen*(w.gain-1))
	if w.s.Index > 1 && w.s.Law.Poured.Gain == 0 {
		w.off = rateInMash
	}
	if o := &w.s.Sight; o.Fitted {
		m := &o.Filter.Model
		w.gain = float64(m.Power/w.c.Power) * float64(w.s.Load/m.Capacity())
		w.off = rateFitted
	}
	if w.s.Lifted {
		w.off = math.Hypot(w.off, rateInWort)
	}
}

// wait lets seconds pass at the temperature there is.
func (w *walk) wait(length, own float64) { w.at = w.at.after(length, own) }

// hold keeps the kettle at its temperature.
func (w *walk) hold(length float64) {
	w.at.at += length
	power := float64(w.c.Loss)*float64(w.temp-w.c.Room) + w.openLoss(w.temp)
	w.sum.add(max(0, power+w.s.Law.Spare*float64(w.c.Power))*length, 0.35)
}

func (w *walk) openLoss(at unit.Celsius) float64 {
	if !w.open {
		return 0
	}
	return float64(heat.OpenTop(w.c.Surface, w.c.Room, at))
}

// heatTo brings the kettle to a temperature at a share of full power, no faster
// than a ceiling (0: none).
func (w *walk) heatTo(to unit.Celsius, duty float64, ceiling unit.KelvinPerSecond) {
	if to <= w.temp || w.lost {
		return
	}
	loss := w.c.Loss * unit.WattsPerKelvin((1+w.gain)/2)
	spare := w.s.Law.Spare
	power := unit.Watts(w.gain*(duty-spare)*float64(w.c.Power) - w.openLoss((w.temp+to)/2))
	long, err := heat.HeatUp(w.load, loss, power, w.c.Room, w.temp, to)
	if err != nil {
		w.lost = true
		return
	}
	took := long.Seconds()
	if ceiling > 0 {
		took = max(took, float64(to-w.temp)/float64(ceiling))
	}
	rate := float64(to-w.temp) / took
	w.at = w.at.after(took, meanOff/rate)
	w.at.rate += took * w.off
	w.sum.add(w.gain*duty*float64(w.c.Power)*long.Seconds(), w.off+w.energyOff())
	w.temp = to
}

// energyOff is how well the energy of a heat-up is known beside its length: power and
// load are not told apart by a rise.
func (w *walk) energyOff() float64 {
	if w.c.Model.Good() {
		return 0.045
	}
	return 0.08
}

// cool lets it fall to a temperature by itself.
func (w *walk) cool(to unit.Celsius) {
	if to >= w.temp || w.lost {
		return
	}
	loss := w.c.Loss
	if w.open {
		middle := (w.temp + to) / 2
		loss += unit.WattsPerKelvin(w.openLoss(middle) / float64(middle-w.c.Room))
	}
	long, err := heat.Cooling(w.load, loss, w.c.Room, w.temp, to)
	if err != nil {
		w.lost = true
		return
	}
	w.at = w.at.after(long.Seconds(), 0.2*long.Seconds())
	w.temp = to
}

// leg notes where the kettle was since from.
func (w *walk) leg(index uint8, from instant, rest bool) {
	step := &w.s.Steps[index]
	if long := w.at.at - from.at; long > 0 {
		w.legs = append(w.legs, leg{step: index, long: long, to: w.temp, target: step.Target, kind: step.Kind, rest: rest})
	}
}

// begin opens a step at the present instant.
func (w *walk) begin(index uint8) *Step {
	step := Step{Index: index, Start: w.at.span(w.now)}
	if index == w.s.Index {
		step.Start = exactly(w.now - w.s.InStep)
	}
	w.out.Steps = append(w.out.Steps, step)
	return &w.out.Steps[len(w.out.Steps)-1]
}

// reached notes that the step is at its target.
func (w *walk) reached() {
	if n := len(w.out.Steps); n > 0 {
		w.out.Steps[n-1].Reached = w.at.span(w.now)
	}
}

// end closes the step.
func (w *walk) end() {
	if n := len(w.out.Steps); n > 0 {
		w.out.Steps[n-1].End = w.at.span(w.now)
	}
}

// need notes that somebody is needed at an instant, for what the plan says of it.
func (w *walk) need(step uint8, of string, at instant) {
	if what, ok := w.day.says(int(step), of); ok && at.at >= w.now.Seconds() {
		w.call(step, of, what, at)
	}
}

// stays notes that whoever comes for a moment, or has, stays until here.
func (w *walk) stays(step uint8, of string, came bool) {
	late := w.at.span(w.now).Late
	if came {
		w.out.Stay = late
	}
	for i := range w.out.Moments {
		if m := &w.out.Moments[i]; m.Step == step && m.Of == of {
			m.Until = late
		}
	}
}

// call notes it in words of its own.
func (w *walk) call(step uint8, of, what string, at instant) {
	w.out.Moments = append(w.out.Moments, Moment{
		Span: at.span(w.now), Step: step, Of: of, What: what, Addition: isAddition(of),
	})
}
