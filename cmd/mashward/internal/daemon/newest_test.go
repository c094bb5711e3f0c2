package daemon

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/record"
)

// lay writes a record that has only begun.
func lay(t *testing.T, folder, name string, head record.Head, written time.Time, more int) string {
	t.Helper()
	path := filepath.Join(folder, name+RecordSuffix)
	f, err := record.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	r, err := record.New(f, head, controller.Initial(), record.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for range more {
		r.Note("longer")
	}
	if err := r.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	stamp(t, path, written)
	return path
}

func stamp(t *testing.T, path string, at time.Time) {
	t.Helper()
	if err := os.Chtimes(path, at, at); err != nil {
		t.Fatal(err)
	}
}

func TestTheNewestRecordIsTheOneBegunLast(t *testing.T) {
	day := func(n int) time.Time { return time.Date(2026, 11, n, 12, 0, 0, 0, time.UTC) }
	order := func(n uint64) record.Head { return record.Head{Order: n} }
	for name, c := range map[string]struct {
		lay     func(folder string)
		want    string
		most    uint64
		foreign string
	}{
		"nothing": {func(string) {}, "", 0, ""},
		"times as they were": {func(f string) {
			lay(t, f, "a", order(1), day(1), 0)
			lay(t, f, "b", order(2), day(2), 0)
		}, "b", 2, ""},
		"times reversed": {func(f string) {
			lay(t, f, "a", order(1), day(20), 0)
			lay(t, f, "b", order(2), day(2), 0)
			lay(t, f, "c", order(3), time.Unix(0, 0), 0)
		}, "c", 3, ""},
		"a copy made halfway": {func(f string) {
			lay(t, f, "a", order(1), day(1), 0)
			lay(t, f, "b", order(2), day(2), 9)
			lay(t, f, "copy of b", order(2), day(3), 2)
		}, "b", 2, ""},
		"the other kind of kettle": {func(f string) {
			lay(t, f, "a", order(1), day(1), 0)
			lay(t, f, "b", record.Head{Order: 2, Simulated: true}, day(2), 0)
		}, "a", 2, ""},
		"all from before there was an order": {func(f string) {
			lay(t, f, "a", order(0), day(3), 0)
			lay(t, f, "b", order(0), day(2), 0)
		}, "a", 0, ""},
		"some from before": {func(f string) {
			lay(t, f, "a", order(0), day(3), 0)
			lay(t, f, "b", order(1), day(2), 0)
		}, "b", 1, ""},
		"a newer one that cannot be read": {func(f string) {
			lay(t, f, "a", order(1), day(1), 0)
			spoil(t, lay(t, f, "b", order(2), day(2), 0), day(2))
		}, "b", 1, ""},
		"an older one that cannot be read": {func(f string) {
			spoil(t, lay(t, f, "a", order(1), day(1), 0), day(1))
			lay(t, f, "b", order(2), day(2), 0)
		}, "b", 2, ""},
		"a copy from elsewhere with a higher order": {func(f string) {
			lay(t, f, "a", record.Head{Order: 1, Folder: "here"}, day(1), 0)
			lay(t, f, "b", record.Head{Order: 7, Folder: "there"}, day(2), 0)
		}, "a", 7, "b"},
		"a copy from elsewhere with a lower one": {func(f string) {
			lay(t, f, "a", record.Head{Order: 1, Folder: "there"}, day(3), 0)
			lay(t, f, "b", record.Head{Order: 2, Folder: "here"}, day(2), 0)
		}, "b", 2, ""},
		"nothing but a copy from elsewhere": {func(f string) { lay(t, f, "a", record.Head{Order: 1, Folder: "there"}, day(3), 0) }, "", 1, "a"},
	} {
		t.Run(name, func(t *testing.T) {
			folder := t.TempDir()
			c.lay(folder)
			path, foreign, most, err := newest(folder, "here", false)
			if got := strings.TrimSuffix(filepath.Base(path), RecordSuffix); err != nil || path != "" && got != c.want || path == "" && c.want != "" || most != c.most {
				t.Errorf("%q, highest order %d, %v; want %q, %d", path, most, err, c.want, c.most)
			}
			if got := strings.TrimSuffix(filepath.Base(foreign), RecordSuffix); foreign != "" && got != c.foreign || foreign == "" && c.foreign != "" {
				t.Errorf("%q is foreign; want %q", foreign, c.foreign)
			}
		})
	}
}

// spoil makes a head unreadable.
func spoil(t *testing.T, path string, at time.Time) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text[len(text)/4] ^= 1
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	stamp(t, path, at)
}

