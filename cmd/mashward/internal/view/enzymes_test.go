package view_test

import (
	"testing"

	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/profile"
	"mashward/profile/enzyme"
)

// What is left is told while the grain is in, with its note, and only falls.
func TestWhatTheEnzymesHaveLeftIsToldWhileTheGrainIsIn(t *testing.T) {
	inBubble(t, rigText, func(b *bench) {
		left, seen := enzyme.Band{Low: 1, Mid: 1, High: 1}, 0
		b.brew(func(at instant) {
			e, d := view.Of(at.s).Enzymes, &at.s.Decision
			resting := d.Stage == controller.Count && (d.Kind == profile.MashIn || d.Kind == profile.Rest || d.Kind == profile.MashOut)
			if resting && d.Mode == controller.Running && e == nil {
				b.Fatalf("nothing is told in %v, %v", d.Kind, d.Stage)
			}
			if e == nil {
				return
			}
			if d.Kind == profile.Strike || d.Kind == profile.Boil || d.Kind == profile.Chill || d.Mode.Ended() {
				b.Fatalf("told in %v, %v: %+v", d.Kind, d.Mode, e)
			}
			if e.Note == "" || e.Now == nil {
				b.Fatalf("%+v", e)
			}
			if now := e.Now.AlphaLeft; now.Low > left.Low || now.Mid > left.Mid || now.High > left.High {
				b.Fatalf("more is left than before: %v, %v", now, left)
			}
			left = e.Now.AlphaLeft
			seen++
		})
		if seen < 600 || left.Mid >= 1 {
			b.Errorf("told %d times, at last %v", seen, left)
		}
	})
}
