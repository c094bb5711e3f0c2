package tune

import (
	"math"
	"time"

	"mashward/controller/pid"
)

// Process is what a PID loop is tuned for: a gain, a lag and a delay. Lag 0 is
// an integrating process, and Gain then its slope.
type Process struct {
	Gain  float64
	Lag   time.Duration // T; 0 = integrating
	Delay time.Duration // L
}

// AMIGO are the gains of Åström and Hägglund, J. Process Control 14 (2004) 635,
// for PID in ideal form. The delay must not be 0.
func AMIGO(p Process) pid.Gains {
	l, t := p.Delay.Seconds(), p.Lag.Seconds()
	if t == 0 {
		return pid.Gains{Proportional: 0.45 / (p.Gain * l), Integral: span(8 * l), Derivative: span(0.5 * l)}
	}
	return pid.Gains{
		Proportional: (0.2 + 0.45*t/l) / p.Gain,
		Integral:     span(l * (0.4*l + 0.8*t) / (l + 0.1*t)),
		Derivative:   span(0.5 * l * t / (0.3*l + t)),
	}
}

// ZieglerNichols are the gains from ultimate gain and period (1942).
func ZieglerNichols(ku float64, tu time.Duration) pid.Gains {
	return pid.Gains{Proportional: 0.6 * ku, Integral: tu / 2, Derivative: tu / 8, Weight: 1}
}

// Relay is the ultimate gain that relay feedback shows: relay swing d,
// oscillation amplitude a (Åström and Hägglund, Automatica 20 (1984) 645). Its
// period is the ultimate period.
func Relay(d, a float64) (ku float64) { return 4 * d / (math.Pi * a) }

// Sensitivity is Ms of a loop: the largest magnitude of 1/(1+PC). The smaller,
// the more forgiving; 1.4 to 2 are common.
func Sensitivity(p Process, g pid.Gains) float64 {
	worst := 0.0
	l := max(p.Delay.Seconds(), 1e-3)
	// From far below to far above the frequency of the delay, 400 a decade.
	for e := -4.0; e <= 1.5; e += 1.0 / 400 {
		w := math.Pow(10, e) / l
		open := product(controllerAt(g, w), processAt(p, w))
		worst = max(worst, 1/math.Hypot(1+open[0], open[1]))
	}
	return worst
}

type pair [2]float64 // a complex number

func product(a, b pair) pair { return pair{a[0]*b[0] - a[1]*b[1], a[0]*b[1] + a[1]*b[0]} }

func controllerAt(g pid.Gains, w float64) pair {
	im := w * g.Derivative.Seconds()
	if g.Integral > 0 {
		im -= 1 / (w * g.Integral.Seconds())
	}
	return pair{g.Proportional, g.Proportional * im}
}

func processAt(p Process, w float64) pair {
	s, c := math.Sincos(-w * p.Delay.Seconds())
	turn := pair{p.Gain * c, p.Gain * s}
	if p.Lag == 0 { // 1/(jw) = -j/w
		return product(turn, pair{0, -1 / w})
	}
	t := w * p.Lag.Seconds() // 1/(1+jt) = (1-jt)/(1+t²)
	n := 1 + t*t
	return product(turn, pair{1 / n, -t / n})
}

func span(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
