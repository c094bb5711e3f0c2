// Package say is the words for what a batch does: full sentences with
// figures, the same in terminal, record and page. Temperatures and their
// differences are in °C, volumes in litres; nobody has to know a kelvin.
package say

import (
	"fmt"
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/controller/verify"
	"mashward/profile"
)

// Day is what sentences need to know of the batch.
type Day struct {
	Profile profile.Profile
	Config  controller.Config
}

// Step names a step: "rest at 63.0 °C".
func (d Day) Step(index uint8) string {
	s := d.Config.Steps[min(int(index), len(d.Config.Steps)-1)]
	name := ""
	if i := int(index) - 1; i >= 0 && i < len(d.Profile.Steps) && d.Profile.Steps[i].Name != "" {
		name = " (" + d.Profile.Steps[i].Name + ")"
	}
	switch s.Kind {
	case profile.Strike:
		return fmt.Sprintf("strike water at %.1f °C", s.Target)
	case profile.Lift:
		return "lift of the grain" + name
	case profile.Boil:
		return "boil" + name
	case profile.Chill:
		return fmt.Sprintf("chill to %.0f °C", s.Target) + name
	case profile.Stand:
		return fmt.Sprintf("hop stand at %.0f °C", s.Target) + name
	case profile.MashIn, profile.Rest, profile.MashOut:
	}
	return fmt.Sprintf("%s at %.1f °C", s.Kind, s.Target) + name
}

// Addition is what is thrown in.
func (d Day) Addition(index int) string {
	if all, _ := d.Profile.Order(); index >= 0 && index < len(all) {
		return all[index].Add
	}
	return "the addition"
}

// Prompt is the question as a sentence that says what to do and what follows.
func (d Day) Prompt(p controller.Prompt) string {
	if d.Profile.Use == profile.WaterBrew {
		if text := inWater(p); text != "" {
			return text
		}
	}
	switch p {
	case controller.AskPour:
		return fmt.Sprintf("The strike water stands at its temperature. When you pour the %.2f kg of grain, say so: heat and pump go off first.", d.Profile.Grain.Mass)
	case controller.AskGrainIn:
		return "Stir the grain in without lumps, and say when all of it is in. Heat and pump are off; hot water scalds."
	case controller.AskDidGrainGo:
		return "The water fell as if grain had gone in. Did it? Heat and pump are off until you say."
	case controller.AskLift:
		return "The mash is done. When you are at the hoist, say that you lift: heat and pump go off before the bag moves."
	case controller.AskBagClear:
		return "Lift the bag clear of the wort and lock the hoist. Say so when it hangs and the wort covers the element. Stand clear of hot drips."
	case controller.AskDrained:
		return fmt.Sprintf("Let the bag drain, read the level, and say how many litres are left (planned: %.1f L).", d.Config.AfterLift)
	case controller.AskHereLidOff:
		return "Take the lid off and stay: wort foams over at the hot break. Say that you are here."
	case controller.AskChiller:
		return "Hang in the chiller and open its water. It has not been scalded by the boil: clean it first. Say when it runs. The heat is off; still live: isolate before reaching in."
	case controller.AskChillerWater, controller.AskScald, controller.AskCoolToStand, controller.AskColdest:
		return d.chiller(p)
	case controller.AskCold:
		return "The clock has stood still for 10 min because the mash is too cold. Look at element, lid and pump; you may count the time all the same."
	case controller.AskChillerOff:
		return "The wort has its temperature: close the chiller's water."
	case controller.AskTakeUp:
		return "Look at the kettle, then say whether this batch goes on or ends. Until then nothing is heated."
	case controller.AskLookAtFault:
		return "Heat is cut and stays off. Look for the cause before you clear it."
	case controller.NoPrompt:
	}
	return ""
}

