package wall

import (
	"strings"
	"testing"
	"time"
)

// The run clock's time is what passes; a wall clock is slewed by 500 ppm at most by
// the kernel (adjtimex(2)), and else it is set.
func TestClocksAgreeWhereTheWallClockWasNotSet(t *testing.T) {
	then := StampAt(time.Hour, time.Date(2026, 11, 27, 22, 0, 0, 0, time.UTC))
	for _, c := range []struct {
		run, wall time.Duration
		want      bool
	}{
		{0, 0, true},
		{8 * time.Hour, 8 * time.Hour, true},
		{12 * time.Hour, 12*time.Hour + 22*time.Second, true}, // slewed all the while
		{12 * time.Hour, 12*time.Hour - 22*time.Second, true},
		{8 * time.Hour, 8*time.Hour + time.Minute, false},
		{8 * time.Hour, 8*time.Hour - time.Minute, false},
		{8 * time.Hour, 9 * time.Hour, false},
		{8 * time.Hour, 7 * time.Hour, false},
		{time.Hour, 21 * 24 * time.Hour, false}, // a time server was reached
		{time.Hour, -56 * 365 * 24 * time.Hour, false},
		{time.Hour, 8 * time.Hour, false}, // the computer slept for seven
	} {
		now := Stamp{then.Run + c.run, then.Wall + int64(c.wall)}
		if got := now.Agree(then); got != c.want {
			t.Errorf("run %v, wall %v: %v", c.run, c.wall, got)
		}
	}
}

// A time.Time carries the run clock with it, and Sub goes by that.
func TestAStampGoesByTheWallClockAlone(t *testing.T) {
	now := time.Now()
	if got, want := StampAt(0, now), StampAt(0, now.Round(0)); got != want {
		t.Error(got, want)
	}
}

func TestAClockIsDoubtedForAReason(t *testing.T) {
	good := time.Date(2027, 3, 1, 6, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		boot Boot
		now  time.Time
		want string
	}{
		{Boot{Synced: true}, good, ""},
		{Boot{}, good, "no time server"},
		{Boot{Synced: true}, time.Unix(0, 0), "1970-01-01"},
		{Boot{Synced: true}, time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC), "2026-10-01"},
	} {
		got := c.boot.Doubt(c.now.UTC())
		if c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%+v at %v: %q", c.boot, c.now, got)
		}
	}
}
