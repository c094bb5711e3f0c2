package tune

import (
	"math"
	"testing"
	"time"

	"mashward/controller/pid"
)

func second(x float64) time.Duration { return time.Duration(x * 1e9) }

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.Abs(got-want) > within {
		t.Errorf("%s is %.5f; want %.5f within %.5f", what, got, want, within)
	}
}

// TestAMIGOGivesItsPublishedExamples: the examples of Åström and Hägglund, J.
// Process Control 14 (2004) 635 (figures from memory of the paper, and the same
// by its printed rule).
func TestAMIGOGivesItsPublishedExamples(t *testing.T) {
	for _, row := range []struct{ gain, lag, delay, k, ti, td float64 }{
		{1, 1.04, 0.075, 6.44, 0.361, 0.0367},
		{1, 2.90, 1.42, 1.12, 2.40, 0.619},
		{1, 0.0932, 1.01, 0.242, 0.474, 0.119},
	} {
		g := AMIGO(Process{row.gain, second(row.lag), second(row.delay)})
		near(t, "K", g.Proportional, row.k, 0.01*row.k)
		near(t, "Ti", g.Integral.Seconds(), row.ti, 0.01*row.ti)
		near(t, "Td", g.Derivative.Seconds(), row.td, 0.01*row.td)
	}
	g := AMIGO(Process{Gain: 2, Delay: second(3)})
	near(t, "K integrating", g.Proportional, 0.45/6, 1e-9)
	near(t, "Ti integrating", g.Integral.Seconds(), 24, 1e-6)
	near(t, "Td integrating", g.Derivative.Seconds(), 1.5, 1e-6)
}

// TestSensitivityOfPublishedLoops: Ms 1.59 for SIMC on a first-order process
// with delay and 1.70 on an integrating one with Ti = 8 delays (Skogestad, J.
// Process Control 13 (2003) 291; Grimholt and Skogestad 2012).
func TestSensitivityOfPublishedLoops(t *testing.T) {
	first := Process{1, second(1), second(1)}
	near(t, "Ms, first order", Sensitivity(first, pid.Gains{Proportional: 0.5, Integral: second(1)}), 1.590, 0.002)
	integrating := Process{Gain: 1, Delay: second(1)}
	near(t, "Ms, integrating", Sensitivity(integrating, pid.SIMC(1, second(1), second(1))), 1.704, 0.002)
}

// TestRelayLimitCycle: an integrator with delay swings with period 4 L and
// amplitude k L d, which gives 8/π² of the true ultimate gain; heating alone,
// with slopes r apart, stretches the period to L (2 + r + 1/r). Åström and
// Hägglund, Automatica 20 (1984) 645; the limit cycle is exact.
func TestRelayLimitCycle(t *testing.T) {
	period, amplitude := limitCycle(1, 1, 30)
	near(t, "period", period, 120, 0.2)
	near(t, "amplitude", amplitude, 30, 0.1)
	ku := Relay(1, amplitude)
	near(t, "Ku over the true one", ku/(math.Pi/(2*30)), 8/(math.Pi*math.Pi), 0.005)
	period, _ = limitCycle(19, 1, 30)
	near(t, "period, 19 times faster up than down", period, 30*(2+19+1.0/19), 1)
}

// limitCycle simulates an ideal relay on an integrator with delay: slopes up
// and down, delay in s.
func limitCycle(up, down, delay float64) (period, amplitude float64) {
	const dt = 0.01
	n := int(delay / dt)
	past := make([]float64, n)
	y, u := 0.0, up
	var crossings []float64
	high, low := 0.0, 0.0
	for i := range int(6000 / dt) {
		u = up
		if y > 0 {
			u = -down
		}
		rate := past[i%n]
		past[i%n] = u
		before := y
		y += rate * dt
		if float64(i)*dt > 3000 {
			high, low = max(high, y), min(low, y)
			if before <= 0 && y > 0 {
				crossings = append(crossings, float64(i)*dt)
			}
		}
	}
	last := len(crossings) - 1
	return (crossings[last] - crossings[0]) / float64(last), (high - low) / 2
}

// TestZieglerNichols: Ku 8, Tu 3.6276 gives 4.8, 1.8138, 0.4534 (the published
// rule, worked out).
func TestZieglerNichols(t *testing.T) {
	g := ZieglerNichols(8, second(3.6276))
	near(t, "K", g.Proportional, 4.8, 1e-9)
	near(t, "Ti", g.Integral.Seconds(), 1.8138, 1e-4)
	near(t, "Td", g.Derivative.Seconds(), 0.4534, 1e-4)
}
