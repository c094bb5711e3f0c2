package picture

import (
	"fmt"
	"strings"
	"time"
)

// Tale says in words what the pictures show: the plan, how it went, where heat
// was taken away, and where it stands now.
func Tale(d Day, l Look) string {
	var b strings.Builder
	if d.Simulated {
		b.WriteString("Simulated: no kettle was heated. ")
	}
	if n := len(d.Plan); n > 0 {
		fmt.Fprintf(&b, "The plan has %d steps and ends at %s, hours and minutes since arming. ", n, clock(d.Plan[n-1].End))
	}
	for _, w := range d.went() {
		b.WriteString(legTale(w, d.Plan, l))
	}
	if len(d.went()) == 0 {
		for _, g := range d.Plan {
			fmt.Fprintf(&b, "%s from %s to %s. ", capital(name(g, l)), clock(g.Start), clock(g.End))
		}
	}
	for _, s := range d.Off {
		fmt.Fprintf(&b, "No heat from %s to %s: %s. ", clock(s.From), clock(s.To), s.Text)
	}
	if d.Running {
		fmt.Fprintf(&b, "It is now %s", clock(d.Now))
		if n := len(d.Points); n > 0 && known(d.Points[n-1].Reading) {
			p := d.Points[n-1]
			fmt.Fprintf(&b, ", and the probe reads %s %s", degrees(l.units(p.Reading)), l.unit())
			if known(p.Target) {
				fmt.Fprintf(&b, " of %s %s", degrees(l.units(p.Target)), l.unit())
			}
		}
		b.WriteString(". ")
	}
	if n := len(d.Marks); n > 0 {
		fmt.Fprintf(&b, "Moments marked: %d.", n)
	}
	if l.Alone {
		for i, m := range d.Marks {
			fmt.Fprintf(&b, " %d, at %s, %s: %s", i+1, clock(m.At), m.Kind, m.Text)
		}
	}
	return strings.TrimSpace(b.String())
}

// legTale is one step as it went, beside its plan.
func legTale(w Leg, plan []Leg, l Look) string {
	text := fmt.Sprintf("%s from %s to %s", capital(name(w, l)), clock(w.Start), clock(w.End))
	if at, ok := w.reached(); known(w.Target) {
		switch {
		case !ok:
			text += ", target not reached"
		case at > w.Start:
			text += ", at its target by " + clock(at)
		}
	}
	for _, p := range plan {
		if p.Index == w.Index {
			text += fmt.Sprintf(" (plan: %s to %s)", clock(p.Start), clock(p.End))
		}
	}
	return text + ". "
}

// name is a leg with its temperature.
func name(g Leg, l Look) string {
	if !known(g.Target) {
		return g.Title
	}
	return fmt.Sprintf("%s at %s %s", g.Title, degrees(l.units(g.Target)), l.unit())
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// late is how much later a step began than planned.
func late(w Leg, plan []Leg) (time.Duration, bool) {
	for _, p := range plan {
		if p.Index == w.Index {
			return w.Start - p.Start, true
		}
	}
	return 0, false
}
