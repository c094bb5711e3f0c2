package picture

import (
	"fmt"
	"io"
	"math"
	"time"
)

// lateStep is how much the lateness must change to be worth a word.
const lateStep = 2 * time.Minute

// strip is a Strip being laid out.
type strip struct {
	ink
	d    Day
	l    Look
	f    frame
	went []Leg
	bar  float64 // height of a bar
	// Heights from the top.
	plan, actual float64
}

// Strip draws the day as one strip, in proportion to time: the planned steps
// above, what became of them below, lines between where each began, and below
// that the moments at which somebody was, or will be, needed. The error is the
// writer's.
func Strip(w io.Writer, d Day, l Look) error {
	s := &strip{d: d, l: l, f: frameOf(l, d.End()), went: d.went(), bar: 24}
	if s.f.large {
		s.bar = 30
	}
	names, rows := fly(nameFlags(d.Plan, s.f, l), s.f, nameTries(s.f))
	first := s.f.letters + 2
	if d.Simulated {
		s.text(s.f.right, first, "mw-bold", "end", simulated)
		first += s.f.row() + 2
	}
	s.plan = first + float64(rows)*s.f.row() - s.f.letters + 8
	s.flags(names, s.f, first, s.plan)
	s.actual = s.plan + s.bar + 16
	if len(s.went) == 0 {
		s.actual = s.plan // nothing to draw below
	}
	s.bars()
	y := s.lateness(s.actual + s.bar)
	y = s.persons(y)
	if d.Running {
		x := s.f.x(d.Now)
		s.line(x, s.plan-4, x, y, "mw-now")
	}
	foot := s.timeAxis(s.f, d, y+4)
	var body ink
	body.open(d, l, s.f, foot+2, "the day as one strip, planned steps above, as they went below")
	body.Write(s.Bytes())
	body.put("</svg>\n")
	_, err := w.Write(body.Bytes())
	return err
}

// bars are the two rows of steps.
func (s *strip) bars() {
	s.text(s.f.left-6, s.plan+s.bar/2+4, "mw-quiet", "end", "plan")
	for _, g := range s.d.Plan {
		s.leg(g, s.plan, "p")
	}
	s.numbers(s.d.Plan, s.plan)
	if len(s.went) == 0 {
		return
	}
	word := "went"
	if s.d.Running {
		word = "so far"
		if !s.f.large {
			word = "now"
		}
	}
	s.text(s.f.left-6, s.actual+s.bar/2+4, "mw-actualtext mw-bold", "end", word)
	for _, g := range s.went {
		s.leg(g, s.actual, "w")
		if by, ok := late(g, s.d.Plan); ok {
			s.line(s.f.x(g.Start-by), s.plan+s.bar, s.f.x(g.Start), s.actual, "mw-flag")
		}
	}
	for _, a := range areas(s.d.Off, s.f) {
		s.box(a.from, s.actual, a.to-a.from, s.bar, "mw-off", s.l.ID+"-x")
	}
	s.numbers(s.went, s.actual)
}

// numbers are the steps', where there is room.
func (s *strip) numbers(legs []Leg, y float64) {
	for _, g := range legs {
		from, to := s.f.x(g.Start), s.f.x(g.End)
		number := fmt.Sprint(g.Index)
		if to-from >= extent(number, s.f.letters)+6 {
			s.text((from+to)/2, y+s.bar/2+s.f.letters*0.36, "mw-halo", "middle", number)
		}
	}
}

// area is a time without heat on the scale.
type area struct {
	from, to float64
	text     string
}

// areas are times without heat, wide enough to be seen; those that would touch
// are one, with the word of the widest.
func areas(off []Span, f frame) []area {
	const narrowest, gap = 2, 2.5
	var out []area
	widest := 0.0
	for _, s := range off {
		a := area{f.x(s.From), f.x(s.To), s.Text}
		a.to = max(a.to, a.from+narrowest)
		n := len(out)
		if n == 0 || a.from-out[n-1].to >= gap {
			out, widest = append(out, a), a.to-a.from
			continue
		}
		if last := &out[n-1]; a.to-a.from > widest {
			last.text, widest = a.text, a.to-a.from
		}
		out[n-1].to = max(a.to, out[n-1].to)
	}
	return out
}

// leg draws one step: its way to the target hatched, its time there filled.
func (s *strip) leg(g Leg, y float64, row string) {
	from, to := s.f.x(g.Start), s.f.x(g.End)
	there, _ := g.reached()
	middle := s.f.x(there)
	hatch := s.l.ID + "-" + row + "u"
	if known(g.Target) && known(g.From) && g.Target < g.From {
		hatch = s.l.ID + "-" + row + "d"
	}
	outline := "mw-none mw-planned"
	if row == "w" {
		outline = "mw-none mw-went"
	}
	if known(g.Target) && middle > from {
		s.box(from, y, middle-from, s.bar, "", hatch)
	}
	s.box(middle, y, to-middle, s.bar, "mw-hold", "")
	s.box(from, y, max(1.5, to-from), s.bar, outline, "")
}

// lateness says where the day fell behind its plan, or came before it: at each
// step whose beginning moved by lateStep or more against the one before.
func (s *strip) lateness(y float64) float64 {
	var flags []flag
	before := time.Duration(0)
	for _, g := range s.went {
		by, ok := late(g, s.d.Plan)
		if ok && (by-before >= lateStep || before-by >= lateStep) {
			flags = append(flags, flag{s.f.x(g.Start), []string{lateWords(by), lateShort(by)}})
			before = by
		}
	}
	if len(flags) == 0 {
		return y + 4
	}
	placed, rows := fly(flags, s.f, []try{{0, 1}, {0, 2}, {1, 2}, {1, 3}})
	for _, p := range placed {
		// Mirrored: the last row is nearest to the bar.
		base := y + float64(rows-p.row)*s.f.row()
		s.line(p.x, y, p.x, base, "mw-flag")
		s.text(p.from, base, "mw-halo", "start", p.text)
	}
	return y + float64(rows)*s.f.row() + 6
}

func lateWords(by time.Duration) string {
	minutes := int(math.Round(by.Minutes()))
	switch {
	case minutes > 0:
		return fmt.Sprintf("%d min late", minutes)
	case minutes < 0:
		return fmt.Sprintf("%d min early", -minutes)
	}
	return "on time"
}

func lateShort(by time.Duration) string {
	return fmt.Sprintf("%+d min", int(math.Round(by.Minutes())))
}

// persons marks when somebody was needed, and, in a day that runs or is yet to
// come, when somebody will be.
func (s *strip) persons(y float64) float64 {
	called := badges(s.d.Marks, s.f, func(k MarkKind) bool { return k == Person || k == Addition })
	var later []float64
	for _, m := range s.d.Needed {
		if len(s.went) == 0 || s.d.Running && m.At > s.d.Now {
			later = append(later, s.f.x(m.At))
		}
	}
	if len(called)+len(later) == 0 {
		return y
	}
	y += badgeHeight/2 + 4
	s.text(s.f.left-6, y+4, "mw-quiet", "end", "you")
	for _, x := range later {
		s.put(`<polygon class="mw-later" points="`, x, ",", y-6, " ", x+5, ",", y+5, " ", x-5, ",", y+5, "\"/>\n")
	}
	for _, b := range called {
		s.badge(b, s.f, y)
	}
	return y + badgeHeight/2 + 6
}
