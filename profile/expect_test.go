package profile

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"mashward/controller/unit"
)

// expecting is a day with what is expected of it, one a line from line 10 on.
func expecting(entries ...string) []byte {
	return append(day(mashIn, "{rest: 63 °C, for: 35 min}", "lift", "boil: 1 h"), []byte("expect:\n  - "+strings.Join(entries, "\n  - ")+"\n")...)
}

// TestWhatIsExpectedIsRead has each promise once, in the words of its reader too.
func TestWhatIsExpectedIsRead(t *testing.T) {
	p, faults := Parse("f", expecting(
		"{step: 2, never_above: 64 °C}", "{step: 2, reached_within: 40 min}", "{step: 4, counted_at_least: 1 h}",
		"{strike_at_most: 122 °F}", "{done_within: 5h30}", "{energy_at_most: 9 kWh}"))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	want := []Expectation{
		{Promise: NeverAbove, Step: 2, Temperature: 64, Line: 10},
		{Promise: ReachedWithin, Step: 2, Time: 40 * time.Minute, Line: 11},
		{Promise: CountedAtLeast, Step: 4, Time: time.Hour, Line: 12},
		{Promise: StrikeAtMost, Temperature: unit.Celsius(90) * (5.0 / 9), Line: 13},
		{Promise: DoneWithin, Time: 5*time.Hour + 30*time.Minute, Line: 14},
		{Promise: EnergyAtMost, Energy: 9 * 3600 * 1000, Line: 15},
	}
	if !reflect.DeepEqual(p.Expect, want) {
		t.Errorf("got\n%+v\nwant\n%+v", p.Expect, want)
	}
	words := []string{
		"never above 64 °C in step 2 (rest at 63 °C)", "step 2 (rest at 63 °C) reached within 40 min of mash-in",
		"at least 1 h counted in step 4 (boil)", "strike water at most 50 °C", "done within 5 h 30 min", "at most 9 kWh",
	}
	for i, e := range p.Expect {
		if got := e.Words(p); got != words[i] {
			t.Errorf("got %q, want %q", got, words[i])
		}
	}
}

// TestWhatNobodyCanKeepIsRefused has one line for each way in which an
// expectation does not fit its own profile.
func TestWhatNobodyCanKeepIsRefused(t *testing.T) {
	for want, text := range map[string][]byte{
		"f:10: never_above: 62.5 °C is below what step 2 (rest at 63 °C) wants; write at least 63 °C":                                                             expecting("{step: 2, never_above: 62.5 °C}"),
		"f:10: never_above: step 4 (boil) is no rest of a mash; name the step of a mash-in, rest or mash-out":                                                     expecting("{step: 4, never_above: 99 °C}"),
		"f:10: never_above: there is no step 5; write a step from 1 to 4, as they stand in steps":                                                                 expecting("{step: 5, never_above: 99 °C}"),
		"f:10: step: 0 is outside 1 to 32; write a value within":                                                                                                  expecting("{step: 0, never_above: 99 °C}"),
		"f:10: step is missing; write step: 2":                                                                                                                    expecting("{never_above: 99 °C}"),
		"f:10: reached_within: the steps before step 2 (rest at 63 °C) alone take 15 min; write more than that, or shorten them":                                  expecting("{step: 2, reached_within: 14 min}"),
		"f:10: reached_within: step 3 (lift) has no temperature to be reached; name another step":                                                                 expecting("{step: 3, reached_within: 2 h}"),
		"f:10: reached_within: step 4 (chill to 18 °C) ends where it is reached; write done_within, or name another step":                                         day(mashIn, "lift", "boil: 1 h", "chill: 18 °C\nexpect:\n  - {step: 4, reached_within: 4 h}"),
		"f:10: counted_at_least: step 3 (lift) has no time to be counted; name another step":                                                                      expecting("{step: 3, counted_at_least: 2 h}"),
		"f:10: counted_at_least: step 2 (rest at 63 °C) is over after 35 min; write at most that, or lengthen it":                                                 expecting("{step: 2, counted_at_least: 36 min}"),
		"f:10: done_within: the steps alone take 1 h 50 min; write more than 1 h 50 min, or shorten them":                                                         expecting("{done_within: 109 min}"),
		"f:10: step: done_within is about the whole day; take step out":                                                                                           expecting("{step: 2, done_within: 5 h}"),
		"f:10: energy_at_most: 9 what? write 9 kWh":                                                                                                               expecting("{energy_at_most: 9}"),
		"f:10: energy_at_most: kW measures a power, and this is an energy; write kWh, Wh, MJ or kJ, as in 9 kWh":                                                  expecting("{energy_at_most: 9 kW}"),
		"f:10: never_above and reached_within stand in one entry; give each a line of its own, after a dash":                                                      nil,
		"f:11: done_within stands in line 10 already; keep one of them":                                                                                           expecting("{done_within: 5 h}", "{done_within: 6 h}"),
		"f:10: unknown key \"nevr_above\"; write never_above":                                                                                                     expecting("{step: 2, nevr_above: 64 °C}"),
		"f:10: \"quick\" where an entry of expect belongs; write - {step: ...}":                                                                                   expecting("quick"),
		"f:10: this entry does not say what is expected; write one of never_above, reached_within, counted_at_least, strike_at_most, done_within, energy_at_most": expecting("{step: 2}"),
		"f:6: strike_at_most: the profile has no mash-in, and so no strike water; take it out":                                                                    []byte("profile: T\nwater: 9 L\nsteps:\n  - {rest: 63 °C, for: 1 h}\nexpect:\n  - {strike_at_most: 70 °C}\n"),
	} {
		if text == nil {
			text, want = expecting("{step: 2, never_above: 64 °C, reached_within: 1 h}"), strings.Replace(want, "f:10: ", "f:10: reached_within: ", 1)
		}
		p, faults := Parse("f", text)
		if len(faults) != 1 || faults[0].String() != want {
			t.Errorf("got %v\nwant %s", faults, want)
		}
		if !reflect.DeepEqual(p, Profile{}) {
			t.Errorf("%s: a refused profile still asks for %+v", want, p)
		}
	}
}

// TestEveryFaultOfWhatIsExpectedIsSaidAtOnce has three mistakes in one list.
func TestEveryFaultOfWhatIsExpectedIsSaidAtOnce(t *testing.T) {
	_, faults := Parse("f", expecting("{step: 2, never_above: 60 °C}", "{step: 9, reached_within: 1 h}", "{done_within: 5}", "{energy_at_most: 9 kWh}"))
	if len(faults) != 3 || faults[0].Line != 10 || faults[1].Line != 11 || faults[2].Line != 12 {
		t.Error(faults)
	}
}

// TestAProfileExpectsAtMost32Things counts one above and one at the bound.
func TestAProfileExpectsAtMost32Things(t *testing.T) {
	many := func(n int) []byte {
		var all []string
		for i := range n {
			all = append(all, "{step: "+string(rune('1'+i%9))+", never_above: 64 °C}")
		}
		return expecting(all...)
	}
	last := func(n int) string {
		_, faults := Parse("f", many(n))
		for _, f := range faults {
			if strings.Contains(f.What, "expectation 33") {
				return f.String()
			}
		}
		return ""
	}
	if got := last(33); got != "f:42: this is expectation 33 of a profile that may have 32; keep those that matter" {
		t.Error(got)
	}
	if got := last(32); got != "" {
		t.Error(got)
	}
}
