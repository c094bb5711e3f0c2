package say

import (
	"fmt"
	"time"
)

// hour is a time of day. It needs no date: a start is at most 12 h ahead.
const hour = "15:04"

// Later is when strike water that was armed for later is heated. Times are shown in
// the zone they come in.
type Later struct {
	Heats, Ready, Latest time.Time
	Needs, Margin        time.Duration
	In                   time.Duration // until it heats
	ByClock              bool          // a time of day was chosen
}

// Ahead says, before the last press, what will happen by itself, and until when that
// press makes sense.
func (l Later) Ahead() string {
	return fmt.Sprintf("It will heat by itself at %s, so that the strike water is hot by %s: the heat-up takes %s, and %s are margin. Press by %s: after that it is late by as much as you wait.",
		l.Heats.Format(hour), l.Ready.Format(hour), Length(l.Needs), Length(l.Margin), l.Latest.Format(hour))
}

// Waits says what it waits for.
func (l Later) Waits() string {
	if !l.ByClock {
		return fmt.Sprintf("Armed for later: nothing is heated. It will heat by itself in %s, and the strike water is to be hot %s after that.", minutes(l.In), Length(l.Needs+l.Margin))
	}
	return fmt.Sprintf("Armed for later: nothing is heated. It will heat by itself at %s, in %s, so that the strike water is hot by %s.", l.Heats.Format(hour), minutes(l.In), l.Ready.Format(hour))
}

// NotBegun is an alarm: somebody counts on hot water.
func NotBegun(why string) string {
	return "The strike water that was armed for later is not heated: " + why + "."
}

// minutes is a length without its seconds, so that a page does not count them.
func minutes(d time.Duration) string {
	if d < time.Minute {
		return "less than a minute"
	}
	return Length(d.Truncate(time.Minute))
}

// Begin says when to begin, before anything is armed.
func (l Later) Begin() string {
	return fmt.Sprintf("Begin to heat at %s: the heat-up takes %s from the temperature of the tap, and %s are margin. Begun after %s it is late. Armed for %s, with the water in, mashward begins by itself.",
		l.Heats.Format(hour), Length(l.Needs), Length(l.Margin), l.Latest.Format(hour), l.Ready.Format(hour))
}
