package observer

import "math"

// mostDoublings bounds the doubling: each doubles the time looked ahead, and
// 30 of them are 34 years of seconds.
const mostDoublings = 30

// kalman is the stationary gain of the filter, from its Riccati equation
//
//	S = A S A' − A S H' (H S H' + R)^-1 H S A' + Q
//
// by structure-preserving doubling (Chu, Fan, Lin, Wang, Int. J. Control 77
// (2004) 767; from memory): with G = H' R^-1 H,
//
//	W = (I + G S)^-1, A' <- A W A, ...
//
// The constant state is left out: it is known. variance is that of the
// innovation, K².
func kalman(step *Matrix, m Model, d Drift) (gain Vector, variance float64, ok bool) {
	// Dual form: the transpose of the step, without the constant.
	a := step.transposed()
	for i := range a {
		a[one][i], a[i][one] = 0, 0
	}
	noise := 0.07
	if m.Noise > 0 {
		noise = math.Max(float64(m.Noise), 0.02)
	}
	r := noise * noise
	var g, h Matrix
	g[probe][probe] = 1 / r
	h[power][power] = 1e-6 * float64(m.Power) * float64(m.Power)
	h[heated][heated], h[mash][mash] = d.Temperature, d.Temperature
	h[probe][probe] = d.Probe
	h[extra][extra] = d.Extra * float64(m.Power) * float64(m.Power)
	s, ok := double(a, g, h)
	if !ok {
		return Vector{}, 0, false
	}
	variance = s[probe][probe] + r
	for i := range gain {
		gain[i] = s[i][probe] / variance
	}
	gain[one] = 0
	return gain, variance, !math.IsNaN(variance)
}

// double solves the Riccati equation: s is its stabilising solution, the
// variance of the state before a reading is taken.
func double(a, g, h Matrix) (s Matrix, ok bool) {
	for range mostDoublings {
		gh := g.times(&h)
		id := identity()
		w := id.plus(&gh)
		inverse, good := w.inverse()
		if !good {
			return Matrix{}, false
		}
		at := a.transposed()
		aw := a.times(&inverse)
		// a <- a w a;  g <- g + a w g a';  h <- h + a' h w a
		nextA := aw.times(&a)
		awg := aw.times(&g)
		awga := awg.times(&at)
		nextG := g.plus(&awga)
		ath := at.times(&h)
		athw := ath.times(&inverse)
		more := athw.times(&a)
		nextH := h.plus(&more)
		change := more.norm() / (nextH.norm() + 1e-300)
		a, g, h = nextA, nextG, nextH
		if math.IsNaN(change) {
			return Matrix{}, false
		}
		if change < 1e-13 {
			return h, true
		}
	}
	return h, true
}
