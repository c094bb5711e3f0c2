package view_test

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile/strict"
	"mashward/sensors"
)

const rigText = `rig: Test kettle
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K}
element: {power: 3000 W, relay: {driver: gpio, line: GPIO17, type: solid-state}}
pump: {relay: {driver: gpio, line: GPIO27, type: mechanical}}
probe: {driver: w1, id: 28-0000075a1c3f, place: outlet, covered_at: 9 L}
`

const dayText = `profile: A short day
water: 26 L
grain: {mass: 4.6 kg, temperature: 18 °C}
steps:
  - {mash-in: 44 °C, for: 6 min}
  - {rest: 50 °C, for: 2 min}
  - {mash-out: 55 °C, for: 2 min}
  - lift
  - {boil: 5 min, additions: [{left: 4 min, add: hops}]}
  - {stand: 80 °C, for: 2 min}
  - {chill: 40 °C}
`

// instant is a snapshot with the core's own state behind it.
type instant struct {
	s     *daemon.Snapshot
	state controller.State
	frame loop.Frame
}

// states keeps the core's state of the newest tick.
type states struct {
	mu sync.Mutex
	instant
}

func (x *states) Watch(f *loop.Frame) {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.state, x.frame = *f.State, *f
}

// bench is a daemon on a simulated kettle in a bubble of testing/synctest.
type bench struct {
	*testing.T
	d      *daemon.Daemon
	states states
}

func inBubble(t *testing.T, rigText string, f func(*bench)) {
	t.Helper()
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "day.yaml"), []byte(dayText), 0o600); err != nil {
		t.Fatal(err)
	}
	synctest.Test(t, func(t *testing.T) {
		b := &bench{T: t}
		rig, faults := config.ParseRig("rig.yaml", []byte(rigText))
		o := daemon.Options{
			Rig: rig, RigText: []byte(rigText), Profiles: folder, Plant: rig.Plant(), Simulated: true, Now: time.Now,
			Log: slog.New(slog.NewTextHandler(io.Discard, nil)), Watchers: []loop.Watcher{&b.states},
		}
		if strict.Refused(faults) {
			o.RigFaults = faults
		} else {
			o.Kettle = daemon.NewSimulated(rig, o.Plant, 1)
		}
		b.d = daemon.New(o)
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			b.d.Run(ctx)
		}()
		defer func() {
			cancel()
			<-ended
		}()
		f(b)
	})
}

// next waits for the next tick.
func (b *bench) next() instant {
	<-b.d.Changed()
	synctest.Wait() // the tick is over, and the loop waits for the next
	b.states.mu.Lock()
	defer b.states.mu.Unlock()
	return instant{b.d.Latest(), b.states.state, b.states.frame}
}

func (b *bench) do(c controller.Command) {
	b.Helper()
	if r, err := b.d.Do(b.Context(), c); err != nil || !r.Accepted {
		b.Fatal(c.Wish, r, err)
	}
}

// brew runs a whole day and shows each tick; meanwhile it pauses, goes back,
// skips, stops and goes on, so that every state of a batch is met.
func (b *bench) brew(see func(instant)) {
	b.Helper()
	see(instant{s: b.d.Latest()})
	p, result, err := b.d.Rehearse("day")
	if err != nil || result.Outcome != "complete" {
		b.Fatal(result.Outcome, err)
	}
	see(b.next())
	nonce, _, err := b.d.Arm("day", p.Hash, daemon.Statements{Litres: 26, BagClear: true, ValveShut: true, RCDTested: true})
	if err != nil {
		b.Fatal(err)
	}
	if r, err := b.d.Begin(b.Context(), nonce); err != nil || !r.Accepted {
		b.Fatal(r, err)
	}
	mischief := map[int]controller.Command{
		400: {Wish: controller.Pause}, 420: {Wish: controller.Resume}, 500: {Wish: controller.Stop},
		520: {Wish: controller.Resume}, 600: {Wish: controller.PumpOff}, 620: {Wish: controller.PumpOn},
	}
	for tick := 0; ; tick++ {
		at := b.next()
		see(at)
		d := &at.s.Decision
		switch c, ok := mischief[tick]; {
		case d.Mode.Ended():
			return
		case tick > 10*3600:
			b.Fatal("it does not end: ", d.Kind, d.Stage)
		case ok && (at.s.Batch.Say.Config.HasPump || c.Wish != controller.PumpOff && c.Wish != controller.PumpOn):
			b.do(c)
		case say.Answer(d.Prompt) != controller.NoWish && tick%7 == 0:
			b.do(controller.Command{Wish: say.Answer(d.Prompt)})
		}
	}
}

