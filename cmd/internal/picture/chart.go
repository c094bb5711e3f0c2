package picture

import (
	"io"
	"math"
)

// open begins a picture. what it shows goes into the title.
func (k *ink) open(d Day, l Look, f frame, height float64, what string) {
	size := "mw-small"
	if f.large {
		size = "mw-large"
	}
	k.put("<svg ")
	if l.Alone {
		k.put(`xmlns="http://www.w3.org/2000/svg" `)
	}
	k.put(`class="mw-pic `, size, `" viewBox="0 0 `, f.width, " ", height,
		`" data-left="`, f.left, `" data-right="`, f.right, `" data-from="`, f.begin.Seconds(), `" data-to="`, (f.begin + f.span).Seconds(), `" role="img" aria-labelledby="`, l.ID, `-t" aria-describedby="`, l.ID, `-d">`, "\n<title id=\"", l.ID, "-t\">")
	title := what
	if d.Name != "" {
		title = d.Name + ": " + what
	}
	if d.Simulated {
		title = "Simulated. " + title
	}
	k.words(title)
	k.put("</title>\n<desc id=\"", l.ID, "-d\">")
	k.words(Tale(d, l))
	k.put("</desc>\n")
	if l.Alone {
		k.put("<style>", CSS(), "</style>\n")
		k.box(0, 0, f.width, height, "mw-soft", "")
	}
	k.patterns(l.ID)
}

// patterns are the hatchings: up for heating, down for cooling, planned and
// actual, and crossed for no heat.
func (k *ink) patterns(id string) {
	k.put("<defs>\n")
	hatch := func(name, class, d string) {
		k.put(`<pattern id="`, id, "-", name, `" width="6" height="6" patternUnits="userSpaceOnUse"><path class="`, class, `" d="`, d, "\"/></pattern>\n")
	}
	const up, down = "M-1 1L1 -1M0 6L6 0M5 7L7 5", "M-1 5L1 7M0 0L6 6M5 -1L7 1"
	hatch("pu", "mw-hatch", up)
	hatch("pd", "mw-hatch", down)
	hatch("wu", "mw-hatch2", up)
	hatch("wd", "mw-hatch2", down)
	hatch("x", "mw-cross", up+down)
	k.put("</defs>\n")
}

// chart is a Chart being laid out.
type chart struct {
	ink
	d      Day
	l      Look
	f      frame
	t      thermo
	went   []Leg
	flown  []placed
	badges []badge
	// Heights from the top.
	flagsAt, lane, bandTop, bandFoot, heatTop, heatFoot float64
	tagBelow                                            bool // no room for it beside the key
}

// Chart draws temperature and heat over the day: the plan as a broad dashed
// line, the probe's reading as a thin solid one, below it the share of power
// as a filled strip, the steps' names above, and numbered marks. The error is
// the writer's.
func Chart(w io.Writer, d Day, l Look) error {
	f := frameOf(l, d.End())
	if l.zoomed() {
		f = frameOf(l, l.To-l.From)
		f.begin = l.From
		d = d.within(l.From, l.To)
	}
	c := &chart{d: d, l: l, f: f, went: d.went()}
	c.lay()
	var body ink
	c.backdrop()
	c.curves()
	c.enzymes()
	c.heat()
	c.names()
	c.marks()
	foot := c.timeAxis(c.f, d, c.heatFoot)
	if l.Alone {
		foot = c.markList(d.Marks, c.f, foot+16)
	}
	body.open(d, l, c.f, foot+4, "temperature and heat over the day")
	body.Write(c.Bytes())
	body.put("</svg>\n")
	_, err := w.Write(body.Bytes())
	return err
}

// lay finds the places of everything.
func (c *chart) lay() {
	legs := c.went
	if c.d.Running || len(legs) == 0 {
		legs = ahead(c.d)
	}
	rows := 0
	c.flown, rows = fly(nameFlags(legs, c.f, c.l), c.f, nameTries(c.f))
	c.flagsAt = 26 + c.f.letters
	if c.tagBelow = c.keyEnd() > c.f.right-extent(simulated, c.f.letters)-12; c.tagBelow {
		c.flagsAt += c.f.row()
	}
	plot, heat := 200.0, 52.0
	if c.f.large {
		plot, heat = 300, 56
	}
	top := c.flagsAt + float64(rows)*c.f.row() - c.f.letters + 6
	c.t = thermoOf(c.d, c.l, top, top+plot)
	c.badges = badges(c.d.Marks, c.f, func(MarkKind) bool { return true })
	c.lane = c.t.bottom + 16
	c.heatTop = c.lane + 20
	if len(c.badges) == 0 {
		c.heatTop = c.t.bottom + 12
	}
	if len(c.d.Enzymes) > 0 {
		c.bandTop, c.bandFoot = c.heatTop, c.heatTop+heat
		c.heatTop = c.bandFoot + 12
	}
	c.heatFoot = c.heatTop + heat
}

// ahead are the steps to name while a day runs: those gone through, then the
// planned ones that are still to come.
func ahead(d Day) []Leg {
	legs := append([]Leg{}, d.went()...)
	last := -1
	if n := len(legs); n > 0 {
		last = legs[n-1].Index
	}
	for _, p := range d.Plan {
		if p.Index > last && (len(legs) == 0 || p.Start > legs[len(legs)-1].Start) {
			legs = append(legs, p)
		}
	}
	return legs
}

