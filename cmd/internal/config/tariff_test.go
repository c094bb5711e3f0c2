package config

import "testing"

func TestAPriceOfEnergyIsReadAsItIsWritten(t *testing.T) {
	for text, want := range map[string]Tariff{
		"0.32 EUR/kWh": {0.32, "EUR"}, "0.32EUR/kWh": {0.32, "EUR"}, " 71 HUF / kWh ": {71, "HUF"}, "0 EUR/kWh": {0, "EUR"},
	} {
		got, err := ParseTariff(text)
		if err != nil || got != want {
			t.Errorf("%q: %v, %v", text, got, err)
		}
		if back, err := ParseTariff(got.String()); err != nil || back != got {
			t.Errorf("%q comes back as %v, %v", got, back, err)
		}
	}
	for _, text := range []string{"", "0.32", "0.32 EUR", "0.32 €/kWh", "0,32 EUR/kWh", "-0.32 EUR/kWh", "0.32 eur/kWh", "0.32 EUR/kW", "1e3 EUR/kWh", "NaN EUR/kWh", "100000 EUR/kWh", "0.32 EURO/kWh"} {
		if got, err := ParseTariff(text); err == nil || got != (Tariff{}) {
			t.Errorf("%q is taken for %v", text, got)
		}
	}
	if none := (Tariff{}).String(); none != "" {
		t.Errorf("no tariff is written %q", none)
	}
}
