package daemon

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"mashward/controller"
)

// A board without a battery begins in 1970: the batch that was cut off last is
// offered although the file of an older one is younger by decades.
func TestTheBatchThatBeganLastIsOfferedWhateverTheTimesOfTheFiles(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		b.mode(controller.Complete)
		over := b.d.Latest().Batch.ID
		b.write("day", wholeDay)
		b.run("day")
		before := b.answered("rest", resting)
		b.kill(time.Minute, func(o *Options) {
			for id, at := range map[string]time.Time{over: time.Date(2038, 1, 20, 0, 0, 0, 0, time.UTC), before.Batch.ID: time.Unix(600, 0)} {
				if err := os.Chtimes(filepath.Join(o.Records, id+RecordSuffix), at, at); err != nil {
					t.Fatal(err)
				}
			}
		})
		s := b.d.Latest()
		if s.Offer == nil || s.Batch.ID != before.Batch.ID || s.Decision.Earned < before.Decision.Earned-5*time.Second {
			t.Errorf("%v, offer %+v\n%s", s.Decision.Mode, s.Offer, b.log)
		}
	})
}

// By a clock that stands every batch begins in the same moment. Each is recorded.
func TestBatchesThatBeginInOneMomentHaveARecordEach(t *testing.T) {
	stands := func(o *Options) { o.Now = func() time.Time { return time.Unix(1000, 0) } }
	inBubbleWith(t, stands, func(b *bench) {
		seen := map[string]bool{}
		for range 3 {
			b.run("warm")
			s := b.mode(controller.Complete)
			if seen[s.Batch.ID] || strings.Contains(b.log.String(), "no record of this batch") {
				t.Errorf("%s: %s", s.Batch.ID, b.log)
			}
			seen[s.Batch.ID] = true
			pass(time.Minute)
		}
		for id := range seen {
			if about, err := os.Stat(filepath.Join(b.records, id+RecordSuffix)); err != nil || about.Size() < 1000 {
				t.Errorf("%s: %v, %v", id, about, err)
			}
		}
	})
}
