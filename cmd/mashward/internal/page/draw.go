package page

import (
	"bytes"
	"html/template"
	"io"
	"net/http"
	"strings"

	"mashward/cmd/internal/picture"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
)

// drawing is one of the two pictures.
type drawing func(io.Writer, picture.Day, picture.Look) error

// dayOf is what there is to draw.
func dayOf(snap *daemon.Snapshot, sc scale) picture.Day {
	b := snap.Batch
	if b == nil {
		return picture.Day{Simulated: snap.Simulated}
	}
	d := planned(b, snap.Simulated, sc)
	d.Running, d.Now = !snap.Decision.Mode.Ended(), snap.Decision.Clock
	d.Points = make([]picture.Point, 0, len(snap.History))
	for _, p := range snap.History {
		d.Points = append(d.Points, picture.Point{
			At: p.At, Reading: float64(p.Reading), Estimate: float64(p.Estimate),
			Target: float64(p.Target), Duty: float64(p.Duty), Step: int(p.Step),
		})
		if p.Enzymes {
			d.Enzymes = append(d.Enzymes, picture.Left{
				At: p.At, Beta: [2]float64{float64(p.Beta[0]), float64(p.Beta[1])}, Alpha: [2]float64{float64(p.Alpha[0]), float64(p.Alpha[1])},
			})
		}
	}
	for _, e := range snap.Log {
		if kind, ok := markOf(e); ok {
			d.Marks = append(d.Marks, picture.Mark{At: e.At, Text: sc.words(e.Text), Kind: kind})
		}
	}
	return d
}

// planned is the day before it has begun.
func planned(b *daemon.Batch, simulated bool, sc scale) picture.Day {
	d := picture.Day{Name: b.Profile.Name, Simulated: simulated, Plan: picture.LegsOf(b.Plan), Needed: picture.NeededOf(b.Plan)}
	for i := range d.Needed {
		d.Needed[i].Text = sc.words(d.Needed[i].Text)
	}
	return d
}

// markOf picks what is worth a mark: not the steps, which are drawn anyway.
func markOf(e daemon.Entry) (picture.MarkKind, bool) {
	switch e.Kind {
	case controller.AdditionDue:
		return picture.Addition, true
	case controller.PromptRaised:
		return picture.Person, true
	case controller.AlarmRaised:
		return picture.Alarm, true
	case controller.ModeChanged, controller.GrainSuspected, controller.SkipUndone, controller.ChillPlateau, controller.TimeGap,
		controller.WaterAdded, controller.WaterTaken, controller.VolumeRead, controller.HeatBarred, controller.LidMoved,
		controller.AdditionIn, controller.BoilExtended, controller.ChillerScalds,
		controller.Accepted, controller.StrikeMoved, controller.ProbeDiffers, controller.GravityRead, controller.WaterUncounted, controller.TargetChanged:
		return picture.Note, true
	case controller.NoEvent: // the daemon's own entries
		switch {
		case strings.HasPrefix(e.Text, "Heat is cut and stays off"):
			return picture.Trip, true
		case strings.HasPrefix(e.Text, "Heat is cut"):
			return picture.Cut, true
		}
		return picture.Note, true
	}
	return picture.Note, false
}

// drawn is the running day in all four drawings.
func (s *site) drawn(snap *daemon.Snapshot, sc scale) *pictures {
	return s.drawings(dayOf(snap, sc), sc)
}

func (s *site) drawings(d picture.Day, sc scale) *pictures {
	draw := func(with drawing, id string, wide bool) template.HTML { return s.draw(with, d, look(sc, id, wide)) }
	return &pictures{
		StripNarrow: draw(picture.Strip, "sn", false), StripWide: draw(picture.Strip, "sw", true),
		ChartNarrow: draw(picture.Chart, "cn", false), ChartWide: draw(picture.Chart, "cw", true),
	}
}

// draw is one picture, to stand in a page.
func (s *site) draw(with drawing, d picture.Day, l picture.Look) template.HTML {
	var out bytes.Buffer
	if err := with(&out, d, l); err != nil {
		s.o.Log.Error("picture", "error", err)
		return ""
	}
	return template.HTML(out.String()) // the picture escapes what is not its own
}

func look(sc scale, id string, wide bool) picture.Look {
	return picture.Look{Wide: wide, Fahrenheit: sc == fahrenheit, ID: id}
}

func (s *site) strip(w http.ResponseWriter, r *http.Request) { s.fragment(w, r, picture.Strip, "s") }

func (s *site) chart(w http.ResponseWriter, r *http.Request) { s.fragment(w, r, picture.Chart, "c") }

// fragment is one picture of the running day, for the script to put in place
// of the one it has.
func (s *site) fragment(w http.ResponseWriter, r *http.Request, with drawing, id string) {
	sc, wide := scaleOf(r), r.URL.Query().Get("wide") == "1"
	if wide {
		id += "w"
	} else {
		id += "n"
	}
	var out bytes.Buffer
	d, l := dayOf(s.o.Daemon.Latest(), sc), look(sc, id, wide)
	l.From, l.To = partOf(d, r.URL.Query().Get("step"))
	if err := with(&out, d, l); err != nil {
		http.Error(w, "The picture could not be drawn.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	_, _ = w.Write(out.Bytes())
}
