//go:build linux

package main

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// second is so far into the board's life.
func second(s float64) time.Time { return time.Unix(1000, 0).Add(time.Duration(s * 1e9)) }

// goodRun is what a board tells and does when all is well.
func goodRun() (told, line []moment) {
	for _, m := range []struct {
		at   float64
		what string
	}{
		{10, heats}, {11, killed}, {20, heats}, {21, stopped}, {30, heats}, {31, keeperGone}, {40, bothGone}, {50, elementOff}, {51, ended},
	} {
		told = append(told, moment{at: second(m.at), what: m.what})
	}
	for _, e := range []struct {
		at float64
		on bool
	}{{9, true}, {11.01, false}, {19, true}, {24, false}, {29, true}, {31.2, false}, {33, true}, {50.1, false}} {
		line = append(line, moment{at: second(e.at), on: e.on})
	}
	return told, line
}

// TestTheBoardIsJudgedByItsLine: a good run passes, and each thing that must not
// be fails: a judge that lets all pass is none.
func TestTheBoardIsJudgedByItsLine(t *testing.T) {
	if told, line := goodRun(); judge(told, line) {
		t.Fatal("a good run is found wrong")
	}
	for name, spoil := range map[string]func(told, line *[]moment){
		"the line stays on after a kill":          func(_, l *[]moment) { (*l)[1].at = second(12.5) },
		"it stays on while the daemon is stopped": func(_, l *[]moment) { (*l)[3].at = second(25) },
		"it never goes off again":                 func(_, l *[]moment) { *l = (*l)[:7] },
		"a pulse at a start": func(_, l *[]moment) {
			*l = append([]moment{{at: second(5), on: true}, {at: second(5.01)}}, *l...)
		},
		"it says that it heats and does not": func(_, l *[]moment) { (*l)[0].at = second(10.5) },
		"it goes off by itself with both gone": func(_, l *[]moment) {
			*l = slices.Insert(*l, 7, moment{at: second(43)})
		},
		"a step on the board went wrong": func(told, _ *[]moment) { (*told)[4].what = wrongEnding + "69" },
		"the board fell silent":          func(told, _ *[]moment) { *told = (*told)[:7] },
		"it was never heated":            func(told, _ *[]moment) { *told = (*told)[8:] },
	} {
		told, line := goodRun()
		spoil(&told, &line)
		if !judge(told, line) {
			t.Errorf("%s: found good", name)
		}
	}
}

// TestEdgesAreReadFromTheTrace: those of line 1, in the form in which QEMU writes
// them, and no others.
func TestEdgesAreReadFromTheTrace(t *testing.T) {
	got := edges("4242@1000.250000:pl061_set_output GPIO0 setting output 1 to 1\n" +
		"4242@1000.300000:pl061_set_output GPIO0 setting output 3 to 1\nnoise\n" +
		"4242@1002.000001:pl061_set_output GPIO0 setting output 1 to 0\n")
	want := []moment{{at: time.Unix(1000, 250000000), on: true}, {at: time.Unix(1002, 1000)}}
	if !slices.Equal(got, want) {
		t.Errorf("read %v; want %v", got, want)
	}
	told := listen(strings.NewReader("boot\n" + mark + heats + "\r\n"))
	if len(told) != 1 || told[0].what != heats {
		t.Errorf("heard %v", told)
	}
	if !level(got, time.Unix(1001, 0)) {
		t.Error("between them the line is on")
	}
}
