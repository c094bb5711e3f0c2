package record

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"mashward/controller"
)

// eventWords is an event as a sentence for people, with what its figure means.
func (h *Head) eventWords(e controller.Event) string {
	index := int(e.Value)
	switch e.Kind {
	case controller.StepStarted:
		return fmt.Sprintf("step %d begins%s", e.Step, h.stepName(int(e.Step), ": "))
	case controller.StepEnded:
		return fmt.Sprintf("step %d ends", e.Step)
	case controller.StageChanged:
		return "stage: " + controller.Stage(index).String()
	case controller.TargetReached:
		return "target reached after " + seconds(e.Value)
	case controller.CountedBack:
		return seconds(e.Value) + " of settling count"
	case controller.AdditionDue:
		if index >= 0 && index < len(h.AdditionNames) {
			return "addition due: " + h.AdditionNames[index]
		}
		return fmt.Sprintf("addition %d due", index+1)
	case controller.AdditionIn:
		if index >= 0 && index < len(h.AdditionNames) {
			return "addition in: " + h.AdditionNames[index]
		}
		return fmt.Sprintf("addition %d in", index+1)
	case controller.DelayOffered, controller.BoilExtended:
		return fmt.Sprintf("%v: %s", e.Kind, seconds(e.Value))
	case controller.AlarmRaised:
		return "alarm: " + controller.Alarm(index).String()
	case controller.AlarmCleared:
		return "alarm over: " + controller.Alarm(index).String()
	case controller.PromptRaised:
		return "asked: " + controller.Prompt(index).String()
	case controller.Refused:
		return "refused: " + controller.Refusal(index).String()
	case controller.Accepted:
		return "done: " + controller.Wish(index).String()
	case controller.ModeChanged:
		return "batch: " + controller.Mode(index).String()
	case controller.GrainSuspected, controller.ChillPlateau, controller.StrikeMoved, controller.ThermometerRead, controller.ChillForeseen:
		return fmt.Sprintf("%v at %.1f °C", e.Kind, e.Value)
	case controller.WaterAdded, controller.WaterTaken, controller.VolumeRead, controller.HeatBarred, controller.WaterUncounted:
		return fmt.Sprintf("%v: %.2f L cold", e.Kind, e.Value)
	case controller.MixForeseen, controller.MixDoubted:
		return fmt.Sprintf("%v: %.2f °C", e.Kind, e.Value)
	case controller.ProbeDiffers:
		return fmt.Sprintf("%v: %+.2f K above it", e.Kind, e.Value)
	case controller.PHRead:
		return fmt.Sprintf("%v: %.2f", e.Kind, e.Value)
	case controller.GravityRead:
		return fmt.Sprintf("%v: %.4f at 20 °C", e.Kind, e.Value)
	case controller.TargetChanged:
		return fmt.Sprintf("step %d is to be at %s °C now", e.Step, decimal(e.Value))
	case controller.LidMoved:
		if e.Value > 0 {
			return "lid off"
		}
		return "lid on"
	case controller.LoadLearned, controller.LoadDoubted:
		return fmt.Sprintf("the kettle heats %.2f times as fast as declared", e.Value)
	case controller.ProposalSeen:
		if e.Value > 0 {
			return "a model of this mash is taken"
		}
		return "a model of this mash is left: it does not fit"
	case controller.TimeGap:
		return "time gap of " + seconds(e.Value)
	case controller.PumpStarts:
		return "pump will start in " + seconds(e.Value)
	}
	return e.Kind.String()
}

// stepName is the label of a step with something before it, or nothing.
func (h *Head) stepName(index int, before string) string {
	if index < 0 || index >= len(h.StepNames) || h.StepNames[index] == "" {
		return ""
	}
	return before + h.StepNames[index]
}

// commandWords is a command with its figures, "" for none.
func commandWords(c controller.Command) string {
	switch c.Wish {
	case controller.NoWish:
		return ""
	case controller.Drained:
		return fmt.Sprintf("%v %s L", c.Wish, decimal(float64(c.Volume)))
	case controller.Added, controller.VolumeIs:
		return fmt.Sprintf("%v %s L at %s °C", c.Wish, decimal(float64(c.Volume)), decimal(float64(c.At)))
	case controller.TookOut:
		return fmt.Sprintf("%v %s L", c.Wish, decimal(float64(c.Volume)))
	case controller.GrainIs:
		return fmt.Sprintf("%v %s kg at %s °C", c.Wish, decimal(float64(c.Grain)), decimal(float64(c.At)))
	case controller.ThermometerSays:
		return fmt.Sprintf("%v %s °C", c.Wish, decimal(float64(c.At)))
	case controller.PHIs:
		return strings.TrimRight(fmt.Sprintf("%v %s at %s °C, %v", c.Wish, decimal(c.Value), decimal(float64(c.At)), c.Spot), ", ")
	case controller.GravityIs:
		text := fmt.Sprintf("%v %s by %v at %s °C", c.Wish, decimal(c.Value), c.Instrument, decimal(float64(c.At)))
		if c.Calibrated != 0 {
			text += fmt.Sprintf(", true at %s °C", decimal(float64(c.Calibrated)))
		}
		return text
	case controller.Extend:
		return fmt.Sprintf("%v %v%s", c.Wish, c.By, ofStep(c.Step))
	case controller.Retarget:
		return fmt.Sprintf("%v %s °C%s", c.Wish, decimal(float64(c.At)), ofStep(c.Step))
	case controller.AdditionDone:
		if c.Which > 0 {
			return fmt.Sprintf("%v %d", c.Wish, c.Which)
		}
	}
	return c.Wish.String()
}

// ofStep names the step that a command is about where it need not be the present one.
func ofStep(step uint8) string {
	if step == 0 {
		return ""
	}
	return fmt.Sprintf(" of step %d", step)
}

func seconds(s float64) string {
	return time.Duration(s * float64(time.Second)).Round(time.Second).String()
}

// decimal is the shortest text that reads back to the same number.
func decimal(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
