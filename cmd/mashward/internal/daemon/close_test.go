package daemon

import (
	"os"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
)

// mashText has a strike heat-up of some half an hour.
const mashText = `profile: One rest
water: 25 L
grain: {mass: 4.6 kg, temperature: 18 °C}
steps:
  - {mash-in: 44 °C, for: 2 min}
`

// mash carries the day to its end, with a person who pours at once.
func (b *bench) mash() *Snapshot {
	b.Helper()
	b.write("mash", mashText)
	b.run("mash")
	b.until("pour", func(s *Snapshot) bool { return s.Decision.Prompt == controller.AskPour })
	b.do(controller.PouringNow)
	b.until("grain in", func(s *Snapshot) bool { return s.Decision.Prompt == controller.AskGrainIn })
	b.do(controller.GrainIn)
	return b.mode(controller.Complete)
}

// A kettle with 15 % less power than its rig declares: after the batch, and not
// before, the snapshot carries a suggestion; nothing else changes, and no tick
// waited for it.
func TestAfterABatchTheKettleThatItWasIsSuggested(t *testing.T) {
	weak := func(o *Options) {
		o.Plant.Element.Power = 2550
		o.Kettle = &pan{Simulated: NewSimulated(o.Rig, o.Plant, 1)}
	}
	inBubbleWith(t, weak, func(b *bench) {
		if s := b.mash(); s.Learnt != nil {
			b.Error("suggested before the record was closed")
		}
		s := b.until("a suggestion", func(s *Snapshot) bool { return s.Learnt != nil })
		if s.Learnt.Power < 0.82 || s.Learnt.Power > 0.88 || !strings.Contains(s.Learnt.Text, "a temperature cannot tell which") {
			b.Errorf("%+v", s.Learnt)
		}
		if want := "mashward tune --rig rig.yaml --from " + b.records + "/" + s.Batch.ID + ".batch --out rig.tuning.yaml"; s.Learnt.Command != want {
			b.Errorf("%s\nand not\n%s", s.Learnt.Command, want)
		}
		if s.Decision.Mode != controller.Complete || s.Heating != unit.Off || b.d.loop.Core.Config.Power != 3000 {
			b.Errorf("%v, heating %v, power in use %v", s.Decision.Mode, s.Heating, b.d.loop.Core.Config.Power)
		}
		if names, _ := os.ReadDir(b.records); len(names) != 2 { // the record and the name of the folder
			b.Errorf("in the folder of records there is %v", names)
		}
		frames := b.seen.frames()
		for i := 1; i < len(frames); i++ {
			if dt := frames[i].Tick.Now - frames[i-1].Tick.Now; dt != time.Second {
				b.Fatalf("a tick of %v, %v after the start", dt, frames[i].Tick.Now)
			}
		}
		b.run("warm") // another batch: what the last one suggested is not about it
		if s := b.d.Latest(); s.Learnt != nil {
			b.Error("suggested about another batch")
		}
	})
}

func TestAKettleThatIsAsDeclaredIsLeftAlone(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.mash()
		pass(time.Minute)
		if s := b.d.Latest(); s.Learnt != nil {
			b.Errorf("%+v", s.Learnt)
		}
		if text := b.log.String(); !strings.Contains(text, "usable=true suggestion=false") {
			b.Errorf("the heat-up was not looked at:\n%s", text)
		}
	})
}
