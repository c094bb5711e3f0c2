package pairing

import (
	"net/netip"
	"time"
)

// How often somebody may be wrong.
const (
	perMinute    = 5  // from one address; of IPv6 a whole network of 64 bits, which one machine may have to itself
	perMinuteAll = 50 // from everywhere together
	mostWrong    = 1024
)

// Tries is how many codes can be tried at most while one is valid, which is in
// one minute more than it lasts.
const Tries = perMinuteAll * (int(ValidFor/time.Minute) + 1)

// throttle counts what was wrong, by minutes. Its owner guards it.
type throttle struct {
	minute time.Time // its begin
	from   map[netip.Prefix]int
	all    int
}

// wait is how long somebody has to wait before he may try; 0: he may now.
func (t *throttle) wait(from netip.Addr, now time.Time) time.Duration {
	t.roll(now)
	if t.all < perMinuteAll && t.from[place(from)] < perMinute {
		return 0
	}
	return max(time.Second, t.minute.Add(time.Minute).Sub(now))
}

// wrong notes that somebody was. The first of a minute is worth a line in a log,
// which is no place for strangers to fill.
func (t *throttle) wrong(from netip.Addr, now time.Time) (first bool) {
	t.roll(now)
	t.all++
	if len(t.from) < mostWrong {
		t.from[place(from)]++
	}
	return t.all == 1
}

func (t *throttle) roll(now time.Time) {
	if t.from == nil || now.Sub(t.minute) >= time.Minute || now.Before(t.minute) {
		t.minute, t.from, t.all = now, map[netip.Prefix]int{}, 0
	}
}

// place is what counts as one address.
func place(from netip.Addr) netip.Prefix {
	bits := from.BitLen()
	if from.Is6() {
		bits = 64
	}
	p, err := from.Prefix(bits)
	if err != nil {
		return netip.Prefix{} // of no address: all those are one
	}
	return p
}
