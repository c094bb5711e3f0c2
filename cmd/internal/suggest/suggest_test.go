package suggest

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/observer"
	"mashward/controller/record"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/sensors"
)

func second(s *Strike, mode controller.Mode, stage controller.Stage) {
	s.second(mode, stage, unit.On, sensors.Reading{Value: 20, Fault: sensors.None})
}

func TestAStrikeInOnePieceIsKept(t *testing.T) {
	for _, c := range []struct {
		name   string
		middle controller.Mode
		end    controller.Stage
		kept   int // seconds; 0: nothing can be learned
	}{
		{"poured", controller.Running, controller.Pour, 3},
		{"grain in without a word", controller.Running, controller.Settle, 0},
		{"paused: heat and pump go on", controller.Paused, controller.Pour, 3},
		{"held: the pump stands", controller.Held, controller.Pour, 0},
		{"offered after a power cut", controller.Offered, controller.Pour, 0},
		{"never poured", controller.Running, controller.Heat, 0},
	} {
		var s Strike
		second(&s, controller.Idle, controller.NoStage)
		second(&s, controller.Running, controller.Heat)
		second(&s, c.middle, controller.Heat)
		second(&s, controller.Running, controller.Ready)
		second(&s, controller.Running, c.end)
		second(&s, controller.Held, controller.Count) // what comes later changes nothing
		samples, err := s.Samples()
		if len(samples) != c.kept || errors.Is(err, ErrNoStrike) != (c.kept == 0) {
			t.Errorf("%s: %d seconds, %v", c.name, len(samples), err)
		}
	}
	if _, err := new(Strike).Samples(); !errors.Is(err, ErrNoStrike) {
		t.Errorf("no batch: %v", err)
	}
}

// Water that went in or out, or a volume that was another than declared, spoils a
// strike; after the pour, and of a lid, it is no matter.
func TestAStrikeWithWaterToldOfTeachesNothing(t *testing.T) {
	for kind, spoils := range map[controller.EventKind]bool{
		controller.WaterAdded: true, controller.WaterTaken: true, controller.VolumeRead: true, controller.LidMoved: false,
	} {
		for _, after := range []bool{false, true} {
			var s Strike
			second(&s, controller.Running, controller.Heat)
			if !after {
				s.heed([]controller.Event{{Kind: kind}})
			}
			second(&s, controller.Running, controller.Pour)
			s.heed([]controller.Event{{Kind: kind}})
			if _, err := s.Samples(); errors.Is(err, ErrNoStrike) != (spoils && !after) {
				t.Errorf("%v, after the pour %v: %v", kind, after, err)
			}
		}
	}
}

// A record that lacks seconds, or goes on after a restart, teaches nothing; what
// happened before the batch or after the pour is no matter.
func TestARecordWithSecondsMissingTeachesNothing(t *testing.T) {
	tick := func(mode controller.Mode, stage controller.Stage) *record.Block {
		b := &record.Block{Kind: record.KindTick}
		b.Tick.Mode, b.Tick.Stage = mode, stage
		return b
	}
	day := []*record.Block{
		tick(controller.Idle, controller.NoStage), tick(controller.Running, controller.Heat), tick(controller.Running, controller.Heat),
		tick(controller.Running, controller.Pour), tick(controller.Running, controller.Count),
	}
	for _, kind := range []record.Kind{record.KindGap, record.KindStart, record.KindCheckpoint, record.KindNote} {
		for at := range len(day) + 1 {
			var s Strike
			for _, b := range slices.Insert(slices.Clone(day), at, &record.Block{Kind: kind}) {
				s.block(b)
			}
			broken := (kind == record.KindGap || kind == record.KindStart) && at > 1 && at < 4
			if samples, err := s.Samples(); errors.Is(err, ErrNoStrike) != broken || !broken && len(samples) != 2 {
				t.Errorf("%v before block %d: %d seconds, %v", kind, at, len(samples), err)
			}
		}
	}
}

// A strike that is kept hot for longer than a batch may wait costs no more than
// the fit of four hours.
func TestALongStrikeIsBounded(t *testing.T) {
	var s Strike
	for range 3 * mostSamples {
		second(&s, controller.Running, controller.Ready)
	}
	samples, err := s.Samples()
	if err != nil || len(samples) != mostSamples {
		t.Errorf("%d seconds, %v", len(samples), err)
	}
}

