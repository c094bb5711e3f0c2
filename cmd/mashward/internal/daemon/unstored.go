package daemon

import "mashward/controller/loop"

// unstored is what stands between this batch and storage; nil if nothing.
func (d *Daemon) unstored(f *loop.Frame) error {
	switch b := d.batch; {
	case b == nil || f.Decision.Mode.Ended():
		return nil
	case b.recorder == nil:
		return b.unrecorded
	default:
		return b.recorder.Err()
	}
}

// noteRecord says once that storage does not take what happens, and once that
// it does again. The batch goes on meanwhile.
func (d *Daemon) noteRecord(f *loop.Frame) {
	last := d.latest.Load()
	was, is := last.Unstored, d.unstored(f)
	if last.Batch != d.batch {
		was = nil // that was about another one
	}
	switch {
	case d.batch == nil || d.batch.recorder == nil: // said as it began
	case is != nil && was == nil:
		d.o.Log.Error("storage does not take the record", "batch", d.batch.ID, "error", is)
		d.tell(Entry{At: f.Decision.Clock, Wall: d.o.Now(), Text: "Storage does not take the record: the batch goes on, and a power cut now would lose what happens from here."})
	case is == nil && was != nil && !f.Decision.Mode.Ended():
		d.o.Log.Warn("storage takes the record again", "batch", d.batch.ID, "lost_ticks", d.batch.recorder.Lost())
		d.tell(Entry{At: f.Decision.Clock, Wall: d.o.Now(), Text: "Storage takes the record again."})
	}
}
