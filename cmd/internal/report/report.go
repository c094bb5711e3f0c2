// Package report writes the report of a batch: one page that needs nothing but
// itself. It has no script and asks for nothing from anywhere, so that it
// opens the same in ten years, on a telephone, on dark or light paper, and
// printed.
package report

import (
	"bytes"
	"cmp"
	"fmt"
	"html/template"
	"io"
	"time"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/picture"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/internal/suggest"
	"mashward/profile/plan"
)

// Report is what is told of one batch.
type Report struct {
	Plan   plan.Plan   // zero: not known
	Day    picture.Day // as the Diary kept it
	Result rehearse.Result
	// Profile is the profile's file as the brewer wrote it.
	Profile string
	// Suggestion is what the strike heat-up showed about the kettle; nil: nothing.
	Suggestion *suggest.Told
	// Account is the batch in figures; nil: only what is above is told.
	Account *account.Account
	// Recorded tells that the temperatures are those of the record, and not the truth
	// of a simulated kettle.
	Recorded bool
	// Origins are what it was made from, one line each: files, seed, program.
	Origins []string
}

// page is a Report in words and pictures.
type page struct {
	Name, Title, Summary string
	Simulated            bool
	Style                template.CSS
	Strips, Charts       []drawing
	Marks                []mark
	Rows                 []row
	Troubles             []trouble
	Promises             []string
	Strike               string
	Volumes              []volume
	HasDepth             bool
	Boils                []string
	Retention            string
	Problems             []string
	Profile              string
	Suggestion           *suggest.Told
	Wort, Advice         []string // where extract and water came to; what the readings suggest of boil and probe
	Forecasts            []string // how what was forecast during the day did
	Late                 string   // how late it was and why; "": not known
	LateParts            []latePart
	Origins              []string
	Cautions             []string
	Recorded             bool
	After                *after // nil: no figures
}

// drawing is one picture for one width of page.
type drawing struct {
	Class string
	SVG   template.HTML
}

// mark is one line of the list under the chart.
type mark struct {
	Badge          template.HTML
	At, Kind, Text string
}

// HTML writes the page. The error is the writer's.
func HTML(w io.Writer, r Report) error {
	t, err := template.New("report").Parse(layout)
	if err == nil {
		t, err = t.Parse(sections)
	}
	if err != nil {
		return err
	}
	p, err := pageOf(r)
	if err != nil {
		return err
	}
	// All of it first: half a report must not look like one.
	var all bytes.Buffer
	if err := t.Execute(&all, p); err != nil {
		return err
	}
	_, err = w.Write(all.Bytes())
	return err
}

func pageOf(r Report) (page, error) {
	p := page{
		Name: cmp.Or(r.Plan.Profile, r.Day.Name), Recorded: r.Recorded, After: afterOf(r.Account), Simulated: r.Result.Simulated, Summary: summary(r.Result, r.Plan), Style: template.CSS(picture.CSS() + style),
		Troubles: troubles(r.Result), Promises: promises(r.Result), Volumes: volumes(r.Plan), HasDepth: r.Plan.Kettle.Diameter > 0,
		Profile: r.Profile, Suggestion: r.Suggestion, Origins: r.Origins, Cautions: r.Plan.Cautions,
	}
	if r.Account != nil {
		p.Profile = cmp.Or(p.Profile, r.Account.Text)
		p.Wort, p.Advice, p.Forecasts = r.Account.Wort.Lines(), r.Account.Advice, r.Account.Forecasts.Lines()
		p.Origins = append(p.Origins[:len(p.Origins):len(p.Origins)], madeFrom(r.Account)...)
	}
	if p.Name == "" {
		p.Name = "A brew day without a name"
	}
	p.Title = p.Name
	day := r.Day
	if p.Simulated {
		p.Title = "SIMULATED: " + p.Name
		day.Simulated = true
	}
	var err error
	if p.Strips, err = drawn(picture.Strip, day, "strip"); err != nil {
		return page{}, err
	}
	if p.Charts, err = drawn(picture.Chart, day, "chart"); err != nil {
		return page{}, err
	}
	for i, m := range day.Marks {
		p.Marks = append(p.Marks, mark{template.HTML(picture.Badge(i+1, m.Kind)), say.Clock(m.At), m.Kind.String(), tied(m.Text)})
	}
	for _, s := range r.Result.Steps {
		p.Rows = append(p.Rows, rowOf(s))
	}
	if r.Account != nil {
		p.fillLate(r.Account.Late)
	}
	p.fillPlan(r.Plan)
	return p, nil
}

// fillPlan adds what the plan alone knows.
func (p *page) fillPlan(d plan.Plan) {
	if d.HasStrike {
		p.Strike = fmt.Sprintf("%.1f L of strike water at %.1f °C, and %.2f kg of grain of %.0f °C.",
			d.Water, d.Strike.Temperature, float64(d.Grain.Mass), d.Grain.Temperature)
	}
	for _, b := range d.Boils {
		why := "as the profile asks"
		if !b.Chosen {
			why = "the default vigour, since the profile names none"
		}
		p.Boils = append(p.Boils, fmt.Sprintf("The boil was planned to take %.1f L an hour, %s.", float64(b.Rate)*time.Hour.Seconds(), why))
	}
	if d.Grain.Mass > 0 {
		p.Retention = fmt.Sprintf("The grain keeps %.2f L/kg, counted as water in minus wort out.", float64(d.Kettle.Retention))
	}
	for _, problem := range d.Problems {
		p.Problems = append(p.Problems, tied(sentence(problem.What)+". "+sentence(problem.Remedy)+"."))
	}
}

// drawn is a picture for both widths; the page's style shows one of them.
func drawn(draw func(io.Writer, picture.Day, picture.Look) error, d picture.Day, id string) ([]drawing, error) {
	var out []drawing
	for _, width := range []struct {
		class string
		wide  bool
	}{{"narrow", false}, {"wide", true}} {
		var b bytes.Buffer
		if err := draw(&b, d, picture.Look{Wide: width.wide, ID: id + "-" + width.class}); err != nil {
			return nil, err
		}
		out = append(out, drawing{width.class, template.HTML(b.String())})
	}
	return out, nil
}