// backdrop is what lies behind the lines: watermark, grid, times without heat.
func (c *chart) backdrop() {
	f, t := c.f, c.t
	if c.d.Simulated {
		lift := 16.0
		if f.large {
			lift = 32
		}
		c.text((f.left+f.right)/2, (t.top+t.bottom)/2+lift, "mw-watermark", "middle", simulated)
	}
	label := t.step
	if (t.bottom-t.top)/(t.high-t.low)*t.step < 19 {
		label *= 2
	}
	for shown := t.low; shown <= t.high; shown += t.step {
		y := t.y(shown)
		c.line(f.left, y, f.right, y, "mw-grid")
		if at := (shown - t.low) / label; at == float64(int(at)) && shown < t.high {
			c.text(f.left-6, y+4, "mw-quiet", "end", degrees(shown))
		}
	}
	c.text(f.left-6, t.top+4, "mw-quiet", "end", c.l.unit())
	for _, at := range f.ticks() {
		c.line(f.x(at), t.top, f.x(at), t.bottom, "mw-grid")
	}
	for _, s := range areas(c.d.Off, f) {
		c.box(s.from, t.top, s.to-s.from, t.bottom-t.top, "mw-off", c.l.ID+"-x")
	}
}

// curves are the plan and how it went.
func (c *chart) curves() {
	f, t, l := c.f, c.t, c.l
	plan := planned(c.d.Plan, f, t, l)
	c.path(plan, f.column(), "mw-plan")
	c.path(traceOf(c.d.Points, f, t, func(p Point) float64 {
		if known(p.Reading) {
			return math.NaN()
		}
		return l.units(p.Estimate)
	}), f.column(), "mw-guess")
	actual := traceOf(c.d.Points, f, t, func(p Point) float64 { return l.units(p.Reading) })
	c.path(actual, f.column(), "mw-actual")
	c.labels(plan, actual)
	for _, s := range areas(c.d.Off, f) {
		if s.to-s.from >= extent(s.text, f.letters)+6 {
			c.text((s.from+s.to)/2, t.bottom-6-f.row(), "mw-offtext mw-bold", "middle", s.text)
		}
	}
	if c.d.Running {
		x := f.x(c.d.Now)
		c.line(x, t.top, x, c.heatFoot, "mw-now")
		anchor, at := "start", x+5
		if x > (f.left+f.right)/2 {
			anchor, at = "end", x-5
		}
		c.text(at, t.bottom-6, "mw-bold mw-halo", anchor, "now "+clock(c.d.Now))
	}
}

// heat is the strip of power.
func (c *chart) heat() {
	f := c.f
	c.box(f.left, c.heatTop, f.right-f.left, c.heatFoot-c.heatTop, "mw-rail", "")
	c.duty(c.d.Points, f, c.heatFoot, c.heatFoot-c.heatTop)
	c.text(f.left-6, c.heatTop+11, "mw-quiet", "end", "full")
	c.text(f.left-6, (c.heatTop+c.heatFoot)/2+6, "mw-heattext mw-bold", "end", "heat")
	c.text(f.left-6, c.heatFoot+1, "mw-quiet", "end", "off")
}

// simulated is the word that must not be overlooked.
const simulated = "simulated"

// key is one line's or area's sample with its name.
type key struct{ class, text string }

const sampleWidth = 28.0

// keys are what needs a name.
func (c *chart) keys() []key {
	var out []key
	if len(c.d.Plan) > 0 {
		out = append(out, key{"mw-plan", "plan"})
	}
	if len(c.d.Points) > 0 {
		out = append(out, key{"mw-actual", c.soFar()})
	}
	if len(c.d.Off) > 0 {
		out = append(out, key{"mw-off", "no heat"})
	}
	return out
}

func (c *chart) soFar() string {
	if c.d.Running {
		return "so far"
	}
	return "as it went"
}

// after is where the key after k begins.
func (k key) after(x float64, f frame) float64 {
	return x + sampleWidth + 5 + extent(k.text, f.letters) + 10
}

func (c *chart) keyEnd() float64 {
	x := c.f.left
	for _, k := range c.keys() {
		x = k.after(x, c.f)
	}
	return x
}

// names are the key to the lines, and the steps' names.
func (c *chart) names() {
	x := c.f.left
	for _, k := range c.keys() {
		if k.class == "mw-off" {
			c.box(x+4, 5, sampleWidth-6, 13, k.class, c.l.ID+"-x")
		} else {
			c.line(x, 12, x+sampleWidth, 12, k.class)
		}
		c.text(x+sampleWidth+5, 16, "", "start", k.text)
		x = k.after(x, c.f)
	}
	if c.d.Simulated {
		y := 16.0
		if c.tagBelow {
			y += c.f.row()
		}
		c.text(c.f.right, y, "mw-bold", "end", simulated)
	}
	c.flags(c.flown, c.f, c.flagsAt, c.t.bottom)
}

// marks stand in their lane, each with a stem through the chart.
func (c *chart) marks() {
	for _, b := range c.badges {
		for _, x := range []float64{b.first, b.last} {
			c.line(x, c.t.top, x, c.lane-badgeHeight/2, "mw-stem")
			if b.first == b.last {
				break
			}
		}
	}
	for _, b := range c.badges {
		c.badge(b, c.f, c.lane)
	}
}
