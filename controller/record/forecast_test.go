package record

import (
	"io"
	"strings"
	"testing"
	"time"

	"mashward/controller/loop"
)

// foretold is a forecast of some day, made at an instant.
func foretold(made time.Duration) Forecast {
	made = made.Round(time.Second)
	return Forecast{
		Made:   made,
		Finish: Span{made + 3*time.Hour, made + 3*time.Hour + 7*time.Minute, made + 3*time.Hour + 19*time.Minute},
		Next:   Span{made, made + 41*time.Second, made + 3*time.Minute}, Step: 6, Of: "addition-2",
	}
}

// sayer writes a forecast every so many ticks.
type sayer struct {
	r     *Recorder
	every uint64
}

func (s *sayer) Watch(f *loop.Frame) {
	if f.Number%s.every == 0 {
		s.r.Forecast(foretold(f.Decision.Clock))
	}
}

func TestAForecastComesBackAsItWasSaid(t *testing.T) {
	for _, f := range []Forecast{
		foretold(0), foretold(5 * time.Hour),
		{Made: time.Hour, Finish: Span{time.Hour, time.Hour, time.Hour}},
		{Made: time.Minute, Finish: Span{time.Second, 2 * time.Second, time.Second}, Of: "x"}, // out of order is read as it was written
		{Made: time.Hour, Of: strings.Repeat("n", mostName)},
	} {
		var got Forecast
		if err := got.read(f.append(nil)); err != nil || got != f {
			t.Errorf("%+v came back as %+v, %v", f, got, err)
		}
	}
	long := Forecast{Of: strings.Repeat("n", mostName+1)}
	var got Forecast
	if err := got.read(long.append(nil)); err != nil || len(got.Of) != mostName {
		t.Errorf("a long name: %q, %v", got.Of, err)
	}
	whole := Forecast{Made: 5 * time.Hour}
	for n := range whole.append(nil) {
		if err := got.read(whole.append(nil)[:n]); err == nil {
			t.Errorf("%d bytes of it are read", n)
		}
	}
}

// A forecast a minute is half a byte a tick: TestADayWearsTheCardLittle holds the
// whole to its 120. It changes nothing of what a replay comes to, and what stands
// behind it is read.
func TestForecastsStandBesideTheTicks(t *testing.T) {
	day := newToy(4)
	day.ticks = 600
	m := recorded(t, day, &sayer{every: 60})
	blocks, ends, err := tell(opened(t, m))
	if err != io.EOF {
		t.Fatal(err)
	}
	var said int
	var size int64
	for i, b := range blocks {
		if b.kind == KindForecast {
			said++
			size += ends[i] - ends[i-1]
		}
	}
	if said != 10 || size > 10*40 {
		t.Errorf("%d forecasts of %d bytes", said, size)
	}
	result, err := Replay(opened(t, m))
	if err != nil || !result.Same() || result.Ticks != 600 {
		t.Errorf("%+v, %v", result.Difference, err)
	}
	s, err := Summarize(opened(t, m))
	if err != nil || s.Ticks != 600 {
		t.Errorf("%d ticks, %v", s.Ticks, err)
	}
}
