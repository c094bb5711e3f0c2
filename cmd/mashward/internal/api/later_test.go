package api

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
)

// toArmLater is the body of arm with when the water is to be hot.
func toArmLater(hash, when string) string {
	return strings.Replace(toArm("day", hash, 26), "{", "{"+when+", ", 1)
}

func TestStrikeWaterIsArmedForLaterSeenAndCalledOff(t *testing.T) {
	inBubble(t, settings{files: map[string]string{"day": day}}, func(b *bench) {
		pass(10 * time.Second)
		hash := b.rehearse("day")
		armed := into[Armed](b, b.post("arm", toArmLater(hash, `"ready_in_minutes": 120`), 200))
		if l := armed.Later; l == nil || l.ByClock || l.Margin < 300 || l.Needs < 600 {
			t.Fatalf("%+v", l)
		}
		started := into[Started](b, b.post("start", `{"nonce": "`+armed.Nonce+`"}`, 200))
		if !started.Accepted || started.Batch != "" {
			t.Errorf("%+v", started)
		}
		s := b.state()
		if s.Later == nil || !s.Later.Waits || s.Later.Profile != "A short day" || s.Heating || s.Batch != nil || !strings.Contains(s.Sentence, "will heat by itself in 1 h") {
			t.Errorf("%+v %q", s.Later, s.Sentence)
		}
		no(b, b.ask("POST", "arm", toArm("day", hash, 26)), http.StatusConflict, "armed-for-later")
		b.post("command", `{"wish": "end"}`, 200)
		if s = b.state(); s.Later != nil {
			t.Errorf("%+v", s.Later)
		}
		pass(3 * time.Hour)
		if s = b.state(); s.Heating || s.Batch != nil {
			t.Error("heats")
		}
	})
}

func TestStrikeWaterThatWasArmedForLaterBeginsOrSaysWhyNot(t *testing.T) {
	inBubble(t, settings{files: map[string]string{"day": day}}, func(b *bench) {
		pass(10 * time.Second)
		hash := b.rehearse("day")
		wait := func() {
			armed := into[Armed](b, b.post("arm", toArmLater(hash, `"ready_in_minutes": 60`), 200))
			b.post("start", `{"nonce": "`+armed.Nonce+`"}`, 200)
		}
		wait()
		// The bench has no rig file to compare with: that is a reason.
		b.until("not begun", func(s *daemon.Snapshot) bool { return s.Waiting != nil && s.Waiting.Over != "" })
		s := b.state()
		if s.Later == nil || s.Later.Waits || !strings.Contains(s.Later.Text, "rig file") || len(s.Alarms) != 1 || s.Alarms[0].ID != "not-begun" {
			t.Errorf("%+v %+v", s.Later, s.Alarms)
		}
		if fmt.Sprint(s.Can) != "[end]" {
			t.Error(s.Can)
		}
		b.post("command", `{"wish": "end"}`, 200)
		if s = b.state(); s.Later != nil || len(s.Alarms) != 0 {
			t.Errorf("%+v", s.Later)
		}
		if s := b.d.Latest(); s.Decision.Mode != controller.Idle {
			t.Error(s.Decision.Mode)
		}
	})
}

func TestATimeThatCannotBeMeantIsRefused(t *testing.T) {
	inBubble(t, settings{files: map[string]string{"day": day}}, func(b *bench) {
		pass(10 * time.Second)
		hash := b.rehearse("day")
		for when, status := range map[string]int{
			`"ready_at": "08:30"`:                     400,
			`"ready_in_minutes": 0`:                   400,
			`"ready_in_minutes": 1441`:                400,
			`"ready_in_minutes": 3`:                   422,
			`"ready_in_minutes": 1440`:                422, // what is stated now would be too old
			`"ready_at": "2000-01-01T08:30:00+01:00"`: 422, // a bubble begins in 2000: its clock is not right
		} {
			b.post("arm", toArmLater(hash, when), status)
		}
	})
}
