package tune

import (
	"math"
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
	"mashward/profile/heat"
)

// The parameters of the fit. Positive figures go in by their logarithm.
const (
	logPower    = iota // P
	split              // logit of the heated share of the capacity
	logMix             // log of C2/G, the time of the exchange
	logLoss            // UA
	logElement         // te
	logProbe           // tp
	delay              // theta, s
	room               // Ta, °C
	start              // °C
	vapour             // loss by vapour over the declared loss, K/kPa
	figureCount        //
)

type figures [figureCount]float64

// widely is how far each figure may be believed to lie from its prior, as a
// standard deviation.
var widely = figures{logPower: 0.5, split: 1.2, logMix: 0.8, logLoss: 0.4, logElement: 0.4, logProbe: 0.5, delay: 5, room: 2, start: 0.5, vapour: 0.1}

// Bounds of a kettle.
var (
	lowest  = figures{logPower: math.Log(0.2), split: -4, logMix: math.Log(3), logLoss: math.Log(0.1), logElement: math.Log(1.5), logProbe: math.Log(0.5), delay: 0, room: -15, start: -5, vapour: 0}
	highest = figures{logPower: math.Log(4), split: 4, logMix: math.Log(900), logLoss: math.Log(10), logElement: math.Log(60), logProbe: math.Log(90), delay: 60, room: 15, start: 110, vapour: 1}
)

// problem is one record with its priors.
type problem struct {
	period time.Duration // of a sample
	duty   []float64
	y      []float64 // NaN where there is no reading
	count  int
	known  Known
	steam  []float64 // vapour pressure above that at the start, kPa; nil where it says nothing
	with   []float64 // what the vapour takes, W
	sigma  float64
	prior  figures
	spread figures
	inMash bool
	answer []float64
	trial  []float64
	slopes [figureCount][]float64
}

func newProblem(samples []Sample, known Known, sigma float64) *problem {
	p := &problem{
		known: known, sigma: sigma, period: time.Second, spread: widely, duty: make([]float64, len(samples)), y: make([]float64, len(samples)),
		answer: make([]float64, len(samples)), trial: make([]float64, len(samples)),
	}
	for k := range p.slopes {
		p.slopes[k] = make([]float64, len(samples))
	}
	first, n := 0.0, 0.0
	for i, s := range samples {
		p.y[i] = math.NaN()
		if s.On {
			p.duty[i] = 1
		}
		if s.Has {
			p.y[i] = float64(s.Reading)
			p.count++
			if n < restFor && !(known.AtRest && n >= 3) {
				first, n = first+p.y[i], n+1
			}
		}
	}
	// Power, loss and room are counted from what was declared.
	p.prior = figures{logMix: math.Log(40), logElement: math.Log(8), logProbe: math.Log(10), delay: 2, start: first / n}
	p.evaporation()
	return p
}

// A closed lid is not tight: what escapes under it grows as the vapour pressure
// does, not as the temperature, and a long heat-up bends by it. Left out, it
// would be taken for more loss and so for more power. Over a floor of 0.13 m²
// it is some 0.7 W/kPa against 6 W/K of wall (common practice, no source); a
// lid may as well be tight.
const (
	usualVapour             = 0.1 // K/kPa
	steamRise   unit.Kelvin = 15  // a water test does not come to where it shows
)

// evaporation prepares the vapour pressure over the readings, where there is
// enough of it.
func (p *problem) evaporation() {
	from := unit.Celsius(p.prior[start])
	low, last, warm := heat.SaturationPressure(from), from, 0
	p.steam, p.with = make([]float64, len(p.y)), make([]float64, len(p.y))
	for i, y := range p.y {
		if !math.IsNaN(y) {
			last = unit.Celsius(y)
			if last.Minus(from) >= steamRise {
				warm++
			}
		}
		p.steam[i] = max(0, float64(heat.SaturationPressure(last)-low)) / pascals
	}
	if warm < minute { // some wild readings are no heat-up
		p.steam, p.with = nil, nil
		return
	}
	p.prior[vapour] = usualVapour
}

const pascals = 1000 // in a kilopascal

