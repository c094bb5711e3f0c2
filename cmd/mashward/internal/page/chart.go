package page

import (
	"encoding/json"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strconv"
	"time"

	"mashward/cmd/internal/picture"
	"mashward/cmd/internal/say"
)

// chartPage is the chart by itself, of the whole day or of one step, and the same as a
// table of figures.
type chartPage struct {
	base
	Name, At     string
	Zooms        []zoom
	Narrow, Wide template.HTML
	Rows         []courseRow
}

// zoom is a part of the day that can be looked at.
type zoom struct {
	Step, Title string
	Shown       bool
}

// courseRow is one line of the table.
type courseRow struct{ At, Reading, Target, Planned, Heat string }

// mostRows is how many moments the table has.
const mostRows = 24

func (s *site) chartPage(w http.ResponseWriter, r *http.Request) {
	snap := s.o.Daemon.Latest()
	if snap.Batch == nil {
		back(w, r, "/", "")
		return
	}
	step := r.URL.Query().Get("step")
	m := chartPage{base: s.base(r, "Chart"), Name: snap.Batch.Profile.Name, At: say.Clock(snap.Decision.Clock)}
	d := dayOf(snap, m.Scale)
	from, to := partOf(d, step)
	m.Here = "/chart"
	m.Zooms = []zoom{{"", "The whole day", to == 0}}
	for _, g := range d.Plan {
		if g.End > g.Start {
			number := strconv.Itoa(g.Index)
			m.Zooms = append(m.Zooms, zoom{number, capital(m.Words(snap.Batch.Say.Step(uint8(g.Index)))), to > 0 && number == step})
		}
	}
	draw := func(id string, wide bool) template.HTML {
		l := look(m.Scale, id, wide)
		l.From, l.To = from, to
		return s.draw(picture.Chart, d, l)
	}
	m.Narrow, m.Wide = draw("cn", false), draw("cw", true)
	m.Rows = rows(d, from, to, m.Scale)
	s.show(w, http.StatusOK, "chart.html", m)
}

// partOf is the time of one step, as it went and as it was planned, with a minute on
// either side; 0 and 0 are the whole day.
func partOf(d picture.Day, step string) (from, to time.Duration) {
	index, err := strconv.Atoi(step)
	if err != nil {
		return 0, 0
	}
	from = math.MaxInt64
	see := func(a, b time.Duration) { from, to = min(from, a), max(to, b) }
	for _, g := range d.Plan {
		if g.Index == index {
			see(g.Start, g.End)
		}
	}
	for _, p := range d.Points {
		if p.Step == index {
			see(p.At, p.At)
		}
	}
	if to == 0 || to-from < time.Second {
		return 0, 0
	}
	return max(0, from-time.Minute), to + time.Minute
}

// moment is what the chart shows at one time. Temperatures are °C; NaN is unknown.
type moment struct {
	at                             time.Duration
	reading, target, planned, duty float64
	step                           int // -1: not yet
}

// along are n moments or fewer of them, evenly over a part of the day.
func along(d picture.Day, from, to time.Duration, n int) []moment {
	if to == 0 {
		to = d.End()
	}
	every := max((to-from)/time.Duration(n-1), 5*time.Second)
	var all []moment
	for at := from; at <= to; at += every {
		m := moment{at: at, reading: math.NaN(), target: math.NaN(), planned: d.Planned(at), duty: math.NaN(), step: -1}
		i, _ := slices.BinarySearchFunc(d.Points, at, func(p picture.Point, at time.Duration) int { return int((p.At - at) / time.Millisecond) })
		if i < len(d.Points) && d.Points[i].At-at < 10*time.Second {
			p := d.Points[i]
			m.at, m.planned = p.At, d.Planned(p.At) // the next one that was kept
			m.reading, m.target, m.step = p.Reading, p.Target, p.Step
			m.duty = dutyAround(d.Points, i)
		}
		all = append(all, m)
	}
	return all
}

// dutyAround is the share of power over the minute before a point.
func dutyAround(points []picture.Point, i int) float64 {
	sum, n := 0.0, 0.0
	for k := i; k >= 0 && points[i].At-points[k].At < time.Minute; k-- {
		sum, n = sum+points[k].Duty, n+1
	}
	return sum / n
}

func rows(d picture.Day, from, to time.Duration, sc scale) (all []courseRow) {
	degrees := func(c float64) string {
		if math.IsNaN(c) {
			return ""
		}
		return sc.write(c)
	}
	for _, m := range along(d, from, to, mostRows) {
		r := courseRow{At: say.Clock(m.at), Reading: degrees(m.reading), Target: degrees(m.target), Planned: degrees(m.planned)}
		if !math.IsNaN(m.duty) {
			r.Heat = fmt.Sprintf("%.0f %%", m.duty*100)
		}
		all = append(all, r)
	}
	return all
}

// mostMoments is how many a script gets.
const mostMoments = 600

// course is the day in figures, for the script to say what lies under a finger: seconds
// since arming, °C as read, target and planned, share of power, step.
func (s *site) course(w http.ResponseWriter, r *http.Request) {
	snap := s.o.Daemon.Latest()
	if snap.Batch == nil {
		http.NotFound(w, r)
		return
	}
	d := dayOf(snap, celsius)
	from, to := partOf(d, r.URL.Query().Get("step"))
	out := struct {
		Titles map[int]string `json:"titles"`
		All    [][6]*float64  `json:"moments"`
	}{map[int]string{}, [][6]*float64{}}
	for _, g := range d.Plan {
		out.Titles[g.Index] = snap.Batch.Say.Step(uint8(g.Index))
	}
	figure := func(x float64, digits float64) *float64 {
		if math.IsNaN(x) {
			return nil
		}
		x = math.Round(x*digits) / digits
		return &x
	}
	for _, m := range along(d, from, to, mostMoments) {
		step := math.NaN()
		if m.step >= 0 {
			step = float64(m.step)
		}
		out.All = append(out.All, [6]*float64{figure(m.at.Seconds(), 1), figure(m.reading, 100), figure(m.target, 100), figure(m.planned, 100), figure(m.duty, 100), figure(step, 1)})
	}
	body, err := json.Marshal(out)
	if err != nil {
		http.Error(w, "The course could not be written.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(body) // whoever has gone needs no answer
}
