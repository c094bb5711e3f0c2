package say

import (
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
)

// TestLengthAsPeopleSayIt: the seconds are dropped from ten minutes on, and
// rounding never shows 60 of anything.
func TestLengthAsPeopleSayIt(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0:                                     "0 s",
		40 * time.Second:                      "40 s",
		59*time.Second + 600*time.Millisecond: "1 min",
		90 * time.Second:                      "1 min 30 s",
		12*time.Minute + 5*time.Second:        "12 min",
		time.Hour:                             "1 h",
		75 * time.Minute:                      "1 h 15 min",
	} {
		if got := Length(d); got != want {
			t.Errorf("%v is said %q; want %q", d, got, want)
		}
	}
	if got := Clock(3*time.Hour + 7*time.Minute + 59*time.Second); got != "3:07" {
		t.Errorf("the clock shows %q; want 3:07", got)
	}
}

// TestButtonsAndAnswersGoTogether: a question has a button if and only if a
// press of it is a wish.
func TestButtonsAndAnswersGoTogether(t *testing.T) {
	asked := 0
	for p := controller.NoPrompt; p <= controller.AskColdest; p++ {
		button, answer := Button(p), Answer(p)
		if (button == "") != (answer == controller.NoWish) {
			t.Errorf("%v: button %q, wish %v", p, button, answer)
		}
		if button != "" {
			asked++
		}
	}
	if asked == 0 {
		t.Error("no question has a button")
	}
}

func TestWhyABatchEndedIsNotCalledAFaultWhereNobodyCame(t *testing.T) {
	for reason, want := range map[controller.Reason]string{controller.NobodyCame: "nobody came", controller.OverTemperature: "by a fault"} {
		if text := (Day{}).Now(&controller.Decision{Mode: controller.Aborted, Reason: reason}); !strings.Contains(text, want) || !strings.Contains(text, "still live") {
			t.Errorf("%v: %s", reason, text)
		}
	}
}

// TestWhatIsNotHeatedSaysWhy: a pump that is off is said with what to look at first, and
// also in a pause, of which it would else be said that the temperature is kept.
func TestWhatIsNotHeatedSaysWhy(t *testing.T) {
	for _, mode := range []controller.Mode{controller.Running, controller.Paused} {
		off := Day{}.Now(&controller.Decision{Mode: mode, Unheated: true})
		if !strings.Contains(off, "pump is off") || !strings.Contains(off, "hoses and valves") || strings.Contains(off, "kept") {
			t.Errorf("%v: %s", mode, off)
		}
		if on := (Day{}).Now(&controller.Decision{Mode: mode, Unheated: true, Pump: unit.On}); !strings.Contains(on, "turns the kettle over") {
			t.Errorf("%v: %s", mode, on)
		}
	}
	if text := Alarm(controller.AlarmPumpOff); !strings.Contains(text, "nothing is heated") {
		t.Error(text)
	}
}