// model is the kettle with these figures.
func (p *problem) model(x figures) observer.Model {
	share := 1 / (1 + math.Exp(-x[split]))
	load := float64(p.known.Load)
	c1, c2 := load*share, load*(1-share)
	return observer.Model{
		Power:   unit.Watts(float64(p.known.Power) * math.Exp(x[logPower])),
		Heated:  unit.JoulesPerKelvin(c1),
		Mash:    unit.JoulesPerKelvin(c2),
		Element: seconds(math.Exp(x[logElement])), Probe: seconds(math.Exp(x[logProbe])),
		Delay:    time.Duration(math.Round(x[delay])) * time.Second,
		Exchange: unit.WattsPerKelvin(c2 / math.Exp(x[logMix])),
		Loss:     unit.WattsPerKelvin(float64(p.known.Loss) * math.Exp(x[logLoss])),
		Room:     p.known.Room + unit.Celsius(x[room]),
		InMash:   p.inMash,
	}
}

// run fills out with the readings that a kettle with these figures gives.
func (p *problem) run(x figures, out []float64) {
	for i := range p.with {
		p.with[i] = -float64(p.known.Loss) * x[vapour] * p.steam[i]
	}
	m := p.model(x)
	m.Answer(unit.Celsius(x[start]), p.duty, p.with, p.period, out)
	whole, part := math.Modf(math.Max(0, x[delay]) / p.period.Seconds())
	w := int(whole)
	at := func(i int) float64 {
		if i < 0 {
			return x[start]
		}
		return out[i]
	}
	for i := len(out) - 1; i >= 0; i-- {
		out[i] = at(i-w)*(1-part) + at(i-w-1)*part
	}
}

// squares is the sum of squares of what the answer leaves, K².
func (p *problem) squares(out []float64) float64 {
	sum := 0.0
	for i, y := range p.y {
		if !math.IsNaN(y) {
			d := y - out[i]
			sum += d * d
		}
	}
	return sum
}

// minute is the length over which misfit is averaged for wave.
const minute = 60

// wave is the root mean square of the misfit's means over a minute each.
func (p *problem) wave(out []float64) float64 {
	sum, n := 0.0, 0
	for from := 0; from+minute <= len(p.y); from += minute {
		mean, count := 0.0, 0
		for i := from; i < from+minute; i++ {
			if !math.IsNaN(p.y[i]) {
				mean, count = mean+p.y[i]-out[i], count+1
			}
		}
		if count > minute/2 {
			mean /= float64(count)
			sum, n = sum+mean*mean, n+1
		}
	}
	if n == 0 {
		return math.Inf(1)
	}
	return math.Sqrt(sum / float64(n))
}

// cost is what is minimised: misfit in units of noise, and distance to the
// priors in units of their spread.
func (p *problem) cost(x figures, out []float64) float64 {
	cost := p.squares(out) / (p.sigma * p.sigma)
	for k := range x {
		d := (x[k] - p.prior[k]) / p.spread[k]
		cost += d * d
	}
	return cost
}

// solution is where a fit ended.
type solution struct {
	x       figures
	cost    float64
	squares float64 // K²
	inside  bool    // no figure stands at its bound
	normal  [figureCount][figureCount]float64
	scale   float64 // of the standard errors
}

// solve fits from several starts and keeps the best.
func (p *problem) solve() solution {
	best := solution{cost: math.Inf(1)}
	for _, share := range []float64{-0.8, 1.2} {
		for _, element := range []float64{math.Log(6), math.Log(14)} {
			x := p.prior
			x[split], x[logElement] = share, element
			x[logPower] = p.roughPower(x)
			if s := p.descend(x, mostSteps); s.cost < best.cost {
				best = s
			}
		}
	}
	p.doubt(&best)
	return best
}

// roughPower is the best of a row of powers. In a long heat-up a power far from
// the declared one is off by ten kelvin at the end, from where a descent loses
// its way into a loss or a room that cannot be.
func (p *problem) roughPower(x figures) float64 {
	best, least := x[logPower], math.Inf(1)
	if p.steam == nil {
		return best
	}
	for x[logPower] = -0.7; x[logPower] <= 0.7; x[logPower] += 0.05 {
		p.run(x, p.trial)
		if c := p.cost(x, p.trial); c < least {
			best, least = x[logPower], c
		}
	}
	return best
}

// mostSteps bounds one descent.
const mostSteps = 40

// descend is Levenberg and Marquardt from one start.
func (p *problem) descend(x figures, most int) solution {
	p.run(x, p.answer)
	cost := p.cost(x, p.answer)
	damping := 1e-2
	for range most {
		normal, gradient := p.linear(x)
		moved := false
		for range 8 {
			step, ok := solveNormal(normal, gradient, damping)
			if !ok {
				break
			}
			next := bounded(x, step)
			p.run(next, p.trial)
			if c := p.cost(next, p.trial); c < cost {
				gain := cost - c
				x, cost, moved = next, c, gain > 1e-6*cost
				p.answer, p.trial = p.trial, p.answer
				damping = math.Max(damping/5, 1e-9)
				break
			}
			damping *= 4
		}
		if !moved {
			break
		}
	}
	return solution{x: x, cost: cost, squares: p.squares(p.answer), inside: inside(x)}
}

