package record

import (
	"bytes"
	"errors"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/observer"
	"mashward/controller/unit"
)

func TestAReplayComesToTheSameDecisions(t *testing.T) {
	day := newToy(7)
	day.rough = true
	day.wishes[4000] = controller.Command{Wish: controller.Pause}
	day.wishes[4060] = controller.Command{Wish: controller.Resume}
	day.wishes[5000] = controller.Command{Wish: controller.Extend, By: 3 * time.Minute}
	day.wishes[5100] = controller.Command{Wish: controller.Retarget, At: 69, Step: 3}
	m := recorded(t, day)
	result, err := Replay(opened(t, m))
	if err != nil || !result.Same() {
		t.Fatalf("%v, %v", result.Difference, err)
	}
	if !result.Exact || !result.Interlock || result.Ticks != uint64(day.n) || result.Checkpoints < int(day.n/60) {
		t.Errorf("%+v", result)
	}
	if result.Last.State != day.loop.State || result.Last.Guard != day.loop.Guard || !result.Known {
		t.Error("the state at the end is another than the loop's")
	}
	if result.Judged != result.Ticks || len(result.Broken) > 0 {
		t.Errorf("%d of %d ticks were held to what must always hold: %v", result.Judged, result.Ticks, result.Broken)
	}
}

// A replay says what must not be although the decisions come back the same: the
// same day, held to what another kettle was told at arming.
func TestAReplaySaysWhatMustNotBe(t *testing.T) {
	p := player{r: opened(t, recorded(t, newToy(7)))}
	p.core.Config, p.checks.Params = p.r.Head.Config, p.r.Head.Checks
	p.result.Interlock = true
	p.result.Exact, _ = exact(&p.r.Head)
	p.laws.Day = loop.DayOf(&p.r.Head.Config, &p.r.Head.Limits)
	p.laws.Day.Hottest -= 30
	if err := p.run(); err != nil || !p.result.Same() {
		t.Fatal(err, p.result.Difference)
	}
	if n := len(p.result.Broken); n != mostFields || p.result.Broken[0].Law != "limit" {
		t.Errorf("%d said, the first %v; want %d, by the limit", n, p.result.Broken, mostFields)
	}
}

func TestAReplayFromACheckpointComesToTheSameDecisions(t *testing.T) {
	day := newToy(8)
	m := recorded(t, day)
	for _, from := range []uint64{1, 2, 59, 61, 3000, 9000, uint64(day.n) - 100} {
		result, err := ReplayFrom(opened(t, m), from)
		if err != nil || !result.Same() {
			t.Fatalf("from %d: %v, %v", from, result.Difference, err)
		}
		if result.Ticks+result.Skipped != uint64(day.n) || result.Ticks == 0 || result.Skipped+60 < from {
			t.Errorf("from %d: %d skipped, %d replayed", from, result.Skipped, result.Ticks)
		}
		if result.Last.State != day.loop.State {
			t.Errorf("from %d: the state at the end is another", from)
		}
	}
	if _, err := ReplayFrom(opened(t, m), 1e6); !errors.Is(err, errTooShort) {
		t.Errorf("from beyond the end: %v", err)
	}
}

// A figure that is changed in what the core knew must show, and be named.
func TestAnotherConfigurationIsCaught(t *testing.T) {
	m := recorded(t, newToy(9))
	for name, change := range map[string]func(*Head){
		"power 1 % up":    func(h *Head) { h.Config.Power *= 1.01 },
		"loss 5 % up":     func(h *Head) { h.Config.Loss *= 1.05 },
		"rest 0.1 K up":   func(h *Head) { h.Config.Steps[3].Target += 0.1 },
		"mechanical":      func(h *Head) { h.Config.Relay = 0 },
		"ceiling at 60 C": func(h *Head) { h.Limits.MashCeiling = 60 },
	} {
		r := opened(t, m)
		change(&r.Head)
		result, err := Replay(r)
		if err != nil || result.Difference == nil {
			t.Errorf("%s: not caught (%v)", name, err)
			continue
		}
		if strings.HasPrefix(name, "power") && (result.Drift == nil || !strings.Contains(result.Drift.String(), "State.Law.Mean")) {
			t.Errorf("%s: the state was said to drift in %v", name, result.Drift)
		}
		if d := result.Difference; len(d.Fields) == 0 || d.Tick != result.Ticks+1 || !strings.Contains(d.String(), " was ") {
			t.Errorf("%s: %v after %d equal ticks", name, d, result.Ticks)
		}
	}
}