// shownBy is a suggestion with these figures found on a kettle of 26 L, 3 kW,
// 7 W/K and 15 s.
func shownBy(power unit.Watts, loss unit.WattsPerKelvin, lag time.Duration) Suggestion {
	s := Suggestion{Used: tune.Used{Power: 3000, Loss: 7, Lag: 15 * time.Second}, water: 26}
	s.Found = tune.Result{Model: observer.Model{Power: power, Loss: loss, Probe: lag}, Contradiction: float64(power) / 3000, Samples: 1000}
	s.seen = Litres(26, 4100, s.Found.Contradiction)
	s.Differs = s.Found.Differs(s.Used)
	return s
}

func TestASuggestionSaysWhatItCouldMean(t *testing.T) {
	for _, c := range []struct {
		s       Suggestion
		text    string
		figures []string
	}{
		{shownBy(3000, 7, 15*time.Second), "", nil},
		{
			shownBy(2500, 7, 15*time.Second),
			"The strike water warmed as if the element had 2.50 kW instead of 3.00 kW, or as if 31.4 L were in the kettle instead of 26.0 L; a temperature cannot tell which. " +
				"Measure the water, and look at plate and voltage of the element.",
			[]string{"power"},
		},
		{
			shownBy(3240, 7, 15*time.Second),
			"The strike water warmed as if the element had 3.24 kW instead of 3.00 kW, or as if 24.0 L were in the kettle instead of 26.0 L; a temperature cannot tell which. " +
				"A supply 5 % off its voltage does as much: see whether another batch says the same.",
			[]string{"power"},
		},
		{
			shownBy(3000, 15, 40*time.Second),
			"The kettle lost 15.0 W for each °C above the room instead of 7.0 W; a draught, or a lid that does not close, does that too. " +
				"The reading lagged by 40 s instead of 15 s: look whether the probe sits where it did, and the pump runs as it did.",
			[]string{"loss", "lag"},
		},
	} {
		if got := c.s.Text(); got != c.text {
			t.Errorf("it says\n%s\nand should\n%s", got, c.text)
		}
		told := c.s.Tell(Files{Rig: "r.yaml", Record: "d.batch", Out: "o.yaml"})
		if (told == nil) != (c.text == "") || c.s.Agrees() != (c.text == "") {
			t.Fatalf("%q is told as %+v, agrees: %v", c.text, told, c.s.Agrees())
		}
		if told != nil && (told.Text != c.text || !slices.Equal(told.Figures, c.figures) || told.Power != c.s.Found.Contradiction) {
			t.Errorf("told as %+v", told)
		}
	}
	if (Suggestion{}).Agrees() {
		t.Error("a batch that nobody looked at agrees")
	}
}

// A litre that is declared, and found again from the ratio it makes.
func TestLitresComeBack(t *testing.T) {
	for _, water := range []unit.Litres{10, 26, 100} {
		const vessel = 4100
		ratio := (4184*float64(water)*1.2 + vessel) / (4184*float64(water) + vessel)
		if got := float64(Litres(water, vessel, 1/ratio) / water); got < 1.199 || got > 1.201 {
			t.Errorf("%v L: %.4f of them, not 1.2", water, got)
		}
		if got := Litres(water, vessel, 0); got != water {
			t.Errorf("no ratio: %v L", got)
		}
	}
}

func TestTheCommandIsAsAShellTakesIt(t *testing.T) {
	f := Files{Rig: "my kettle.yaml", Record: "it's/day.batch", Out: OutFor("my kettle.yaml", "")}
	want := `mashward tune --rig 'my kettle.yaml' --from 'it'\''s/day.batch' --out 'my kettle.tuning.yaml'`
	if got := f.Command(); got != want {
		t.Errorf("%s\nand not\n%s", got, want)
	}
	for _, evil := range []string{"", "$(reboot)", "a;b", "a\nb", "`x`", "~", "-rf *"} {
		got := Files{Rig: evil, Record: "d", Out: "o"}.Command()
		if !strings.Contains(got, "'"+evil+"'") {
			t.Errorf("%q stands as %s", evil, got)
		}
	}
	if got := OutFor("rigs/yard.yaml", "other/tuning.yaml"); got != "other/tuning.yaml" {
		t.Errorf("the tuning in use is %s", got)
	}
}
