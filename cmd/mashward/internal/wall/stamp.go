package wall

import "time"

// written is a day before which no clock that is right can meet this program.
var written = time.Date(2026, time.November, 1, 0, 0, 0, 0, time.UTC)

// apart is how far two clocks may part by being slewed, at the least. A time server
// that slews by 500 ppm, as the kernel does, parts them by 22 s in 12 h.
const apart = 30 * time.Second

// Stamp is one moment by two clocks that know nothing of each other. The wall clock is
// a count and not a time.Time: the difference of two of those is taken of the run
// clock wherever it can be, and would hide that the wall clock was set.
type Stamp struct {
	Run  time.Duration // run clock
	Wall int64         // ns since 1970
}

// StampAt is now by both clocks.
func StampAt(run time.Duration, now time.Time) Stamp { return Stamp{run, now.UnixNano()} }

// Agree tells whether both clocks say that the same time has passed since then: nobody
// set the one, and the computer did not sleep, in which the other stands.
func (s Stamp) Agree(then Stamp) bool {
	parted := time.Duration(s.Wall-then.Wall) - (s.Run - then.Run)
	return parted >= -apart && parted <= apart
}

// Doubt is why the wall clock is not to be asked what time it is, as the rest of a
// sentence; "" if it may be.
func (b Boot) Doubt(now time.Time) string {
	switch {
	case now.Before(written):
		return "the clock of this computer shows " + now.Format("2006-01-02") + ", before this program was made"
	case !b.Synced:
		return "no time server keeps the clock of this computer"
	}
	return ""
}
