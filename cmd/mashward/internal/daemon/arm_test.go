package daemon

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
)

func TestNothingIsArmedWithoutAllFourStatements(t *testing.T) {
	inBubble(t, func(b *bench) {
		hash := b.hash("warm")
		b.d.shelf.put(hash, rehearse.Result{Outcome: "complete"})
		for what, spoil := range map[string]func(*Statements){
			"bag or false bottom": func(s *Statements) { s.BagClear = false },
			"valve":               func(s *Statements) { s.ValveShut = false },
			"RCD":                 func(s *Statements) { s.RCDTested = false },
			"state 23.7 L":        func(s *Statements) { s.Litres = 23.7 },
			"state 26.3 L":        func(s *Statements) { s.Litres = 26.3 },
			"as a number":         func(s *Statements) { s.Litres = math.NaN() },
			"how many litres":     func(s *Statements) { *s = Statements{} },
		} {
			s := stated()
			spoil(&s)
			nonce, _, err := b.d.Arm("warm", hash, s)
			var unstated *Unstated
			if !errors.As(err, &unstated) || !strings.Contains(err.Error(), what) || nonce != "" {
				b.Errorf("%s: armed %q, error %v", what, nonce, err)
			}
		}
		for _, litres := range []float64{23.75, 26.25} { // 5 % off
			s := stated()
			s.Litres = litres
			if _, _, err := b.d.Arm("warm", hash, s); err != nil {
				b.Errorf("%v L: %v", litres, err)
			}
		}
	})
}

func TestWhatWasNotRehearsedToItsEndIsNotArmed(t *testing.T) {
	inBubble(t, func(b *bench) {
		hash := b.hash("warm")
		if _, _, err := b.d.Arm("warm", hash, stated()); !errors.Is(err, ErrNotRehearsed) {
			b.Error("never rehearsed:", err)
		}
		for _, outcome := range []string{"held", "aborted", "stopped", ""} {
			b.d.shelf.put(hash, rehearse.Result{Outcome: outcome})
			if _, _, err := b.d.Arm("warm", hash, stated()); !errors.Is(err, ErrNotRehearsed) {
				b.Errorf("rehearsal %q: %v", outcome, err)
			}
		}
		_, result, err := b.d.Rehearse("warm")
		if err != nil || result.Outcome != "complete" {
			b.Fatal(result.Outcome, err)
		}
		if nonce, _, err := b.d.Arm("warm", hash, stated()); err != nil || nonce == "" {
			b.Error("rehearsed:", err)
		}
	})
}

func TestAProfileThatChangedSinceItWasLookedAtIsNotArmed(t *testing.T) {
	inBubble(t, func(b *bench) {
		old := b.hash("warm")
		b.d.shelf.put(old, rehearse.Result{Outcome: "complete"})
		b.write("warm", strings.Replace(profileText, "20 °C", "60 °C", 1))
		if _, _, err := b.d.Arm("warm", old, stated()); !errors.Is(err, ErrChanged) {
			b.Error("old hash:", err)
		}
		if _, _, err := b.d.Arm("warm", b.hash("warm"), stated()); !errors.Is(err, ErrNotRehearsed) {
			b.Error("new hash, rehearsed with the old text only:", err)
		}
	})
}

func TestWhatWasArmedRunsAlthoughTheFileChangesBeforeTheStart(t *testing.T) {
	inBubble(t, func(b *bench) {
		nonce := b.arm("warm")
		b.write("warm", strings.Replace(profileText, "20 °C", "60 °C", 1))
		if r, err := b.d.Begin(b.Context(), nonce); err != nil || !r.Accepted {
			b.Fatal(r, err)
		}
		s := b.mode(controller.Running)
		if s.Decision.Target != 20 || !strings.Contains(string(s.Batch.Text), "20 °C") {
			b.Errorf("target %v, text %s", s.Decision.Target, s.Batch.Text)
		}
	})
}

