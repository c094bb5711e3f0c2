package daemon

import (
	"io"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/say"
	"mashward/controller"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile/enzyme"
	"mashward/profile/strict"
)

func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

func parsedRig(t *testing.T) (config.Rig, []strict.Fault) {
	t.Helper()
	rig, faults := config.ParseRig("rig.yaml", []byte(rigText))
	if strict.Refused(faults) {
		t.Fatal(faults)
	}
	return rig, faults
}

func rigFaults() []strict.Fault {
	_, faults := config.ParseRig("rig.yaml", []byte("rig: Test kettle\n"))
	return faults
}

func mkfifo(t *testing.T, name string) {
	t.Helper()
	if err := syscall.Mkfifo(name, 0o600); err != nil {
		t.Fatal(err)
	}
}

func (b *bench) recordFiles() []string {
	b.Helper()
	names, err := filepath.Glob(filepath.Join(b.records, "*"+RecordSuffix))
	if err != nil {
		b.Fatal(err)
	}
	return names
}

func summary(t *testing.T, name string) record.Summary {
	t.Helper()
	f, err := record.View(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := record.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	s, err := record.Summarize(r)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// day is a brew with everything in it, made short.
const dayText = `profile: A short day
water: 26 L
grain: {mass: 4.6 kg, temperature: 18 °C}
steps:
  - {mash-in: 44 °C, for: 6 min}
  - {rest: 50 °C, for: 2 min}
  - {mash-out: 55 °C, for: 2 min}
  - lift
  - {boil: 5 min, additions: [{left: 4 min, add: hops}]}
  - {chill: 40 °C}
`

// brew runs the day, answering each prompt by its button.
func (b *bench) brew() *Snapshot {
	b.Helper()
	b.write("day", dayText)
	hash := b.hash("day")
	_, result, err := b.d.Rehearse("day")
	if err != nil || result.Outcome != "complete" {
		b.Fatal(result.Outcome, result.Reason, err)
	}
	nonce, _, err := b.d.Arm("day", hash, Statements{Litres: 26, BagClear: true, ValveShut: true, RCDTested: true})
	if err != nil {
		b.Fatal(err)
	}
	if r, err := b.d.Begin(b.Context(), nonce); err != nil || !r.Accepted {
		b.Fatal(r, err)
	}
	for {
		s := b.until("a prompt, or the end", func(s *Snapshot) bool {
			return s.Decision.Mode.Ended() || say.Answer(s.Decision.Prompt) != controller.NoWish
		})
		if s.Decision.Mode.Ended() {
			return s
		}
		b.do(say.Answer(s.Decision.Prompt))
	}
}

func TestAWholeDayComesToItsEndAndIsOnRecord(t *testing.T) {
	inBubble(t, func(b *bench) {
		s := b.brew()
		if s.Decision.Mode != controller.Complete {
			b.Fatal(s.Decision.Mode, s.Decision.Reason)
		}
		frames := b.seen.frames()
		id := s.Batch.ID
		b.end()
		names := b.recordFiles()
		if len(names) != 1 || filepath.Base(names[0]) != id+RecordSuffix {
			b.Fatal(names)
		}
		sum := summary(b.T, names[0])
		if !sum.Ended || sum.Outcome != controller.Complete || sum.Torn != 0 || sum.Damage != nil || sum.Lost != 0 {
			b.Errorf("%+v", sum)
		}
		if len(sum.Steps) != 7 { // strike and six
			b.Errorf("%d steps", len(sum.Steps))
		}
		begun := slices.IndexFunc(frames, func(f frame) bool { return f.Decision.Mode == controller.Running })
		ended := slices.IndexFunc(frames, func(f frame) bool { return f.Decision.Mode.Ended() })
		if want := uint64(ended - begun + 1); sum.Ticks != want {
			b.Errorf("%d ticks on record, %d ran", sum.Ticks, want)
		}
		if !strings.Contains(sum.Head.ProfileText, "A short day") || !sum.Head.Simulated || sum.Head.Program != "test" {
			b.Errorf("head: %+v", sum.Head)
		}
		if strings.Contains(b.log.String(), "level=ERROR") {
			b.Error(b.log)
		}
	})
}

func TestEachBatchHasARecordOfItsOwn(t *testing.T) {
	inBubble(t, func(b *bench) {
		for range 2 {
			b.run("warm")
			if s := b.until("end", func(s *Snapshot) bool { return s.Decision.Mode.Ended() }); s.Decision.Mode != controller.Complete {
				b.Fatal(s.Decision.Mode, s.Decision.Reason)
			}
			for _, e := range b.d.Latest().Log {
				if strings.Contains(e.Text, "Heat is cut") {
					b.Errorf("in a healthy batch: %s", e.Text)
				}
			}
			pass(time.Minute)
		}
		b.end()
		names := b.recordFiles()
		if len(names) != 2 {
			b.Fatal(names)
		}
		for _, name := range names {
			if s := summary(b.T, name); s.Outcome != controller.Complete || !s.Ended {
				b.Errorf("%s: %+v", name, s.Outcome)
			}
		}
	})
}

func TestARecordIsClosedWholeWhenTheDaemonEndsInTheMiddle(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		pass(time.Minute)
		b.end()
		last := b.d.Latest()
		names := b.recordFiles()
		if len(names) != 1 {
			b.Fatal(names)
		}
		s := summary(b.T, names[0])
		if s.Ended || s.Torn != 0 || s.Damage != nil || s.Duration != last.Decision.Clock {
			b.Errorf("ended %v, torn %d, %v of %v", s.Ended, s.Torn, s.Duration, last.Decision.Clock)
		}
		if strings.Contains(b.log.String(), "level=ERROR") {
			b.Error(b.log)
		}
	})
}