// Reason is why a batch does not run, as a sentence.
func (d Day) Reason(r controller.Reason) string {
	switch r {
	case controller.NoReason:
		return ""
	case controller.ByOperator:
		return "A person stopped it."
	case controller.NobodyCame:
		return "Nobody came in time, so it ended with the heat off."
	case controller.PowerCut:
		return "The power was cut, or mashward ended."
	case controller.OverTemperature:
		return "The kettle was hotter than this batch may be."
	case controller.Empty:
		return "The level came too near the element."
	case controller.NotArmed:
		return fmt.Sprintf("The arming has run out: it is good for %s.", Length(d.Config.ArmingLasts()))
	case controller.OnTooLong:
		return "The element was on for longer than the plan can need."
	case controller.Stale:
		return "The probe gave no good reading for a minute."
	case controller.Implausible:
		return "The probe's readings made no sense for a minute."
	case controller.LineLost:
		return "What drives a relay failed again and again as it was to switch on. Isolate the element, and look at relay, wiring and log."
	}
	for k, why := range map[verify.Kind]controller.Reason{
		verify.NotHeating: controller.NotHeating, verify.HeatingWhileOff: controller.HeatingWhileOff, verify.TooFast: controller.TooFast,
		verify.ProbeOut: controller.ProbeOut, verify.ProbeStuck: controller.ProbeStuck, verify.PumpStopped: controller.PumpStopped,
		verify.EnergyBudget: controller.EnergyBudget,
	} {
		if why == r {
			return Finding(verify.Finding{Kind: k})
		}
	}
	return fmt.Sprintf("Heat was cut: %s.", r)
}

// Event is one event as a sentence; empty for those that people need not read.
func (d Day) Event(e controller.Event) string {
	switch e.Kind {
	case controller.BatchStarted:
		return fmt.Sprintf("Begun: %s, %.1f L of water.", d.Profile.Name, d.Profile.Water)
	case controller.StepStarted:
		return "Now: " + d.Step(e.Step) + "."
	case controller.TargetReached:
		return d.reached(e)
	case controller.ClockBegan:
		return fmt.Sprintf("The clock runs: %s.", Length(d.Config.Steps[e.Step].For))
	case controller.CountedBack:
		return d.countedBack(e)
	case controller.StepEnded:
		return ""
	case controller.AdditionDue:
		return "Add now: " + d.Addition(int(e.Value)) + "."
	case controller.AlarmRaised:
		return "Alarm: " + Alarm(controller.Alarm(e.Value))
	case controller.AlarmCleared:
		return "No longer: " + Alarm(controller.Alarm(e.Value))
	case controller.PromptRaised:
		return d.Prompt(controller.Prompt(e.Value))
	case controller.PumpStarts:
		return fmt.Sprintf("Mind hoses and hands: the pump starts in %.0f s.", e.Value)
	case controller.GrainSuspected:
		return fmt.Sprintf("The water fell to %.1f °C as if grain had gone in: heat and pump are off.", e.Value)
	case controller.Refused:
		return "Refused: " + controller.Refusal(e.Value).String() + "."
	case controller.ModeChanged:
		return d.mode(controller.Mode(e.Value))
	case controller.LoadDoubted:
		return d.doubted(e.Value)
	case controller.SkipUndone:
		return "The skip is taken back."
	case controller.ChillPlateau:
		return d.plateau(unit.Celsius(e.Value))
	case controller.AdditionIn, controller.DelayOffered, controller.BoilExtended, controller.ChillerScalds, controller.ChillForeseen:
		return d.boiled(e)
	case controller.TimeGap:
		return fmt.Sprintf("The controller was away for %.0f s; that time counts for nothing.", e.Value)
	case controller.NoEvent, controller.StageChanged, controller.PumpRuns, controller.PumpStops,
		controller.LoadLearned, controller.Accepted:
	case controller.ProposalSeen:
		if e.Value > 0 {
			return "The last heat-up showed how this mash takes its heat: the next ones are steered by it."
		}
	case controller.TakenUp:
		return takenUp(controller.Wish(e.Value))
	case controller.WaterAdded, controller.MixForeseen, controller.MixDoubted, controller.WaterTaken,
		controller.VolumeRead, controller.LidMoved, controller.HeatBarred:
		return deed(e)
	case controller.StrikeMoved, controller.WaterUncounted, controller.ThermometerRead, controller.ProbeDiffers,
		controller.ProbeUncompared, controller.PHRead, controller.GravityRead:
		return note(e)
	case controller.TargetChanged:
		return fmt.Sprintf("Step %d is to be at %.1f °C from now on.", e.Step, e.Value)
	case controller.ModelDoubted:
		return "The probe shows what was not foreseen: the control goes by its reading alone."
	}
	return ""
}

