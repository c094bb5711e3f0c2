package daemon

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"mashward/controller"
)

// A record of another rig, copied into the folder, has a higher order than all that
// were begun here. Its batch is not offered: not in place of this kettle's own, and
// not where there is none. Why is said.
func TestARecordFromAnotherFolderIsNotOffered(t *testing.T) {
	var foreign []byte
	inBubble(t, func(b *bench) {
		for range 3 { // so that its order is high
			b.run("warm")
			b.do(controller.End)
			pass(time.Minute)
		}
		b.run("warm")
		pass(2 * time.Minute)
		id := b.d.Latest().Batch.ID
		b.kill(time.Minute, as)
		if s := b.d.Latest(); s.Decision.Mode != controller.Offered {
			t.Fatalf("where it was begun it is %v", s.Decision.Mode)
		}
		var err error
		if foreign, err = os.ReadFile(filepath.Join(b.records, id+RecordSuffix)); err != nil {
			t.Fatal(err)
		}
	})
	bring := func(b *bench) func(*Options) {
		return func(*Options) {
			if err := os.WriteFile(filepath.Join(b.records, "brought"+RecordSuffix), foreign, 0o600); err != nil {
				b.Fatal(err)
			}
		}
	}
	inBubble(t, func(b *bench) {
		b.run("warm")
		own := b.d.Latest().Batch.ID
		pass(2 * time.Minute)
		b.kill(time.Minute, bring(b))
		s := b.d.Latest()
		if s.Decision.Mode != controller.Offered || s.Batch.ID != own || s.Unoffered != "" {
			t.Errorf("%v, %+v, %q; want %s offered", s.Decision.Mode, s.Batch, s.Unoffered, own)
		}
		b.do(controller.End)
		pass(time.Minute)
		b.kill(time.Minute, as)
		s = b.d.Latest()
		if s.Decision.Mode != controller.Idle || !strings.Contains(s.Unoffered, "another folder") || !strings.Contains(s.Unoffered, "brought"+RecordSuffix) {
			t.Errorf("%v, %q; want nothing offered and why", s.Decision.Mode, s.Unoffered)
		}
		b.run("warm")
		own = b.d.Latest().Batch.ID
		pass(2 * time.Minute)
		b.kill(time.Minute, as)
		if s := b.d.Latest(); s.Decision.Mode != controller.Offered || s.Batch.ID != own {
			t.Errorf("begun after it: %v, %+v; want %s offered", s.Decision.Mode, s.Batch, own)
		}
	})
}

// A folder whose name cannot be read has records of which nobody knows whether they
// are of this kettle.
func TestAFolderWithoutItsNameOffersNothingThatHasOne(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		pass(2 * time.Minute)
		b.kill(time.Minute, func(*Options) {
			if err := os.Remove(filepath.Join(b.records, identityFile)); err != nil {
				b.Fatal(err)
			}
		})
		if s := b.d.Latest(); s.Decision.Mode != controller.Idle || !strings.Contains(s.Unoffered, "Look at the kettle") {
			t.Errorf("%v, %q", s.Decision.Mode, s.Unoffered)
		}
	})
}
