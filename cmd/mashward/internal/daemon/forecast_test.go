package daemon

import (
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/controller"
	"mashward/controller/record"
)

func (s *Snapshot) foretold() bool { return s.Forecast != nil }

// A forecast is there a second after the start, follows a person's word at once, is
// made anew every minute, and goes with the batch; all of them are on record.
func TestAForecastIsThereAtOnceAndFollowsAWord(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		first := b.until("a forecast", (*Snapshot).foretold)
		if first.Decision.Clock > 10*time.Second {
			b.Errorf("only at %v", first.Decision.Clock)
		}
		if early, at, late, ok := b.d.FinishForecast(); !ok || early.After(at) || at.After(late) || !late.After(first.Wall) {
			b.Errorf("by the clock on the wall: %v %v %v %v", early, at, late, ok)
		}
		if r, err := b.d.Do(b.Context(), controller.Command{Wish: controller.Extend, By: 5 * time.Minute}); err != nil || !r.Accepted {
			b.Fatal(r, err)
		}
		told := b.d.Latest().Decision.Clock
		moved := b.until("a later finish", func(s *Snapshot) bool {
			return s.Forecast != nil && s.Forecast.Finish.At > first.Forecast.Finish.At+4*time.Minute
		})
		if moved.Decision.Clock > told+2*time.Second {
			b.Errorf("told at %v, forecast at %v", told, moved.Decision.Clock)
		}
		last := moved.Forecast.Made
		b.until("the end", func(s *Snapshot) bool {
			if s.Forecast != nil {
				if s.Decision.Clock-s.Forecast.Made > time.Minute+2*time.Second || s.Forecast.Made < last {
					b.Errorf("at %v it is of %v", s.Decision.Clock, s.Forecast.Made)
				}
				last = s.Forecast.Made
			}
			return s.Decision.Mode == controller.Complete
		})
		pass(2 * time.Second)
		if s := b.d.Latest(); s.Forecast != nil {
			b.Error("a forecast of a batch that is over")
		}
		if off, ok := b.d.ForecastOff(); !ok || off <= 0 || off > 4*time.Minute {
			b.Errorf("off by %v, %v", off, ok)
		}
		b.end()
		b.judged()
	})
}

// judged looks into the record.
func (b *bench) judged() {
	b.Helper()
	f, err := record.View(b.recordFiles()[0])
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	r, err := record.Read(f)
	if err != nil {
		b.Fatal(err)
	}
	var score ahead.Score
	if _, err := r.Each(func(k *record.Block) { score.Block(k, &r.Head.Config) }); err != nil {
		b.Fatal(err)
	}
	if told := score.Tell(nil); told == nil || told.Made < 5 || told.Finish == nil {
		b.Errorf("on record: %+v", told)
	}
}

// Whatever becomes of the worker, each second has its tick.
func TestAForecastThatFailsOrHangsHoldsUpNothing(t *testing.T) {
	for _, name := range []string{"fails", "hangs"} {
		t.Run(name, func(t *testing.T) {
			var free chan struct{}
			inBubbleWith(t, func(o *Options) {
				free = make(chan struct{})
				o.foresee = func(*ahead.Day, *controller.State) (ahead.Forecast, bool) {
					if name == "fails" {
						panic("a bug in the forecast")
					}
					<-free
					return ahead.Forecast{}, false
				}
			}, func(b *bench) {
				b.run("warm")
				from := len(b.seen.frames())
				pass(5 * time.Minute)
				frames := b.seen.frames()[from:]
				for i := range frames[1:] {
					if gap := frames[i+1].Tick.Now - frames[i].Tick.Now; gap != time.Second {
						b.Fatalf("a tick of %v", gap)
					}
				}
				if len(frames) < 299 || b.d.Latest().Forecast != nil || b.d.Latest().Decision.Mode != controller.Running {
					b.Errorf("%d ticks, %v", len(frames), b.d.Latest().Decision.Mode)
				}
				log := b.log.String()
				if want := map[string]int{"fails": 1, "hangs": 0}[name]; strings.Count(log, "no forecast") != want {
					b.Errorf("said %d times", strings.Count(log, "no forecast"))
				}
				if name == "fails" && !strings.Contains(log, "a bug in the forecast") {
					b.Error("what went wrong is not said")
				}
				close(free)
			})
		})
	}
}