// Each tick of a day can be told: as JSON, with sentences, and with figures that
// are those of the snapshot.
func TestEveryInstantOfADayCanBeTold(t *testing.T) {
	inBubble(t, rigText, func(b *bench) {
		modes, prompts := map[string]int{}, map[string]int{}
		b.brew(func(at instant) {
			v := view.Of(at.s)
			text, err := json.Marshal(v)
			if err != nil || strings.Contains(string(text), ":null,\"events\"") {
				b.Fatalf("%v: %s", err, text)
			}
			if v.Sentence == "" || v.Limit < -5 || v.Limit > 105 || v.Heating != (at.s.Heating == unit.On) || len(v.Events) > view.MostEvents {
				b.Fatalf("%s", text)
			}
			if v.Batch == nil {
				return
			}
			modes[v.Batch.State]++
			if v.Prompt != nil {
				prompts[v.Prompt.ID]++
				if v.Prompt.Text == "" || (v.Prompt.Button == "") != (v.Prompt.Wish == "") {
					b.Fatalf("%s", text)
				}
			}
			if d := &at.s.Decision; v.Step.Left != d.Left.Seconds() || v.Step.Index != int(d.Index) || d.HasTarget && *v.Target != math.Round(float64(d.Target)*1000)/1000 {
				b.Fatalf("%s", text)
			}
			if strings.Contains(v.Sentence, "Not heating") && v.Heating {
				b.Fatalf("%s", text)
			}
		})
		for _, mode := range []string{"running", "paused", "held", "complete"} {
			if modes[mode] == 0 {
				b.Errorf("never %s", mode)
			}
		}
		for _, prompt := range []string{"pour", "grain-in", "lift", "bag-clear", "drained", "here-lid-off", "chiller-water", "cool-to-stand"} {
			if prompts[prompt] == 0 {
				b.Errorf("never asked: %s", prompt)
			}
		}
	})
}

// refused asks the core itself, on a copy of its state, what it would say to a
// wish in the next tick.
func refused(core *controller.Core, at instant, c controller.Command) bool {
	t := at.frame.Tick
	t.Now, t.Command = t.Now+time.Second, c
	if at.s.Trip != interlock.NoRule {
		t.Trip = controller.Stale
	}
	_, d := core.Step(at.state, t)
	for _, e := range d.Events[:d.Count] {
		if e.Kind == controller.Refused {
			return true
		}
	}
	return false
}

// litresOf are litres that can be: a little in or out, a kettle that is filled.
func litresOf(w controller.Wish) unit.Litres {
	if w == controller.VolumeIs {
		return 24
	}
	return 1
}

// valueOf is a figure that an instrument can show.
func valueOf(w controller.Wish) float64 {
	if w == controller.PHIs {
		return 5.4
	}
	return 1.046
}

