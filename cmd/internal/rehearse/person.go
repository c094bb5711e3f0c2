package rehearse

import (
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/sim"
)

// Person is the simulated brewer: answers each prompt after a delay, does with
// the kettle what he says, and never clears a trip.
type Person struct {
	Delay time.Duration
	// Do acts on the plant.
	Do func(sim.Kind)
	// Level reads the level after the lift: cold litres, or 0 to confirm the plan.
	Level func() unit.Litres
	// Leaves tells that a rest has had its time by a clock of his own, and makes
	// him skip the rest of it; nil: he leaves that to the controller.
	Leaves func(*loop.Frame) bool
	// Tells has him say what he has done besides: water he put in or took out, a
	// lid he moved. He says it while nothing else is asked of him; nil: nothing.
	Tells func(*loop.Frame) controller.Command

	prompt controller.Prompt
	since  time.Duration
	next   controller.Command
}

// Take is what he presses in this tick.
func (p *Person) Take() controller.Command {
	c := p.next
	p.next = controller.Command{}
	return c
}

// Start arms the batch with the next tick.
func (p *Person) Start() { p.next = controller.Command{Wish: controller.Start} }

// Watch sees what is asked and answers when the delay is over.
func (p *Person) Watch(f *loop.Frame) {
	d := &f.Decision
	for _, e := range d.Events[:d.Count] {
		if e.Kind == controller.PromptRaised && controller.Prompt(e.Value) == controller.AskChillerOff {
			p.Do(sim.ChillerOff)
		}
	}
	if p.Leaves != nil && p.Leaves(f) {
		p.press(controller.Skip)
		return
	}
	if d.Prompt != p.prompt {
		p.prompt, p.since = d.Prompt, f.Tick.Now
	}
	if p.next.Wish == controller.NoWish && f.Tick.Now-p.since >= p.Delay {
		p.answer()
	}
	if p.Tells != nil && p.next.Wish == controller.NoWish {
		p.next = p.Tells(f)
	}
}

// answer does what the prompt asks for, then presses.
func (p *Person) answer() {
	switch p.prompt {
	case controller.AskPour:
		p.press(controller.PouringNow)
	case controller.AskGrainIn:
		p.Do(sim.GrainIn)
		p.press(controller.GrainIn)
	case controller.AskDidGrainGo:
		p.press(controller.NoGrain)
	case controller.AskLift:
		p.press(controller.LiftingNow)
	case controller.AskBagClear:
		p.Do(sim.Lift)
		p.press(controller.BagClear)
	case controller.AskDrained:
		p.next = controller.Command{Wish: controller.Drained, Volume: p.Level()}
	case controller.AskHereLidOff:
		p.Do(sim.LidOff)
		p.press(controller.HereLidOff)
	case controller.AskScald:
		p.Do(sim.ChillerHung)
		p.press(controller.ChillerIn)
	case controller.AskChiller, controller.AskChillerWater, controller.AskCoolToStand:
		p.Do(sim.ChillerOn)
		p.press(controller.ChillerIn)
	case controller.AskColdest:
		p.press(controller.ChillDone)
	case controller.NoPrompt, controller.AskCold, controller.AskChillerOff, controller.AskLookAtFault:
		// Nothing to press: he looks, and leaves what the controller does.
	}
}

func (p *Person) press(w controller.Wish) { p.next = controller.Command{Wish: w} }
