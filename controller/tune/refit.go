package tune

import (
	"math"
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
)

// Span is five seconds of a batch: the share of them in which the element was
// on, and the mean of the readings, if there was one.
type Span struct {
	Duty    float64
	Reading unit.Celsius
	Has     bool
}

// Period is the length of a span. A mash is slow: a refit of spans costs a
// fifth of one of seconds and finds the same.
const Period = 5 * time.Second

// Refitted is what a refit found, with what speaks for it.
type Refitted struct {
	Model    observer.Model
	Residual unit.Kelvin // root mean square of what the new model leaves of the spans
	Before   unit.Kelvin // the same of the model there was
	Inside   bool        // no figure that matters stands at its bound
	Doubt    float64     // relative standard error of power over capacity
}

// confidently is how far the figures of a mash may lie from those that the model
// had: water told all but how fast the bed exchanges heat with what is around
// it, and volume or power may be others than declared.
var confidently = figures{logPower: 0.3, split: 1.2, logMix: 1, logLoss: 0.3, logElement: 0.2, logProbe: 0.3, delay: 4, room: 2, start: 0.5, vapour: 0.1}

// Refit fits the kettle's model anew to a heat-up of the mash with the coast
// and the hold behind it; without those it tells nothing. It begins where the
// mash has stood for a while. Capacity is taken as known: what is found is
// power over capacity.
func Refit(spans []Span, model observer.Model) Refitted {
	p := newSpans(spans, model)
	var r Refitted
	if p == nil {
		return r
	}
	r.Before = unit.Kelvin(p.left(p.prior))
	best := solution{cost: math.Inf(1)}
	inMash := false
	for _, structure := range []bool{false, true} {
		p.inMash = structure
		for _, share := range []float64{p.prior[split], p.prior[split] - 2} {
			x := p.prior
			x[split] = math.Max(-2.5, share)
			if s := p.descend(x, quickSteps); s.cost < best.cost {
				best, inMash = s, structure
			}
		}
	}
	p.inMash = inMash
	p.doubt(&best)
	best.x[delay] = math.Max(0, best.x[delay]-meanLag)
	r.Model = p.model(best.x)
	r.Residual = unit.Kelvin(math.Sqrt(best.squares / float64(p.count)))
	r.Inside, r.Doubt = best.inside, best.sd(figures{logPower: 1})
	return r
}

// quickSteps bounds one descent of a refit: it begins near.
const quickSteps = 15

// newSpans is a batch with the model there was for its prior; nil where there is
// nothing to fit.
func newSpans(spans []Span, model observer.Model) *problem {
	known := Known{Power: model.Power, Load: model.Capacity(), Loss: model.Loss, Room: model.Room}
	samples := make([]Sample, len(spans))
	for i, s := range spans {
		samples[i] = Sample{Reading: s.Reading, Has: s.Has}
	}
	const sigma = 0.03 // K: noise of a probe, averaged, and what a lumped model of a bed leaves
	p := newProblem(samples, known, sigma)
	if p.count < 60 || !model.Good() {
		return nil
	}
	for i, s := range spans {
		p.duty[i] = s.Duty
	}
	mixing := float64(model.Mash / unit.JoulesPerKelvin(model.Exchange))
	share := float64(model.Heated / model.Capacity())
	p.period, p.spread, p.inMash = Period, confidently, model.InMash
	p.steam, p.with = nil, nil // the loop's model has no vapour: its loss is that of the heat-up
	p.prior = figures{
		split: math.Log(share / (1 - share)), logMix: math.Log(math.Max(mixing, 30)), logElement: math.Log(model.Element.Seconds()),
		logProbe: math.Log(model.Probe.Seconds()), delay: model.Delay.Seconds() + meanLag, start: p.prior[start],
	}
	for k := range p.prior {
		p.prior[k] = math.Max(lowest[k], math.Min(highest[k], p.prior[k]))
	}
	return p
}

// meanLag is how late the mean of a span is, s.
const meanLag = 2.0

// left is the root mean square of what a model with these figures leaves.
func (p *problem) left(x figures) float64 {
	p.run(x, p.answer)
	return math.Sqrt(p.squares(p.answer) / float64(p.count))
}