func TestAnArmingIsGoodForOneStartWithinFiveMinutes(t *testing.T) {
	inBubble(t, func(b *bench) {
		for _, nonce := range []string{"", "x"} {
			if _, err := b.d.Begin(b.Context(), nonce); !errors.Is(err, ErrNonce) {
				b.Errorf("nonce %q: %v", nonce, err)
			}
		}
		first := b.arm("warm")
		pass(5*time.Minute + time.Second)
		if _, err := b.d.Begin(b.Context(), first); !errors.Is(err, ErrNonce) {
			b.Error("after 5 min 1 s:", err)
		}
		second := b.arm("warm")
		third := b.arm("warm")
		if _, err := b.d.Begin(b.Context(), second); !errors.Is(err, ErrNonce) {
			b.Error("an older arming:", err)
		}
		pass(5*time.Minute - 2*time.Second)
		if r, err := b.d.Begin(b.Context(), third); err != nil || !r.Accepted {
			b.Error("after 4 min 58 s:", r, err)
		}
		if _, err := b.d.Begin(b.Context(), third); !errors.Is(err, ErrSpent) {
			b.Error("the same again:", err)
		}
	})
}

func TestADoubleClickStartsOnce(t *testing.T) {
	inBubble(t, func(b *bench) {
		nonce := b.arm("warm")
		const clicks = 8
		accepted := make(chan bool, clicks)
		for range clicks {
			go func() {
				r, err := b.d.Begin(b.Context(), nonce)
				if err != nil && !errors.Is(err, ErrSpent) {
					b.Error(err)
				}
				accepted <- err == nil && r.Accepted
			}()
		}
		count := 0
		for range clicks {
			if <-accepted {
				count++
			}
		}
		if count != 1 {
			b.Errorf("%d starts", count)
		}
	})
}

func TestNothingIsArmedOrBegunWhileABatchRuns(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		if _, _, err := b.d.Arm("warm", b.hash("warm"), stated()); !errors.Is(err, ErrRunning) {
			b.Error("running:", err)
		}
		b.do(controller.Stop)
		b.mode(controller.Held)
		if _, _, err := b.d.Arm("warm", b.hash("warm"), stated()); !errors.Is(err, ErrRunning) {
			b.Error("held:", err)
		}
		b.do(controller.End)
		b.mode(controller.Stopped)
		b.run("warm")
	})
}

// The second of two starts that both passed the first check reaches the loop
// with a batch under way: it is refused there, and the batch goes on.
func TestAStartThatComesBehindAnotherLeavesTheBatchAlone(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		first := b.d.Latest().Batch
		other, _, err := b.d.Plan("warm")
		if err != nil {
			b.Fatal(err)
		}
		r, err := b.d.send(b.Context(), &order{command: controller.Command{Wish: controller.Start}, batch: other})
		if err != nil || r.Accepted || r.Why != controller.AlreadyStarted {
			b.Error(r, err)
		}
		if s := b.d.Latest(); s.Batch != first || s.Decision.Mode != controller.Running || s.Heating != unit.On {
			b.Error("the batch did not go on")
		}
	})
}

func TestNothingIsArmedWhileATripStands(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		b.pan.blind.Store(true)
		b.until("trip", func(s *Snapshot) bool { return s.Trip == interlock.Stale })
		b.mode(controller.Held)
		b.do(controller.End)
		b.mode(controller.Aborted)
		if _, _, err := b.d.Arm("warm", b.hash("warm"), stated()); !errors.Is(err, ErrTripped) {
			b.Error("after the batch was ended:", err)
		}
		b.pan.blind.Store(false)
		pass(30 * time.Second)
		if s := b.d.Latest(); s.Trip != interlock.Stale {
			b.Fatal("a trip went away by itself")
		}
		b.do(controller.ClearTrip)
		b.until("cleared", func(s *Snapshot) bool { return s.Trip == interlock.NoRule })
		b.run("warm")
	})
}

func TestSTOPVoidsAnArming(t *testing.T) {
	inBubble(t, func(b *bench) {
		nonce := b.arm("warm")
		if _, err := b.d.Stop(b.Context()); err != nil {
			b.Fatal(err)
		}
		if _, err := b.d.Begin(b.Context(), nonce); !errors.Is(err, ErrStopped) {
			b.Error(err)
		}
		pass(3 * time.Second)
		if s := b.d.Latest(); s.Decision.Mode != controller.Idle || s.Heating != unit.Off {
			b.Error(s.Decision.Mode)
		}
		b.run("warm") // a new arming is good again
	})
}

