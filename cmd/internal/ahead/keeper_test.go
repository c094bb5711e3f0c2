package ahead_test

import (
	"context"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/controller"
	"mashward/controller/record"
)

// A day's forecasts are in its record, within its budget, and judged from there as
// they were beside the loop; what was cut off tells as much as stands before.
func TestWhatWasForecastIsKeptAndJudged(t *testing.T) {
	b, err := prepare(3, rehearse.FourRests)
	if err != nil {
		t.Fatal(err)
	}
	m := &record.Memory{}
	recorder, err := b.run.Record(m, record.Head{Simulated: true})
	if err != nil {
		t.Fatal(err)
	}
	k := &ahead.Keeper{Day: b.day, Keep: recorder.Forecast}
	b.run.Watchers = append(b.run.Watchers, k)
	result, err := b.run.Go()
	if err != nil || result.Outcome != "complete" {
		t.Fatal(err, result.Outcome)
	}
	if err := recorder.Close(context.Background()); err != nil {
		t.Fatal(err)
	}
	want, got := k.Score.Tell(nil), scored(t, m).Tell(nil)
	if !reflect.DeepEqual(want, got) {
		t.Errorf("from the record:\n%+v\nbeside the loop:\n%+v", got, want)
	}
	minutes := result.Duration / 60
	if n := float64(got.Made); n < minutes-1 || n > 1.3*minutes {
		t.Errorf("%d forecasts in %.0f min", got.Made, minutes)
	}
	truth := math.Round(result.Duration)
	if got.Finish == nil || got.Finish.Worst.Truth != truth || got.Finish.Judged != got.Made || len(got.Samples) != 7 {
		t.Errorf("%+v, and the day took %g s", got.Finish, truth)
	}
	if !strings.Contains(got.Text, "At 0:2") || !strings.Contains(got.Text, fmt.Sprintf(" for the finish; it was %s.", say.Clock(time.Duration(truth)*time.Second))) {
		t.Errorf("in words:\n%s", got.Text)
	}
	if perTick := float64(len(m.Bytes)) / result.Duration; perTick > 120 {
		t.Errorf("%.1f B a tick", perTick)
	}
	half := scored(t, &record.Memory{Bytes: m.Bytes[:len(m.Bytes)/2]}).Tell(nil)
	if half == nil || half.Finish != nil || half.Made < got.Made/3 || half.Moments == nil {
		t.Errorf("of the first half: %+v", half)
	}
}

func scored(t *testing.T, m *record.Memory) *ahead.Score {
	t.Helper()
	r, err := record.Read(m)
	if err != nil {
		t.Fatal(err)
	}
	s := &ahead.Score{}
	if _, err := r.Each(func(b *record.Block) { s.Block(b, &r.Head.Config) }); err != nil {
		t.Fatal(err)
	}
	return s
}

// Held, missed, and by how much: worked by hand.
func TestAMissIsSaidWithItsLength(t *testing.T) {
	var s ahead.Score
	if s.Tell(nil) != nil {
		t.Error("nothing was said, and it is judged")
	}
	say := func(made, early, at, late time.Duration, of string) {
		f := record.Forecast{Made: made * time.Minute, Finish: record.Span{Early: early * time.Minute, At: at * time.Minute, Late: late * time.Minute}}
		if of != "" {
			f.Of, f.Next = of, record.Span{Early: 0, At: 40 * time.Minute, Late: 50 * time.Minute}
		}
		s.Said(f)
	}
	say(0, 90, 95, 101, "pour")
	say(10, 90, 95, 98, "pour")
	say(60, 101, 102, 104, "")
	c := &controller.Config{}
	s.Event(controller.Event{Kind: controller.PromptRaised, Value: float64(controller.AskPour)}, 52*time.Minute, c)
	s.Event(controller.Event{Kind: controller.ModeChanged, Value: float64(controller.Complete)}, 100*time.Minute, c)
	told := s.Tell(nil)
	const want = `It was forecast 3 times how the day goes on.
Of the finish, 33 % of 3 lay in the band that was said; the worst was 2 min beside it, said at 0:10.
Of the next moment with a person, 0 % of 2 lay in the band that was said; the worst was 2 min beside it, said at 0:00.
At 0:00 it said 1:30 to 1:41 for the finish; it was 1:40.
At 0:10 it said 1:30 to 1:38 for the finish; it was 1:40.
At 1:00 it said 1:41 to 1:44 for the finish; it was 1:40.
At 0:00 it said 0:00 to 0:50 for pour of step 0; it was 0:52.
At 0:10 it said 0:00 to 0:50 for pour of step 0; it was 0:52.`
	if told.Text != want {
		t.Errorf("%s", told.Text)
	}
}