// What the state says that can be asked for is what the core would do, in every
// tick of a day, and it says nothing too little. Some are said only where they
// help, although the core takes them elsewhere too.
func TestWhatCanBeAskedForIsWhatTheCoreWouldDo(t *testing.T) {
	both := []controller.Wish{
		controller.Pause, controller.Resume, controller.Skip, controller.StepBack, controller.Extend,
		controller.NoGrain, controller.ItBoils, controller.RestBed,
		controller.Added, controller.TookOut, controller.VolumeIs,
		controller.GrainIs, controller.ThermometerSays, controller.PHIs, controller.GravityIs, controller.PumpStands,
		controller.UndoSkip, controller.ExtendByDelay, controller.ChillDone,
	}
	only := []controller.Wish{controller.PumpOff, controller.PumpOn, controller.End, controller.LidOff, controller.LidOn, controller.AdditionDone, controller.HereLidOff, controller.ChillerIn} // said only where they help, or where no prompt asks for them
	never := []controller.Wish{controller.NoGrain, controller.UndoSkip, controller.ExtendByDelay}                                                                                               // on this day
	for name, rig := range map[string]string{"pump": rigText, "no pump": strings.Replace(rigText, "pump:", "# pump:", 1)} {
		t.Run(name, func(t *testing.T) {
			inBubble(t, rig, func(b *bench) {
				said := map[controller.Wish]int{}
				var core controller.Core
				b.brew(func(at instant) {
					if at.s.Batch == nil {
						return
					}
					if core.Config.Count == 0 {
						core.Config = rehearse.Core(at.s.Batch.Profile, at.s.Batch.Plan)
					}
					list := view.Of(at.s).Can
					for i, w := range slices.Concat(both, only) {
						says := slices.Contains(list, w.String())
						does := !refused(&core, at, controller.Command{
							Wish: w, By: 5 * time.Minute, Volume: litresOf(w), At: 20, Grain: core.Config.Grain.Mass, Value: valueOf(w),
						})
						if says && !does || does && !says && i < len(both) {
							d := &at.s.Decision
							b.Errorf("%s in %s, %s, %s (%s): said %v, done %v", w, d.Mode, d.Kind, d.Stage, d.Clock, says, does)
						}
						if says {
							said[w]++
						}
					}
					if b.Failed() {
						b.FailNow()
					}
				})
				for _, w := range slices.Concat(both, only) {
					pump := w == controller.PumpOff || w == controller.PumpOn || w == controller.RestBed || w == controller.PumpStands
					if said[w] == 0 && !slices.Contains(never, w) && (name == "pump" || !pump) {
						b.Errorf("%s was never possible", w)
					}
				}
			})
		})
	}
}

func TestABrokenRigIsSaidWithItsFaults(t *testing.T) {
	inBubble(t, "rig: Test kettle\n", func(b *bench) {
		v := view.Of(b.d.Latest())
		if !v.HeatDisabled || len(v.Faults) == 0 || !strings.HasPrefix(v.Faults[0], "rig.yaml") || v.Sentence != "Heat is disabled: the rig file has faults." {
			b.Errorf("%+v", v)
		}
		if len(v.Can) != 0 || v.Heating {
			b.Errorf("%+v", v.Can)
		}
	})
}

// A latched cut can be cleared whether or not a batch still asks about it.
func TestATripCanBeClearedAlsoWhenNothingRuns(t *testing.T) {
	for _, mode := range []controller.Mode{controller.Idle, controller.Aborted} {
		s := &daemon.Snapshot{Trip: interlock.OverTemperature}
		s.Decision.Mode = mode
		if mode == controller.Aborted {
			s.Batch = &daemon.Batch{}
		}
		v := view.Of(s)
		if !slices.Equal(v.Can, []string{"clear-trip"}) || v.Trip == nil || *v.Trip != "over-temperature" {
			t.Errorf("%v: %q", mode, v.Can)
		}
	}
	s := &daemon.Snapshot{Trip: interlock.Stale, Batch: &daemon.Batch{}}
	s.Decision.Mode, s.Decision.Prompt = controller.Held, controller.AskLookAtFault
	v := view.Of(s)
	if slices.Contains(v.Can, "clear-trip") || slices.Contains(v.Can, "resume") || v.Prompt == nil || v.Prompt.Wish != "clear-trip" {
		t.Errorf("%q %+v", v.Can, v.Prompt)
	}
}

func TestHotIsSaidFrom45DegreesOn(t *testing.T) {
	for value, hot := range map[unit.Celsius]bool{44.99: false, 45: true, 92: true} {
		s := &daemon.Snapshot{Reading: sensors.Reading{Fault: sensors.None, Value: value}}
		s.Decision.HasEstimate, s.Decision.Filtered = true, value
		if v := view.Of(s); v.Probe.Hot != hot || *v.Probe.Temperature != float64(value) || v.Probe.Fault != "" {
			t.Errorf("%v: %+v", value, v.Probe)
		}
	}
	if v := view.Of(&daemon.Snapshot{}); v.Probe.Temperature != nil || v.Probe.Fault != "no reading" {
		t.Errorf("%+v", v.Probe)
	}
}