// Records of another machine are compared within a tolerance, and taken up
// afresh at each checkpoint.
func TestARecordOfAnotherMachineIsComparedByItsFigures(t *testing.T) {
	m := recorded(t, newToy(10))
	r := opened(t, m)
	r.Head.Arch = "another"
	result, err := Replay(r)
	if err != nil || !result.Same() || result.Exact || result.Why == "" {
		t.Errorf("%+v, %v", result, err)
	}
	r = opened(t, m)
	r.Head.Arch = "another"
	r.Head.Config.Loss *= 1.05
	if result, err = Replay(r); err != nil || result.Difference == nil {
		t.Errorf("another loss was not caught: %v", err)
	}
}

// A record of a version with another State: ticks are read, the start of a
// fresh batch is known in any layout, and later checkpoints are left alone.
func TestARecordOfAnotherVersionIsStillReplayed(t *testing.T) {
	day := newToy(11)
	m := recorded(t, day)
	old := []byte(`"State":"` + shapes().State + `"`)
	bad := reseal(t, m, func(kind Kind, payload []byte) []byte {
		if kind == KindHead {
			return bytes.Replace(payload, old, []byte(`"State":"0123456789abcdef"`), 1)
		}
		return payload
	})
	result, err := Replay(opened(t, bad))
	if err != nil || !result.Same() || result.Exact || result.Ticks != uint64(day.n) || result.Checkpoints != 0 {
		t.Errorf("%+v, %v", result, err)
	}
	if _, err := ReplayFrom(opened(t, bad), 500); !errors.Is(err, errTooShort) {
		t.Errorf("from a checkpoint that cannot be read: %v", err)
	}
	unknown := reseal(t, m, func(kind Kind, payload []byte) []byte {
		if kind == KindHead {
			return bytes.Replace(payload, []byte(`"Config":{`), []byte(`"Config":{"Stirrer":1,`), 1)
		}
		return payload
	})
	r := opened(t, unknown) // to look at
	if _, err := Replay(r); r.Foreign() == nil || err == nil || !strings.Contains(err.Error(), "version") {
		t.Errorf("a configuration with more in it than is known: %v", err)
	}
}

// reseal rebuilds a record with other payloads and right sums.
func reseal(tb testing.TB, m *Memory, change func(Kind, []byte) []byte) *Memory {
	tb.Helper()
	out, sum := []byte(magic), firstSum()
	for rest := m.Bytes[len(magic):]; len(rest) > 0; {
		b, need, err := cut(rest)
		if err != nil || need != 0 {
			tb.Fatal(need, err)
		}
		out, sum = seal(out, sum, b.kind, change(b.kind, b.payload))
		rest = rest[b.size:]
	}
	return &Memory{Bytes: out}
}

// A proposal is recorded with its tick from the start, though nothing proposes
// yet, and the core sees it again.
func TestAProposalIsRecordedAndReplayed(t *testing.T) {
	day := newToy(12)
	day.ticks = 60
	p := &proposing{toy: day}
	day.loop.Orders = p
	m := recorded(t, day)
	r, found := opened(t, m), false
	for b, err := r.Next(); err == nil; b, err = r.Next() {
		if b.Kind == KindTick && b.Tick.In.Proposal.Present {
			found = b.Tick.Number == 30 && b.Tick.In.Proposal == proposal()
		}
	}
	result, err := Replay(opened(t, m))
	if !found || err != nil || !result.Same() {
		t.Errorf("found: %v; %v, %v", found, result.Difference, err)
	}
}

type proposing struct{ *toy }

func (p *proposing) Take() (controller.Command, controller.Proposal) {
	c, none := p.toy.Take()
	if p.n == 30 {
		return c, proposal()
	}
	return c, none
}

func proposal() controller.Proposal {
	return controller.Proposal{
		Present: true, Model: observer.Model{Power: 2910, Heated: 4e4, Mash: 8e4, Exchange: 900, Loss: 7, Element: time.Second, Probe: 41 * time.Second},
		Evidence: controller.Evidence{Residual: unit.Kelvin(0.021), Span: time.Hour},
	}
}
