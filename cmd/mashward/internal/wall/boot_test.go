package wall

import "testing"

func TestWhatIsKnownOfAStartComesBackFromItsNote(t *testing.T) {
	for _, b := range []Boot{{}, {ID: "7c1e"}, {Synced: true}, {ID: "5f3b6a1e-0c6a-4f3e", Synced: true}} {
		if got, ok := ParseBoot(b.String()); !ok || got != b {
			t.Errorf("%q: %+v, %v", b, got, ok)
		}
	}
	for _, note := range []string{"", "a line refused: x", Boot{}.String() + ".", "computer started as a and its clock maybe by a time server"} {
		if b, ok := ParseBoot(note); ok {
			t.Errorf("%q is read as %+v", note, b)
		}
	}
}

// A board without a clock battery comes up in 1970 or where it was when it was
// cut off, and jumps when a time server is reached.
func TestAClockIsTrustedOnlyWhereItCannotHaveJumped(t *testing.T) {
	for _, c := range []struct {
		then, now Boot
		want      bool
	}{
		{Boot{"a", true}, Boot{"a", true}, true},
		{Boot{"a", false}, Boot{"a", false}, true},
		{Boot{"a", false}, Boot{"a", true}, false}, // it jumped meanwhile
		{Boot{"a", true}, Boot{"a", false}, false},
		{Boot{"a", true}, Boot{"b", true}, true},
		{Boot{"a", true}, Boot{"b", false}, false}, // 1970
		{Boot{"a", false}, Boot{"b", true}, false},
		{Boot{"a", false}, Boot{"b", false}, false},
		{Boot{}, Boot{}, false},
		{Boot{"", true}, Boot{"", true}, true},
	} {
		if got := c.now.Trusts(c.then); got != c.want {
			t.Errorf("then %+v, now %+v: %v", c.then, c.now, got)
		}
	}
	if (Boot{}).Cause(Boot{ID: "a"}) != "" || (Boot{ID: "a"}).Cause(Boot{}) != "" {
		t.Error("a cause without a start that is known")
	}
	if same, other := (Boot{ID: "a"}).Cause(Boot{ID: "a"}), (Boot{ID: "a"}).Cause(Boot{ID: "b"}); same == "" || other == "" || same == other {
		t.Error(same, other)
	}
}
