package late

import (
	"testing"
	"time"

	"mashward/profile"
)

// words are of a day by hand, so that the minutes can be added up on paper.
func TestTheWordsAddUp(t *testing.T) {
	p := &Planned{Steps: []PlannedStep{{Index: 0, Kind: profile.Strike, Target: 66}, {Index: 1, Kind: profile.MashIn, Target: 44}, {Index: 2, Kind: profile.Rest, Target: 63}}}
	for _, c := range []struct {
		parts []Part
		want  string
	}{
		{nil, "on time"},
		{[]Part{{Person, Pour, 1, 8 * time.Minute}, {Power, HeatUp, 2, 4 * time.Minute}}, "12 min late: 8 min for a person at the pour, 4 min for the power (element, supply, or a loss nobody told of) in the heat-up to 63 °C"},
		{[]Part{{Person, Skip, 2, -9 * time.Minute}, {Person, Longer, 2, 5 * time.Minute}}, "4 min early: 5 min for a person who made longer or shorter the rest at 63 °C; gained: 9 min by a person who skipped to the rest at 63 °C"},
		{[]Part{{Water, HeatUp, 2, 3 * time.Minute}, {Water, HeatUp, 0, 2 * time.Minute}}, "5 min late: 5 min for the water, most of it in the heat-up to 63 °C"},
		{
			[]Part{{Person, Pour, 1, 43 * time.Minute}, {Person, Longer, 2, 10 * time.Minute}, {Person, Longer, 1, 4 * time.Minute}, {Lid, HeatUp, 2, 2 * time.Minute}, {Pump, HeatUp, 2, -time.Minute}},
			"58 min late: 43 min for a person at the pour, 14 min for a person who made longer or shorter the rest at 63 °C and others, 1 min for what is less than 3 min each",
		},
		{[]Part{{Settling, Rest, 2, 25 * time.Second}, {Lid, HeatUp, 2, 25 * time.Second}}, "1 min late: 1 min for what is less than a minute each"},
	} {
		a := Account{Parts: c.parts}
		for _, part := range c.parts {
			a.Late += part.Took
		}
		if got := a.Words(p); got != c.want {
			t.Errorf("%q, not %q", got, c.want)
		}
	}
}

// Whole seconds add up too, whatever rounding leaves.
func TestTheFiguresAddUp(t *testing.T) {
	p := &Planned{}
	a := Account{Late: 3*time.Second + 600*time.Millisecond, Parts: []Part{
		{Person, Pour, 1, 1400 * time.Millisecond}, {Water, HeatUp, 2, 1400 * time.Millisecond}, {Lid, HeatUp, 2, 800 * time.Millisecond},
	}}
	told := a.Tell(p)
	by, parts := int64(0), int64(0)
	for _, n := range told.By {
		by += n
	}
	for _, part := range told.Parts {
		parts += part.Seconds
	}
	if told.Seconds != 4 || by != 4 || parts != 4 || len(told.By) != Causes {
		t.Errorf("%+v", told)
	}
}
