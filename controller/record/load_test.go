package record

import (
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller"
)

const (
	// pageSize is what a kernel writes at least when one byte has changed.
	pageSize = 4096
	// dayAtMost is what a brew day may write.
	dayAtMost = 40 << 20
)

// pages counts what a kernel has to write: every page that was touched since
// the last sync, at every sync.
type pages struct {
	disk
	dirty, written int64 // first page that is dirty; bytes written
	syncs          []int // at which tick
}

func (p *pages) Append(b []byte) error {
	p.dirty = min(p.dirty, int64(len(p.Bytes))/pageSize)
	return p.disk.Append(b)
}

func (p *pages) Sync() error {
	last := (int64(len(p.Bytes)) + pageSize - 1) / pageSize
	p.written += max(0, last-p.dirty) * pageSize
	p.dirty = 1 << 40
	p.syncs = append(p.syncs, p.decided())
	return p.disk.Sync()
}

// A whole day, rough and smooth: at most 40 MiB are written, page by page; two
// syncs are 4 s apart unless something happened; while the batch is held none is
// made, but one for every 128 KiB.
func TestADayWearsTheCardLittle(t *testing.T) {
	for _, rough := range []bool{false, true} {
		day := newToy(40)
		day.rough = rough
		day.wishes[3000] = controller.Command{Wish: controller.Stop}
		day.wishes[6000] = controller.Command{Wish: controller.Resume}
		k := &kept{guard: &day.loop.Guard}
		day.watch(k)
		p := &pages{disk: *newDisk(), dirty: 1 << 40}
		synctest.Test(t, func(t *testing.T) {
			at := 0
			p.decided = func() int { return at }
			r := beginOn(t, p, k)
			synctest.Wait()
			for i := range k.frames {
				at = i + 1
				*k.guard = k.guards[i]
				k.show(r, i)
				if i%60 == 0 {
					r.Forecast(foretold(k.frames[i].Decision.Clock))
				}
				synctest.Wait()
			}
			if err := r.Close(t.Context()); err != nil {
				t.Fatal(err)
			}
		})
		early, held := p.apart(k)
		perTick := float64(len(p.Bytes)) / float64(len(k.frames))
		t.Logf("rough %v: %v, %.1f B a tick, %d syncs, %.1f MiB written in pages of %d B; %d syncs before 4 s were up", rough,
			time.Duration(len(k.frames))*time.Second, perTick, len(p.syncs), float64(p.written)/(1<<20), pageSize, early)
		if p.written > dayAtMost || perTick > 120 || held > 1 || early > 40 || len(p.syncs) < 1000 {
			t.Errorf("%d bytes written, %.1f B a tick, %d syncs while held, %d before 4 s were up", p.written, perTick, held, early)
		}
		if last := k.frames[len(k.frames)-1].Decision; last.Mode != controller.Complete {
			t.Errorf("the day ended %v", last.Mode)
		}
	}
}

// apart counts syncs that came sooner than 4 ticks after another, and those
// made while the batch was held.
func (p *pages) apart(k *kept) (early, held int) {
	for i := 1; i < len(p.syncs)-1; i++ {
		if p.syncs[i]-p.syncs[i-1] < 4 {
			early++
		}
		was := k.frames[p.syncs[i]-2].Decision.Mode
		if is := k.frames[p.syncs[i]-1].Decision.Mode; is == controller.Held && was == controller.Held {
			held++
		}
	}
	return early, held
}