func TestABatchWithoutARecordRunsAndSaysSo(t *testing.T) {
	inBubbleWith(t, func(o *Options) { o.Records = filepath.Join(o.Records, "gone") }, func(b *bench) {
		b.run("warm")
		s := b.d.Latest()
		if !slices.ContainsFunc(s.Log, func(e Entry) bool { return strings.HasPrefix(e.Text, "This batch is not recorded: ") }) {
			b.Errorf("%+v", s.Log)
		}
		if s := b.until("end", func(s *Snapshot) bool { return s.Decision.Mode.Ended() }); s.Decision.Mode != controller.Complete {
			b.Error(s.Decision.Mode)
		}
	})
}

// What a snapshot holds never changes, whatever happens after it: readers keep
// old ones while the loop goes on, and compare them with copies taken at once.
func TestSnapshotsNeverChange(t *testing.T) {
	inBubble(t, func(b *bench) {
		type kept struct {
			s       *Snapshot
			history []Point
			log     []Entry
		}
		const readers = 4
		all := make(chan []kept, readers)
		stop := make(chan struct{})
		for range readers {
			go func() {
				var mine []kept
				for {
					changed := b.d.Changed()
					s := b.d.Latest()
					if len(mine) < 500 || s.Number%20 == 0 {
						mine = append(mine, kept{s, slices.Clone(s.History), slices.Clone(s.Log)})
					}
					select {
					case <-changed:
					case <-stop:
						all <- mine
						return
					}
				}
			}()
		}
		b.brew()
		b.run("warm")
		pass(5 * time.Minute)
		close(stop)
		for range readers {
			var before kept
			for _, k := range <-all {
				if !slices.EqualFunc(k.s.History, k.history, samePoint) || !slices.Equal(k.s.Log, k.log) {
					b.Fatalf("snapshot %d has changed", k.s.Number)
				}
				if before.s != nil && before.s.Batch == k.s.Batch {
					if len(k.history) < len(before.history) || !slices.EqualFunc(k.history[:len(before.history)], before.history, samePoint) {
						b.Fatalf("history of %d is no continuation of that of %d", k.s.Number, before.s.Number)
					}
					if len(k.log) < len(before.log) || !slices.Equal(k.log[:len(before.log)], before.log) {
						b.Fatalf("log of %d is no continuation of that of %d", k.s.Number, before.s.Number)
					}
				}
				before = k
			}
			if len(before.history) < 50 || len(before.log) < 2 {
				b.Fatalf("only %d points and %d entries", len(before.history), len(before.log))
			}
		}
	})
}