func TestABrokenRigHeatsNothingAndSaysWhy(t *testing.T) {
	broken := func(o *Options) { o.Kettle, o.RigFaults = nil, rigFaults() }
	inBubbleWith(t, broken, func(b *bench) {
		if s := b.d.Latest(); !s.HeatDisabled || len(s.RigFaults) == 0 {
			b.Fatalf("%+v", s)
		}
		text, _, err := b.d.Plan("warm")
		if !errors.Is(err, ErrDisabled) || text == nil {
			b.Error("plan:", err)
		}
		if _, _, err := b.d.Rehearse("warm"); !errors.Is(err, ErrDisabled) {
			b.Error("rehearsal:", err)
		}
		if _, _, err := b.d.Arm("warm", text.Hash, stated()); !errors.Is(err, ErrDisabled) {
			b.Error("arm:", err)
		}
		if _, err := b.d.Do(b.Context(), controller.Command{Wish: controller.ClearTrip}); !errors.Is(err, ErrDisabled) {
			b.Error("command:", err)
		}
		if _, err := b.d.Stop(b.Context()); !errors.Is(err, ErrDisabled) {
			b.Error("stop:", err)
		}
		if list, err := b.d.Profiles(); err != nil || len(list) != 1 || list[0].Name != "Warm water" {
			b.Error(list, err)
		}
	})
}

func TestOnlyOrdinaryFilesWithPlainNamesAreProfiles(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.write("a b", profileText)
		b.write(strings.Repeat("x", 65), profileText)
		mkfifo(b.T, b.folder+"/pipe.yaml")
		list, err := b.d.Profiles()
		if err != nil || len(list) != 1 || list[0].ID != "warm" {
			b.Error(list, err)
		}
		for _, id := range []string{"", ".", "..", "../rig", "a b", "pipe", "nowhere", "warm.yaml", strings.Repeat("x", 65), "a\x00b"} {
			if _, _, err := b.d.Plan(id); !errors.Is(err, ErrNoProfile) {
				b.Errorf("%q: %v", id, err)
			}
		}
	})
}

// A profile with a mistake in its first key is listed, so that it is seen; what
// lies beside the profiles is not.
func TestARigBesideTheProfilesIsNoProfile(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.write("kettle", rigText)
		b.write("trouble", "faults:\n  - {at: 1 min, fault: lid-off}\n")
		b.write("truth", "plant: Test kettle\n")
		b.write("found", "tuning: Test kettle\n")
		b.write("misspelt", strings.Replace(profileText, "profile:", "proflie:", 1))
		b.write("empty", "")
		list, err := b.d.Profiles()
		var ids []string
		for _, l := range list {
			ids = append(ids, l.ID)
		}
		if err != nil || !slices.Equal(ids, []string{"empty", "misspelt", "warm"}) {
			b.Error(ids, err)
		}
	})
}

func TestOneRehearsalAtATime(t *testing.T) {
	inBubble(t, func(b *bench) {
		if !b.d.shelf.take() {
			b.Fatal("busy")
		}
		if _, _, err := b.d.Rehearse("warm"); !errors.Is(err, ErrRehearsing) {
			b.Error(err)
		}
		b.d.shelf.free()
		if _, _, err := b.d.Rehearse("warm"); err != nil {
			b.Error(err)
		}
	})
}

func TestAProfileThatCannotBeRunIsNeitherRehearsedNorArmed(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.write("big", strings.Replace(profileText, "25 L", "90 L", 1))
		var refused *Refusal
		if _, _, err := b.d.Rehearse("big"); !errors.As(err, &refused) || !strings.Contains(err.Error(), "big.yaml:2") {
			b.Error(err)
		}
		hash := b.hash("big")
		b.d.shelf.put(hash, rehearse.Result{Outcome: "complete"})
		if _, _, err := b.d.Arm("big", hash, Statements{Litres: 90, BagClear: true, ValveShut: true, RCDTested: true}); !errors.As(err, &refused) {
			b.Error(err)
		}
	})
}
