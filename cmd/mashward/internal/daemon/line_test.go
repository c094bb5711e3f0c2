package daemon

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"mashward/controller"
	"mashward/controller/line"
	"mashward/controller/loop"
	"mashward/sim"
)

func TestSTOPIsNoFaultOfALine(t *testing.T) {
	for _, err := range []error{nil, line.ErrDropped, line.ErrExpired, sim.ErrDropped, fmt.Errorf("element: %w", line.ErrDropped)} {
		if got := unanswered(err); got != nil {
			t.Errorf("%v counts as %v", err, got)
		}
	}
	for _, err := range []error{line.ErrUnknown, line.ErrBusy, line.ErrClosed, line.ErrLease, errors.New("wire loose"), fmt.Errorf("%w: wire loose", line.ErrUnknown)} {
		if got := unanswered(err); !errors.Is(got, err) {
			t.Errorf("%v counts as %v", err, got)
		}
	}
}

// A fault is said once when it comes and once when it goes, in the log and to
// the people of the batch.
func TestAFaultOfALineIsSaidOnce(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.run("warm")
		fault := fmt.Errorf("%w: wire loose", line.ErrUnknown)
		for _, f := range []error{nil, fault, fault, fault, nil, nil, line.ErrDropped, nil} {
			b.d.noteLine(&loop.Frame{LineFault: f, Decision: controller.Decision{}})
			last := *b.d.Latest()
			last.LineFault = unanswered(f)
			b.d.latest.Store(&last)
		}
		text := b.log.String()
		if n := strings.Count(text, "a line gives an error"); n != 1 {
			b.Errorf("the fault is said %d times:\n%s", n, text)
		}
		if n := strings.Count(text, "the line takes its orders again"); n != 1 {
			b.Errorf("the end of it is said %d times:\n%s", n, text)
		}
	})
}
