package unit

import "testing"

// TestEnergyIsReadAsItIsBilled: a kilowatt-hour is 3.6 MJ by its definition.
func TestEnergyIsReadAsItIsBilled(t *testing.T) {
	for text, want := range map[string]Joules{"9 kWh": 32.4e6, "750 Wh": 2.7e6, "32.4 MJ": 32.4e6, "1 kJ": 1000, "0.1kWh": 0.36e6} {
		if got, err := ParseJoules(text); err != nil || got != want {
			t.Errorf("%s: %v, %v; want %v", text, got, err, want)
		}
	}
	for _, bad := range []string{"9", "9 kW", "9 kwh", "-1 kWh", "9 J/K"} {
		if got, err := ParseJoules(bad); err == nil {
			t.Errorf("%s is read as %v", bad, got)
		}
	}
}