// What the relay does when its line gives an error nobody knows; it counts as
// heating, and says so.
func TestARelayThatDoesNotAnswerIsNeverShownAsOff(t *testing.T) {
	v := view.Of(&daemon.Snapshot{LineFault: errors.New("wire loose")})
	if !v.Heating || len(v.Alarms) != 1 || v.Alarms[0].ID != daemon.RelayUnknown || !strings.Contains(v.Alarms[0].Text, "Isolate the element at the breaker") {
		t.Errorf("heating %v, alarms %+v", v.Heating, v.Alarms)
	}
	if v := view.Of(&daemon.Snapshot{}); v.Heating || len(v.Alarms) != 0 {
		t.Errorf("without a fault: heating %v, alarms %+v", v.Heating, v.Alarms)
	}
}

func TestARecordThatStorageDoesNotTakeIsAnAlarm(t *testing.T) {
	v := view.Of(&daemon.Snapshot{Unstored: errors.New("no space left")})
	if v.Heating || len(v.Alarms) != 1 || v.Alarms[0].ID != daemon.NotRecorded || !strings.Contains(v.Alarms[0].Text, "The batch goes on") {
		t.Errorf("heating %v, alarms %+v", v.Heating, v.Alarms)
	}
}

// A line that was given up is off, and known to be.
func TestALineThatWasGivenUpIsAnAlarmThatAPersonClears(t *testing.T) {
	v := view.Of(&daemon.Snapshot{GaveUp: true})
	if v.Heating || len(v.Alarms) != 1 || v.Alarms[0].ID != daemon.RelayLost || !strings.Contains(v.Alarms[0].Text, "Isolate the element") || !slices.Contains(v.Can, "clear-trip") {
		t.Errorf("heating %v, alarms %+v, can %v", v.Heating, v.Alarms, v.Can)
	}
}

func TestABatchThatCannotBeOfferedIsAnAlarm(t *testing.T) {
	v := view.Of(&daemon.Snapshot{Unoffered: "Look at the kettle."})
	if len(v.Alarms) != 1 || v.Alarms[0] != (view.Alarm{ID: daemon.NotOffered, Text: "Look at the kettle.", Said: "Look at the kettle."}) {
		t.Errorf("%+v", v.Alarms)
	}
}

// Whatever keeps an offered batch from going on comes with both ways out.
func TestAnOfferThatCannotGoOnSaysHowItCanAndThatItCanBeEnded(t *testing.T) {
	for name, c := range map[string]struct {
		set  func(*daemon.Snapshot)
		says []string
	}{
		"another rig": {func(s *daemon.Snapshot) { s.Offer.OtherRig, s.Offer.RigLine = true, 3 }, []string{
			"from line 3 on", "mashward record rig b1.batch", "start mashward again", "or end the batch",
		}},
		"a heat cut":       {func(s *daemon.Snapshot) { s.Trip = interlock.Stale }, []string{"clear it", "or end the batch"}},
		"a relay given up": {func(s *daemon.Snapshot) { s.GaveUp = true }, []string{"clear it", "or end the batch"}},
	} {
		s := &daemon.Snapshot{Batch: &daemon.Batch{ID: "b1"}, Offer: &daemon.Offer{}, Decision: controller.Decision{Mode: controller.Offered}}
		if v := view.Of(s); !v.Offer.CanGoOn {
			t.Errorf("%s: without it, it cannot go on: %v", name, v.Offer.Texts)
		}
		c.set(s)
		v := view.Of(s)
		text := strings.Join(v.Offer.Texts, "\n")
		if v.Offer.CanGoOn || !slices.Contains(v.Can, "end") {
			t.Errorf("%s: can go on %v, can %v", name, v.Offer.CanGoOn, v.Can)
		}
		for _, want := range c.says {
			if !strings.Contains(text, want) {
				t.Errorf("%s: it does not say %q:\n%s", name, want, text)
			}
		}
	}
}
