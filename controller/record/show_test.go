package record

import (
	"encoding/csv"
	"strconv"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/profile"
)

func TestTheExportIsReadByAnyReaderOfCSV(t *testing.T) {
	day := newToy(30)
	day.wishes[4000] = controller.Command{Wish: controller.Extend, By: 2 * time.Minute}
	k := &kept{guard: &day.loop.Guard}
	m := recorded(t, day, k)
	var out strings.Builder
	if err := ExportCSV(&out, opened(t, m)); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(out.String(), "event\r\n") || strings.Count(out.String(), "\r\n") != len(k.frames)+1 {
		t.Error("lines do not end as RFC 4180 says")
	}
	rows, err := csv.NewReader(strings.NewReader(out.String())).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	for i, row := range rows[1:] {
		f := &k.frames[i]
		d := &f.Decision
		number := func(name string, want float64) {
			t.Helper()
			if got, err := strconv.ParseFloat(row[column[name]], 64); err != nil || got != want {
				t.Fatalf("row %d: %s is %q, want %v", i+1, name, row[column[name]], want)
			}
		}
		number("seconds", d.Clock.Seconds())
		number("run_seconds", f.Tick.Now.Seconds())
		number("duty_ratio", float64(d.Duty))
		number("earned_seconds", d.Earned.Seconds())
		number("step", float64(d.Index))
		if d.HasTarget {
			number("target_celsius", float64(d.Target))
		}
		if f.Tick.Reading.Good() {
			number("reading_celsius", float64(f.Tick.Reading.Value))
		} else if row[column["reading_celsius"]] != "" || row[column["reading_fault"]] != "checksum" {
			t.Fatalf("row %d: a missing reading is %q, %q", i+1, row[column["reading_celsius"]], row[column["reading_fault"]])
		}
		if row[column["relay"]] != f.Permitted.String() || row[column["kind"]] != d.Kind.String() || row[column["mode"]] != d.Mode.String() {
			t.Fatalf("row %d: %v", i+1, row)
		}
	}
	for _, want := range []string{"extend 2m0s", "addition due: 28 g bittering hops", "step 2 begins: beta", "batch: complete", "drained"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("nothing says %q", want)
		}
	}
}

func TestTheSummaryTellsTheDay(t *testing.T) {
	day := newToy(31)
	k := &kept{guard: &day.loop.Guard}
	s, err := Summarize(opened(t, recorded(t, day, k)))
	if err != nil {
		t.Fatal(err)
	}
	if !s.Ended || s.Outcome != controller.Complete || s.Reason != controller.NoReason || s.Ticks != uint64(len(k.frames)) || s.Lost != 0 || s.Damage != nil {
		t.Errorf("%+v", s)
	}
	if last := k.frames[len(k.frames)-1].Decision.Clock; s.Duration != last {
		t.Errorf("took %v, was %v", s.Duration, last)
	}
	if len(s.Steps) != 8 {
		t.Fatalf("%d steps", len(s.Steps))
	}
	c := toyConfig()
	for i, step := range s.Steps {
		if int(step.Index) != i || step.Kind != c.Steps[i].Kind || step.End < step.Start || i > 0 && step.Start != s.Steps[i-1].End {
			t.Errorf("step %d: %+v", i, step)
		}
		if step.Kind == profile.Rest && (step.Reached <= 0 || step.Earned < c.Steps[i].For || step.Earned > c.Steps[i].For+2*time.Second || step.Target != c.Steps[i].Target) {
			t.Errorf("rest %d: %+v", i, step)
		}
	}
	if s.Steps[2].Name != "beta" {
		t.Errorf("step 2 is called %q", s.Steps[2].Name)
	}
	commands := 0
	for _, l := range s.Lines {
		if l.Kind == LineCommand {
			commands++
		}
	}
	if commands != 9 { // start, pouring, grain in, lifting, bag clear, drained, here, chiller hung in, its water on
		t.Errorf("%d commands", commands)
	}
}

func TestTheSummaryTellsOfABatchEndedByATrip(t *testing.T) {
	day := newToy(32)
	day.loop.Limits.MashCeiling = 30
	day.wishes[2000] = controller.Command{Wish: controller.End}
	m := new(Memory)
	head := toyHead()
	head.Limits = day.loop.Limits
	r, err := New(m, head, day.loop.State, Options{Direct: true, Guard: &day.loop.Guard})
	if err != nil {
		t.Fatal(err)
	}
	day.watch(r)
	s, err := Summarize(opened(t, m))
	if err != nil || !s.Ended || s.Outcome != controller.Aborted || s.Reason != controller.OverTemperature {
		t.Errorf("%v, %v, %v", s.Outcome, s.Reason, err)
	}
	tripped := false
	for _, l := range s.Lines {
		tripped = tripped || l.Kind == LineTrip && strings.HasSuffix(l.Text, "over-temperature")
	}
	if !tripped || len(s.Steps) != 1 || s.Steps[0].End >= 0 {
		t.Errorf("%+v, tripped %v", s.Steps, tripped)
	}
}

func TestASkipTakenBackIsNoSecondStep(t *testing.T) {
	day := newToy(33)
	day.ticks = 4200
	day.wishes[4000] = controller.Command{Wish: controller.Skip}
	day.wishes[4010] = controller.Command{Wish: controller.UndoSkip}
	s, err := Summarize(opened(t, recorded(t, day)))
	if err != nil || s.Ended || s.Outcome != controller.Running {
		t.Errorf("%v %v %v", s.Ended, s.Outcome, err)
	}
	if n := len(s.Steps); n == 0 || s.Steps[n-1].End >= 0 || int(s.Steps[n-1].Index) != n-1 {
		t.Errorf("%+v", s.Steps)
	}
}

func TestADamagedRecordIsSummedUpAsFarAsItGoes(t *testing.T) {
	m := recorded(t, newToy(34))
	m.Bytes[len(m.Bytes)/2] ^= 4
	s, err := Summarize(opened(t, m))
	if err != nil || s.Damage == nil || s.Ticks < 5000 || s.Ended {
		t.Errorf("%d ticks, %v, %v", s.Ticks, s.Damage, err)
	}
	var out strings.Builder
	if err := ExportCSV(&out, opened(t, m)); err == nil || strings.Count(out.String(), "\r\n") != int(s.Ticks)+1 {
		t.Errorf("the export wrote %d lines and said %v", strings.Count(out.String(), "\r\n"), err)
	}
}