func (d Day) reached(e controller.Event) string {
	took := Length(time.Duration(e.Value) * time.Second)
	if d.Config.Steps[e.Step].Kind == profile.Boil {
		return fmt.Sprintf("It boils, %s after the step began.", took)
	}
	return fmt.Sprintf("At %.1f °C after %s.", d.Config.Steps[e.Step].Target, took)
}

func (d Day) countedBack(e controller.Event) string {
	length := Length(time.Duration(e.Value) * time.Second)
	if d.Config.Steps[e.Step].Kind == profile.Boil {
		return fmt.Sprintf("It has boiled for %s already: they count.", length)
	}
	return fmt.Sprintf("The %s in which the bed settled count.", length)
}

// doubted is what a strike heat-up that is too fast or too slow may mean. Which
// of the two it is, no temperature can tell.
func (d Day) doubted(gain float64) string {
	word := "faster"
	if gain < 1 {
		word = "slower"
	}
	return fmt.Sprintf("The water heats %.0f %% %s than declared: either about %.0f L are in the kettle, not %.0f L, or the element gives %.1f kW, not %.1f kW (mains 5 %% off are power 10 %% off). Look before the grain goes in.",
		100*math.Abs(gain-1), word, float64(d.Profile.Water)/gain, d.Profile.Water, float64(d.Config.Power)*gain/1000, float64(d.Config.Power)/1000)
}

func (d Day) mode(m controller.Mode) string {
	switch m {
	case controller.Complete:
		return "Finished: all steps are done. Not heating; still live: isolate before opening or reaching in."
	case controller.Stopped:
		return "Ended by you. Not heating; still live: isolate before opening or reaching in."
	case controller.Aborted:
		return "Ended by a fault. Not heating; still live: isolate before opening or reaching in."
	case controller.Held:
		return "Held: heat and pump are off. Still live: isolate before opening or reaching in."
	case controller.Paused:
		return "Paused: the clock stands, the temperature is kept."
	case controller.Offered:
		return "Cut off: the power was cut, or mashward ended. Nothing is heated until a person says so; still live: isolate before opening or reaching in."
	case controller.Idle, controller.Running:
	}
	return ""
}

// Alarm is an alarm as a sentence.
func Alarm(a controller.Alarm) string {
	switch a {
	case controller.AlarmHot:
		return "the mash is more than 0.5 °C too hot."
	case controller.AlarmCold:
		return "the mash has been too cold for 10 min; its clock stands."
	case controller.AlarmNoBoil:
		return "it cannot reach a boil: look at lid, wind and power."
	case controller.AlarmWaiting:
		return "a person is needed and nobody has come."
	case controller.AlarmLevel:
		return "the level comes near the element."
	case controller.AlarmDeclared:
		return "the water heats otherwise than volume and power say; look before the grain goes in."
	case controller.AlarmWeak:
		return "about half of the power is missing: one of two elements may be open, or a phase; it takes longer."
	case controller.AlarmProbe:
		return "another thermometer says something else than the probe: one of the two is wrong; try both in ice water."
	case controller.AlarmPumpOff:
		return "the pump is off and the probe sits in its hose: nothing is heated until the pump runs."
	case controller.AlarmUnreadable:
		return "the probe gives no good reading; no heat without one."
	}
	return a.String()
}

// Length is a time as people say it: "1 h 15 min", "12 min", "40 s".
func Length(d time.Duration) string {
	seconds := int(math.Round(d.Seconds()))
	h, m, s := seconds/3600, seconds/60%60, seconds%60
	switch {
	case h > 0 && m == 0:
		return fmt.Sprintf("%d h", h)
	case h > 0:
		return fmt.Sprintf("%d h %d min", h, m)
	case m >= 10 || m > 0 && s == 0:
		return fmt.Sprintf("%d min", m)
	case m > 0:
		return fmt.Sprintf("%d min %d s", m, s)
	}
	return fmt.Sprintf("%d s", s)
}

// Times is how often, from once on.
func Times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

// Clock is h:mm of a time since arming.
func Clock(d time.Duration) string {
	minutes := int(d / time.Minute)
	return fmt.Sprintf("%d:%02d", minutes/60, minutes%60)
}