// A board whose clock came up in 1970 for its second batch, and a first one whose
// file was touched since: what is offered is the second.
func TestTheLastBatchIsOfferedWhateverTheTimesOfTheFiles(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		first := b.d.Latest().Batch.ID
		if _, err := b.d.Stop(b.Context()); err != nil {
			t.Fatal(err)
		}
		b.kill(time.Minute, as) // so that a later start has to count on
		b.do(controller.End)
		pass(time.Minute)
		b.run("warm")
		second := b.d.Latest().Batch.ID
		b.kill(time.Minute, func(*Options) {
			stamp(t, filepath.Join(b.records, first+RecordSuffix), time.Now())
			stamp(t, filepath.Join(b.records, second+RecordSuffix), time.Unix(0, 0))
		})
		s := b.d.Latest()
		if s.Decision.Mode != controller.Offered || s.Batch.ID != second || s.Unoffered != "" {
			t.Errorf("offered is %+v (%v), want %s; %s", s.Batch, s.Decision.Mode, second, s.Unoffered)
		}
		if s.Offer == nil || s.Offer.Known {
			t.Errorf("a file of 1970 is believed: %+v", s.Offer)
		}
	})
}

// A file that was touched in the outage would make a long one short.
func TestAFileThatWasTouchedMakesNoOutageShort(t *testing.T) {
	touch := func(b *bench) func(*Options) {
		return func(*Options) {
			paths, _ := filepath.Glob(filepath.Join(b.records, "*"+RecordSuffix))
			for _, p := range paths {
				stamp(b.T, p, time.Now())
			}
		}
	}
	inBubble(t, func(b *bench) {
		b.runWithin(5 * time.Minute)
		b.answered("rest", resting)
		b.kill(time.Hour, touch(b))
		if o := b.d.Latest().Offer; o == nil || o.Known {
			t.Errorf("the touched file is believed: %+v", o)
		}
		if b.byItself() {
			t.Error("it goes on by itself an hour later")
		}
		// The same process again, cut off while it offers: its own clock counts now.
		b.kill(time.Minute, as)
		if o := b.d.Latest().Offer; o == nil || o.Known {
			t.Errorf("two outages, one of them not known: %+v", o)
		}
	})
}

// Of a batch that cannot be offered people are told what, why and what to do,
// until another one begins.
func TestABatchThatCannotBeOfferedIsSaid(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(b *bench)
		says  string
	}{
		"an empty record": {func(b *bench) {
			paths, _ := filepath.Glob(filepath.Join(b.records, "*"+RecordSuffix))
			if err := os.Truncate(paths[0], 0); err != nil {
				b.Fatal(err)
			}
		}, "power failed as it began"},
		"a record that breaks off after its head": {func(b *bench) {
			paths, _ := filepath.Glob(filepath.Join(b.records, "*"+RecordSuffix))
			if err := os.Truncate(paths[0], headLength(b.T, paths[0])); err != nil {
				b.Fatal(err)
			}
		}, "no state"},
	} {
		t.Run(name, func(t *testing.T) {
			inBubble(t, func(b *bench) {
				b.run("warm")
				b.kill(time.Minute, func(*Options) { c.spoil(b) })
				s := b.d.Latest()
				if s.Decision.Mode != controller.Idle || !strings.Contains(s.Unoffered, c.says) || !strings.Contains(s.Unoffered, RecordSuffix) || !strings.Contains(s.Unoffered, "Look at the kettle") {
					t.Errorf("%v: %q", s.Decision.Mode, s.Unoffered)
				}
				b.run("warm")
				if s := b.d.Latest(); s.Unoffered != "" {
					t.Errorf("still said in the next batch: %q", s.Unoffered)
				}
				b.kill(time.Minute, as)
				if s := b.d.Latest(); s.Decision.Mode != controller.Offered || s.Unoffered != "" {
					t.Errorf("then %v: %q", s.Decision.Mode, s.Unoffered)
				}
			})
		})
	}
}

// headLength is where the first block behind the head begins.
func headLength(t *testing.T, path string) int64 {
	t.Helper()
	f, err := record.View(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := record.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	b, err := r.Next()
	if err != nil {
		t.Fatal(err)
	}
	return b.Offset
}

func TestTheTimeOfAStartComesBackFromItsNote(t *testing.T) {
	at := time.Date(2026, 11, 26, 7, 8, 9, 0, time.UTC)
	if got, ok := timeOf(noteOf(at)); !ok || !got.Equal(at) {
		t.Errorf("%v, %v", got, ok)
	}
	for _, note := range []string{"", "a line refused: x", wall.Boot{ID: "a"}.String(), noteOf(at) + "."} {
		if got, ok := timeOf(note); ok {
			t.Errorf("%q is read as %v", note, got)
		}
	}
}
