package unit

import "testing"

func TestAStrengthIsReadInThreeScales(t *testing.T) {
	for _, c := range []struct {
		kind, text string
		want       float64
	}{
		{"gravity", "1.050", 1.05},
		{"gravity", "1.05 SG", 1.05},
		{"plato", "12.4 °P", 12.4},
		{"plato", "12.4P", 12.4},
		{"brix", "12.9 °Bx", 12.9},
		{"brix", "12.9 Bx", 12.9},
	} {
		if got, err := parsers[c.kind](c.text); err != nil || got != c.want {
			t.Errorf("%s %q = %v, %v; want %v", c.kind, c.text, got, err, c.want)
		}
		if IsPlato(c.text) != (c.kind == "plato") || IsBrix(c.text) != (c.kind == "brix") {
			t.Errorf("%q is taken for another scale", c.text)
		}
	}
	for v := SpecificGravity(0.99); v < 1.15; v += 0.001 {
		if back, err := ParseSpecificGravity(FormatSpecificGravity(v)); err != nil || back-v > 0.0005 || v-back > 0.0005 {
			t.Errorf("%v is printed %q and read %v, %v", v, FormatSpecificGravity(v), back, err)
		}
	}
}
