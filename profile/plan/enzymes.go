package plan

import (
	"fmt"
	"strings"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/enzyme"
)

// Enzymes follows the mash as planned: straight to each target, then there.
func (p Plan) Enzymes() *enzyme.Course {
	c := &enzyme.Course{}
	if p.Use == profile.WaterBrew {
		return c // no grain, nothing to follow
	}
	for _, s := range p.Steps {
		switch s.Kind {
		case profile.MashIn:
			c.Begin(s.Target)
		case profile.Rest, profile.MashOut:
		case profile.Lift:
			c.End()
		case profile.Strike, profile.Boil, profile.Stand, profile.Chill:
			continue
		}
		if !c.Mashing() {
			continue
		}
		c.Rest(s.Index, s.Target, s.Kind == profile.MashIn)
		straight(c, s.Heat(), s.Ends, s.Target)
		straight(c, s.Hold, s.Ends, s.Target)
	}
	c.End()
	return c
}

// straight leads a mash to a temperature in pieces of a minute.
func straight(c *enzyme.Course, long time.Duration, to, target unit.Celsius) {
	from := c.State().At
	for done := time.Duration(0); done < long; {
		piece := min(time.Minute, long-done)
		done += piece
		c.Step(piece, from+(to-from)*unit.Celsius(done.Seconds()/long.Seconds()), target)
	}
}

// writeEnzymes says what the mash makes of the malt.
func (p Plan) writeEnzymes(b *strings.Builder) {
	sentences := p.Enzymes().Sentences(func(step int) string {
		for _, s := range p.Steps {
			if s.Index == step {
				return fmt.Sprintf("%s at %.1f °C", sentence(s.Kind.String()), s.Target)
			}
		}
		return ""
	})
	for i, s := range sentences {
		if i == 0 {
			section(b, "Mash enzymes, an estimate")
		}
		b.WriteString(wrap("  ", s, margin+2, pageWidth))
	}
}