// Now is what is happening, as one sentence with its figures.
func (d Day) Now(f *controller.Decision) string {
	step := d.Step(f.Index)
	switch {
	case f.Mode == controller.Idle:
		return "Idle: nothing is heated."
	case f.Mode == controller.Aborted && f.Reason == controller.NobodyCame:
		return "Ended, for nobody came. Not heating; still live: isolate before opening or reaching in."
	case f.Mode.Ended():
		return d.mode(f.Mode)
	case f.Mode == controller.Held:
		return "Held: heat and pump are off. " + d.Reason(f.Reason)
	case f.Mode == controller.Offered:
		return d.cutOff(f)
	case f.Unheated && f.Pump == unit.Off && f.Prompt == controller.NoPrompt:
		return fmt.Sprintf("Not heated in the %s: the pump is off, and the probe in its hose says nothing of the kettle. See that hoses and valves are right, then let the pump run.", step)
	case f.Unheated && f.Prompt == controller.NoPrompt:
		return fmt.Sprintf("Not heated yet in the %s: the pump stood, and turns the kettle over first.", step)
	case f.Mode == controller.Paused:
		return fmt.Sprintf("Paused in the %s: the clock stands, the temperature is kept.", step)
	case f.Bare && f.Stage != controller.Drain:
		return barred
	case f.Prompt != controller.NoPrompt && f.Prompt != controller.AskScald: // which the boil does not wait for
		return d.Prompt(f.Prompt)
	}
	switch f.Phase {
	case controller.Heating:
		return fmt.Sprintf("Heating to the %s.", step)
	case controller.Cooling:
		if f.Kind == profile.Strike {
			return fmt.Sprintf("Too hot for the grain: %s. It cools by itself, or put in cold water and say so.", step)
		}
		return fmt.Sprintf("Cooling: %s.", step)
	case controller.Settling:
		return "The bed settles; heat is off, and the pump starts by itself."
	case controller.Boiling:
		return fmt.Sprintf("Boiling: %s of %s left.", Length(f.Left), Length(f.Earned+f.Left))
	case controller.Resting:
		return fmt.Sprintf("In the %s: %s of %s left.", step, Length(f.Left), Length(f.Earned+f.Left))
	case controller.Waiting, controller.NoPhase:
	}
	return step + "."
}

// Next is what comes after the step that runs; empty after the last.
func (d Day) Next(f *controller.Decision) string {
	next := f.Index + 1
	switch {
	case f.Mode == controller.Idle || f.Mode.Ended():
		return ""
	case next >= d.Config.Count:
		return "Then the batch is finished."
	}
	return "Then: " + d.Step(next) + "."
}

// Button is the verb on the one button that answers a prompt; empty where no
// press answers it.
func Button(p controller.Prompt) string {
	switch p {
	case controller.AskPour:
		return "I pour now"
	case controller.AskGrainIn, controller.AskDidGrainGo:
		return "The grain is in"
	case controller.AskLift:
		return "I lift now"
	case controller.AskBagClear:
		return "It hangs clear"
	case controller.AskDrained:
		return "It has drained"
	case controller.AskHereLidOff:
		return "I am here, lid off"
	case controller.AskChiller, controller.AskChillerWater, controller.AskCoolToStand:
		return "The chiller runs"
	case controller.AskScald:
		return "The chiller hangs in"
	case controller.AskColdest:
		return "End the chill here"
	case controller.AskCold:
		return "Count on"
	case controller.AskLookAtFault:
		return "I have looked: clear it"
	case controller.NoPrompt, controller.AskChillerOff, controller.AskTakeUp: // more is asked than a press
	}
	return ""
}

// Answer is the wish behind that button.
func Answer(p controller.Prompt) controller.Wish {
	switch p {
	case controller.AskPour:
		return controller.PouringNow
	case controller.AskGrainIn, controller.AskDidGrainGo:
		return controller.GrainIn
	case controller.AskLift:
		return controller.LiftingNow
	case controller.AskBagClear:
		return controller.BagClear
	case controller.AskDrained:
		return controller.Drained
	case controller.AskHereLidOff:
		return controller.HereLidOff
	case controller.AskChiller, controller.AskChillerWater, controller.AskCoolToStand, controller.AskScald:
		return controller.ChillerIn
	case controller.AskColdest:
		return controller.ChillDone
	case controller.AskCold:
		return controller.GoOn
	case controller.AskLookAtFault:
		return controller.ClearTrip
	case controller.NoPrompt, controller.AskChillerOff, controller.AskTakeUp:
	}
	return controller.NoWish
}
