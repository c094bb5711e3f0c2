package record

import (
	"math"
	"strings"
	"testing"

	"mashward/controller"
	"mashward/profile/gravity"
)

// deeds are orders with figures, by the tick in which they come.
var deeds = map[int64]controller.Command{
	60:    {Wish: controller.GrainIs, Grain: 4.55, At: 16.5},
	3002:  {Wish: controller.ThermometerSays, At: 62.4},
	3003:  {Wish: controller.PHIs, Value: 5.42, At: 22, Spot: controller.SpotTop},
	3004:  {Wish: controller.GravityIs, Value: 11.9, At: 22, Instrument: gravity.Refractometer},
	3005:  {Wish: controller.GravityIs, Value: 1.046, At: 65}, // refused
	3006:  {Wish: controller.GravityIs, Value: 1.046, At: 20, Calibrated: 15.5},
	3000:  {Wish: controller.Added, Volume: 2, At: 60},
	3001:  {Wish: controller.LidOff},
	3300:  {Wish: controller.VolumeIs, Volume: 27.3, At: 62.5},
	6000:  {Wish: controller.Added, Volume: 3, At: 12},
	9000:  {Wish: controller.LidOn},
	11000: {Wish: controller.TookOut, Volume: 1.5},
	11001: {Wish: controller.Added, Volume: 1, At: 100.5}, // refused
}

// TestWhatAPersonToldIsRecordedAndReplayed: water in and out, a volume as read and
// a lid come back with every figure, and lead to the same decisions bit by bit.
func TestWhatAPersonToldIsRecordedAndReplayed(t *testing.T) {
	day := newToy(11)
	day.rough = true
	day.loop.Core.Config.Capacity, day.loop.Core.Config.Water = 50, 26
	day.loop.Core.Config.Grain, day.loop.Core.Config.StrikeMost = controller.Malt{Mass: 4.6, At: 18, Moisture: 0.04}, 80
	for at, c := range deeds {
		day.wishes[at] = c
	}
	m := new(Memory)
	head := toyHead()
	head.Config = day.loop.Core.Config
	r, err := New(m, head, day.loop.State, Options{Direct: true, Guard: &day.loop.Guard})
	if err != nil {
		t.Fatal(err)
	}
	day.watch(r)
	if err := r.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	result, err := Replay(opened(t, m))
	if err != nil || !result.Same() || !result.Exact || result.Ticks != uint64(day.n) {
		t.Fatalf("%v, drift %v, %v, exact %v, %d ticks of %d", result.Difference, result.Drift, err, result.Exact, result.Ticks, day.n)
	}
	came, drawn := 0, 0.0
	for reader := opened(t, m); ; {
		b, err := reader.Next()
		if err != nil {
			break
		}
		if b.Kind != KindTick {
			continue
		}
		drawn = max(drawn, float64(b.Tick.Facts.Drawn))
		if want, ok := deeds[int64(b.Tick.Number)]; ok {
			came++
			if b.Tick.In.Command != want {
				t.Errorf("tick %d: %+v, want %+v", b.Tick.Number, b.Tick.In.Command, want)
			}
		}
	}
	if came != len(deeds) || math.Abs(drawn-1.5*0.96) > 0.03 { // hot litres, near the boil
		t.Errorf("%d of %d commands came back, %.3f L drawn", came, len(deeds), drawn)
	}
	s, err := Summarize(opened(t, m))
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	for _, l := range s.Lines {
		text.WriteString(l.Text + "\n")
	}
	for _, want := range []string{
		"added 2 L at 60 °C\n", "water added: 1.97 L cold\n", "mix foreseen: ", "volume-is 27.3 L at 62.5 °C\n", "volume read: ",
		"took-out 1.5 L\n", "water taken: 1.4", "lid off\n", "lid on\n",
		"grain-is 4.55 kg at 16.5 °C\n", "strike moved at ", "thermometer-says 62.4 °C\n", "ph-is 5.42 at 22 °C, top\n", "pH read: 5.42\n",
		"gravity-is 11.9 by refractometer at 22 °C\n", "gravity read: 1.0460 at 20 °C\n", "gravity-is 1.046 by hydrometer at 20 °C, true at 15.5 °C\n", "refused: at that temperature the instrument reads false", "refused: water is warmer than 0 °C",
	} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the record does not show %q", want)
		}
	}
}

// A record made before a person could tell anything, by the program as it was on
// 2026-11-26: every tick is read, and comes to the same decisions.
func TestARecordFromBeforeDeedsReadsAndReplays(t *testing.T) {
	f, err := View("testdata/before-deeds.batch")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	result, err := Replay(opened(t, f))
	if err != nil || result.Ticks != 348 || result.Difference != nil {
		t.Fatalf("%v, %d ticks, %v", err, result.Ticks, result.Difference)
	}
	s, err := Summarize(opened(t, f))
	if err != nil || s.Outcome != controller.Complete || s.Damage != nil || s.Ticks != 348 {
		t.Errorf("%v, %v, %v, %d ticks", err, s.Outcome, s.Damage, s.Ticks)
	}
}
