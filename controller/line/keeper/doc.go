// Package keeper drives a real line from a process of its own, so that heat
// ends when the process that wants it dies, is killed or stopped, or hangs.
//
// The daemon starts the same program a second time as its keeper. The keeper
// opens the line, writes off, and listens on a pipe. It puts its own lease on
// the line: heat ends 3 s after the last request for it, and at once when the
// pipe closes, which the kernel does when the daemon is gone, however it went.
//
// A request for heat must carry the time of an answer that is at most 3 s old,
// by the keeper's own clock. A daemon that has been stopped for a minute, and
// goes on with what it decided before, has none and is refused.
//
// Off never waits for on. Each request is carried out beside the others, and
// off takes the right to heat away before anything is asked of the driver.
//
// If the keeper itself dies, the daemon starts another one at once, which writes
// off first; one that is stopped, or whose device has gone away, it ends for good
// and replaces likewise. A driver that dies each time it is to switch on would so
// pulse the relay for ever: a line whose keeper was lost three times within ten
// minutes is not asked for heat any more until a person has looked.
// Only when both are gone at once does a line keep what it has; then it is the
// work of whoever started the daemon to switch off, and of the hardware.
//
// One request is a line of text, "on NUMBER TIME" or "off NUMBER"; one answer
// is "ready TIME", "ok NUMBER TIME" or "no NUMBER TIME REASON", or "failed KIND
// REASON" if the line could not be had. TIME is in milliseconds.
package keeper

import (
	"errors"
	"time"
)

const (
	// answersWithin is how long the daemon waits for an answer. A keeper that
	// takes longer to confirm off is ended, and another one is started.
	answersWithin = time.Second
	// startsWithin is how long a keeper may take to have the line off.
	startsWithin = 3 * time.Second
	// startPause is the shortest time between two keepers that fail to start.
	startPause = time.Second
	// refusals are how many failures of off in a row are taken for a device that
	// was lost for good, as one that was unplugged: a new keeper opens it anew.
	refusals = 10
	// givesUpAfter is how long a keeper whose daemon is gone repeats an off
	// that the driver does not confirm.
	givesUpAfter = time.Minute
	retryAfter   = 100 * time.Millisecond
	// mostLost keepers within lostWithin, and no heat is asked for any more. A
	// modulated relay closes at least once a minute, so that a driver that dies of
	// it is met at the third time; one keeper that somebody killed is no reason.
	mostLost   = 3
	lostWithin = 10 * time.Minute
	// longest is more than any line of text here.
	longest = 512
)

// What is said about a keeper; each stands for a line that is being driven off.
var (
	ErrGone   = errors.New("the keeper of the line is gone; another one is being started")
	ErrSilent = errors.New("the keeper of the line does not answer")
	ErrOld    = errors.New("this asks for heat by a decision that is too old")
	ErrGaveUp = errors.New("the keeper of the line was lost again and again: no heat until a person has looked")
)