// linear is the normal matrix and the gradient at x, by finite differences.
func (p *problem) linear(x figures) (normal [figureCount][figureCount]float64, gradient figures) {
	for k := range x {
		h := 1e-4
		switch k {
		case delay, start, room:
			h = 1e-2
		case vapour:
			h = 1e-3
		}
		moved := x
		moved[k] += h
		p.run(moved, p.slopes[k])
		for i := range p.slopes[k] {
			p.slopes[k][i] = (p.slopes[k][i] - p.answer[i]) / h
		}
	}
	weight := 1 / (p.sigma * p.sigma)
	for i, y := range p.y {
		if math.IsNaN(y) {
			continue
		}
		miss := y - p.answer[i]
		for a := range x {
			gradient[a] += weight * p.slopes[a][i] * miss
			for b := range a + 1 {
				normal[a][b] += weight * p.slopes[a][i] * p.slopes[b][i]
			}
		}
	}
	for a := range x {
		normal[a][a] += 1 / (p.spread[a] * p.spread[a])
		gradient[a] -= (x[a] - p.prior[a]) / (p.spread[a] * p.spread[a])
		for b := range a {
			normal[b][a] = normal[a][b]
		}
	}
	return normal, gradient
}

// doubt finds what the standard errors come from, where a fit ended.
func (p *problem) doubt(s *solution) {
	p.run(s.x, p.answer)
	s.normal, _ = p.linear(s.x)
	// What the model leaves beyond the noise makes every figure less certain.
	s.scale = math.Max(1, math.Sqrt(s.squares/float64(p.count))/p.sigma)
}

// sd is the standard error of what grows with the figures by these slopes.
func (s *solution) sd(slopes figures) float64 {
	column, ok := solveNormal(s.normal, slopes, 0)
	variance := 0.0
	for k := range slopes {
		variance += slopes[k] * column[k]
	}
	if !ok || variance < 0 {
		return math.Inf(1)
	}
	return s.scale * math.Sqrt(variance)
}

// lossAt is all that is lost at a temperature for each kelvin above the room,
// vapour included, with its relative standard error.
func (p *problem) lossAt(s *solution, hot unit.Celsius) (loss unit.WattsPerKelvin, sd float64) {
	dry, wet := math.Exp(s.x[logLoss]), 0.0
	if above := float64(hot-p.known.Room) - s.x[room]; p.steam != nil && above > 1 {
		wet = float64(heat.SaturationPressure(hot)-heat.SaturationPressure(unit.Celsius(s.x[start]))) / pascals / above
	}
	all := dry + wet*s.x[vapour]
	return unit.WattsPerKelvin(float64(p.known.Loss) * all), s.sd(figures{logLoss: dry / all, vapour: wet / all})
}

// solveNormal solves (N + damping·diag N) s = g by Cholesky.
func solveNormal(n [figureCount][figureCount]float64, g figures, damping float64) (figures, bool) {
	var l [figureCount][figureCount]float64
	for i := range n {
		n[i][i] *= 1 + damping
		for j := range i + 1 {
			sum := n[i][j]
			for k := range j {
				sum -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = sum / l[j][j]
				continue
			}
			if !(sum > 0) {
				return figures{}, false
			}
			l[i][i] = math.Sqrt(sum)
		}
	}
	var s figures
	for i := range s {
		s[i] = g[i]
		for k := range i {
			s[i] -= l[i][k] * s[k]
		}
		s[i] /= l[i][i]
	}
	for i := figureCount - 1; i >= 0; i-- {
		for k := i + 1; k < figureCount; k++ {
			s[i] -= l[k][i] * s[k]
		}
		s[i] /= l[i][i]
	}
	return s, true
}

// bounded moves x by a step of limited length and keeps it inside its bounds.
func bounded(x, step figures) figures {
	for k := range x {
		limit := 1.0
		if k == delay || k == room || k == start {
			limit = 10
		}
		x[k] += math.Max(-limit, math.Min(limit, step[k]))
		x[k] = math.Max(lowest[k], math.Min(highest[k], x[k]))
	}
	return x
}

// inside tells that no figure that matters stands at its bound.
func inside(x figures) bool {
	for _, k := range []int{logPower, logLoss, room} {
		if x[k] <= lowest[k] || x[k] >= highest[k] {
			return false
		}
	}
	return true
}