func samePoint(a, b Point) bool {
	same := func(x, y float32) bool { return math.Float32bits(x) == math.Float32bits(y) }
	return a.At == b.At && same(a.Reading, b.Reading) && same(a.Estimate, b.Estimate) && same(a.Target, b.Target) && same(a.Duty, b.Duty) && a.Step == b.Step
}

func TestTheHistoryIsThatOfTheBatch(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		s := b.until("end", func(s *Snapshot) bool { return s.Decision.Mode.Ended() })
		for i, p := range s.History {
			if i > 0 && p.At-s.History[i-1].At != 5*time.Second {
				b.Fatalf("point %d at %v after %v", i, p.At, s.History[i-1].At)
			}
			if p.Target != 20 || p.Duty < 0 || p.Duty > 1 || !(p.Reading > 5 && p.Reading < 25) {
				b.Fatalf("%+v", p)
			}
		}
		if n, want := len(s.History), int(s.Decision.Clock/(5*time.Second)); n < want || n > want+1 {
			b.Errorf("%d points in %v", n, s.Decision.Clock)
		}
		// The same energy, from the points and from the frames.
		var on, mean float64
		for _, f := range b.seen.frames() {
			if f.Decision.Mode.Heats() {
				on += float64(f.Permitted)
			}
		}
		for _, p := range s.History[1:] {
			mean += float64(p.Duty) * 5
		}
		mean += float64(s.History[0].Duty)
		if math.Abs(on-mean) > 5 {
			b.Errorf("%.0f s on, by the history %.1f s", on, mean)
		}
	})
}

func TestADaemonThatStandsForMonthsDoesNotGrow(t *testing.T) {
	d := New(Options{Now: time.Now, Log: quiet()})
	for i := range 10 * mostEntries {
		shown, last := d.log, Entry{}
		if i > 0 {
			last = shown[0]
		}
		d.tell(Entry{At: time.Duration(i)})
		if i > 0 && shown[0] != last {
			t.Fatal("what a snapshot shows has changed")
		}
		if len(d.log) > mostEntries || d.log[len(d.log)-1].At != time.Duration(i) || i > mostEntries && len(d.log) < mostEntries/2 {
			t.Fatal(len(d.log), "entries")
		}
	}
	var h history
	var f frame
	for range 2 * mostPoints {
		f.Decision.Clock += every
		h.add(&f, &enzyme.Course{})
	}
	if len(h.points) != mostPoints {
		t.Error(len(h.points), "points")
	}
}

func TestATripAndACutAreInTheLogOnce(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		b.pan.blind.Store(true)
		s := b.until("trip", func(s *Snapshot) bool { return s.Trip != 0 })
		s = b.until("a few ticks more", func(n *Snapshot) bool { return n.Number > s.Number+5 })
		for _, want := range []string{"Heat is cut for a while: stale.", "Heat is cut and stays off: stale."} {
			n := 0
			for _, e := range s.Log {
				if e.Text == want {
					n++
				}
			}
			if n != 1 {
				b.Errorf("%q stands there %d times", want, n)
			}
		}
		if s.Heating == unit.On || s.Decision.Mode != controller.Held {
			b.Error(s.Decision.Mode)
		}
	})
}

func TestAFileThatDiffersFromWhatRunsIsSaid(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "rig.yaml")
	put := func(text string) {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	put(rigText)
	inBubbleWith(t, func(o *Options) { o.RigPath = path }, func(b *bench) {
		go b.d.WatchFiles(b.Context())
		b.run("warm")
		pass(7 * time.Second)
		if s := b.d.Latest(); s.Differs != "" {
			b.Error(s.Differs)
		}
		b.write("warm", strings.Replace(profileText, "20 °C", "21 °C", 1))
		pass(7 * time.Second)
		if s := b.d.Latest(); !strings.HasPrefix(s.Differs, "warm.yaml on disk differs from what runs, from line 4 on.") {
			b.Error(s.Differs)
		}
		put(strings.Replace(rigText, "7 W/K", "8 W/K", 1))
		pass(7 * time.Second)
		if s := b.d.Latest(); !strings.HasPrefix(s.Differs, "rig.yaml on disk differs from what runs, from line 2 on.") || s.Decision.Mode != controller.Running {
			b.Error(s.Differs)
		}
	})
}
