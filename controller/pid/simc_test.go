package pid

import (
	"testing"
	"time"
)

// seconds makes a duration of a row's figure.
func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// The rows are those of S. Skogestad, "Simple analytic rules for model
// reduction and PID controller tuning", J. Process Control 13 (2003) 291-309,
// Table of PI settings with tc = theta, names as there (E1, E2, E4, E5, E7, E9
// to E11). Row names and models after the half rule are from memory; the
// figures follow from the rule as published.
func TestSIMCGivesThePublishedSettingsOfProcessesThatSettle(t *testing.T) {
	for _, row := range []struct {
		name                      string
		gain, settles, lag        float64
		proportional, integralFor float64
	}{
		{"E1", 1, 1.1, 0.1, 5.50, 0.8},
		{"E2", 1, 2.5, 1.47, 0.8503, 2.5},
		{"E4", 1, 1.5, 2.5, 0.30, 1.5},
		{"E5", 1, 1.1, 0.148, 3.716, 1.1},
		{"E7", 1, 1.5, 3.5, 0.2143, 1.5},
		{"E9", 1, 1.5, 1.5, 0.50, 1.5},
		{"E10", 1, 21, 2, 5.25, 16},
		{"E11", 1, 7, 5, 0.70, 7},
		{"first order, constant = delay", 1, 1, 1, 0.50, 1},
	} {
		g := SIMCSettling(row.gain, seconds(row.settles), seconds(row.lag), seconds(row.lag))
		near(t, row.name+": Kc", g.Proportional, row.proportional, 0.0005*row.proportional)
		near(t, row.name+": Ti in s", g.Integral.Seconds(), row.integralFor, 1e-6)
	}
}

func TestSIMCGivesThePublishedSettingsOfProcessesThatIntegrate(t *testing.T) {
	for _, row := range []struct {
		name                      string
		rate, lag                 float64
		proportional, integralFor float64
	}{
		{"E8, 1/(s(s+1)²)", 1, 1.5, 0.3333, 12},
		{"delay and integrator", 1, 1, 0.50, 8},
		// 3000 W into 25 kg of water at 4186 J/(kg K).
		{"kettle, lag 20 s", 3000 / (25 * 4186.0), 20, 0.872, 160},
		{"kettle, lag 60 s", 3000 / (25 * 4186.0), 60, 0.2907, 480},
	} {
		g := SIMC(row.rate, seconds(row.lag), seconds(row.lag))
		near(t, row.name+": Kc", g.Proportional, row.proportional, 0.0005*row.proportional)
		near(t, row.name+": Ti in s", g.Integral.Seconds(), row.integralFor, 1e-6)
	}
}

func TestAProcessThatCannotBeGivesNoGain(t *testing.T) {
	none := seconds(0)
	for _, g := range []Gains{
		SIMC(0, seconds(20), seconds(20)), SIMC(-1, seconds(20), seconds(20)), SIMC(1, none, none),
		SIMC(1, seconds(-30), seconds(20)), SIMCSettling(0, seconds(1), seconds(1), seconds(1)),
		SIMCSettling(1, 0, seconds(1), seconds(1)),
	} {
		if g.Proportional != 0 {
			t.Errorf("gain %v, want none", g.Proportional)
		}
	}
}

func TestAKettleOnSIMCGainsComesToItsTargetWithoutRinging(t *testing.T) {
	g := SIMC(0.028667, 20*time.Second, 20*time.Second)
	k := newKettle(60, 20)
	k.loss = 0.1
	highest, last, _ := run(k, State{}, g, 63, 3600, 1)
	if highest > 63+1 {
		t.Errorf("a step of 3 K overshoots to %.2f °C, want at most a third of the step", highest)
	}
	near(t, "temperature after an hour", last, 63, 0.01)
}
