package page

import (
	"fmt"
	"net/http"
	"path/filepath"
	"strconv"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/say"
	"mashward/controller/unit"
)

// kettlePage is the rig in sentences, with its tuning.
type kettlePage struct {
	base
	File            string
	Parts           []part
	Tuned, Before   []string
	Written, Former string // when
	Named           string // the tuning's file; "": the rig names none
	Under           bool   // a batch is under way, or armed
	Test, Restore   string // what to write in a terminal
}

func (s *site) kettle(w http.ResponseWriter, r *http.Request) {
	snap := s.o.Daemon.Latest()
	rig, _ := s.o.Daemon.Rig()
	m := kettlePage{base: s.base(r, "Kettle and tuning"), File: filepath.Base(s.o.Daemon.RigPath()), Under: under(snap) || snap.Waiting != nil && snap.Waiting.Over == ""}
	if rig.Kettle.Capacity > 0 {
		m.Parts = rigParts(&rig, m.base)
	}
	if m.Named = rig.Tuning; m.Named != "" {
		m.Named = filepath.Base(m.Named)
	}
	out := m.Named
	if out == "" {
		out = "kettle.tuning.yaml"
	}
	m.Test = "mashward tune --rig " + m.File + " --out " + out + " --state DIR"
	m.Restore = "mashward tune --restore --out " + out
	now, before := s.o.Daemon.Tunings()
	if now != nil {
		m.Tuned, m.Written = tuned(&now.Tuning, m.base), now.Written.UTC().Format("2006-01-02 15:04")
	}
	if before != nil {
		m.Before, m.Former = tuned(&before.Tuning, m.base), before.Written.UTC().Format("2006-01-02 15:04")
	}
	s.show(w, http.StatusOK, "kettle.html", m)
}

// waterHeats is what a litre of water takes for 1 °C, in J (IAPWS R7-97 at 20 °C, to
// the digits that a sentence needs).
const waterHeats = 4180

// rigParts say what the rig file says. What is joules and kelvin there is said as
// litres of water and °C.
func rigParts(rig *config.Rig, b base) []part {
	line := func(format string, args ...any) planLine {
		return planLine{Text: b.Words(fmt.Sprintf(format, args...))}
	}
	estimated := func(is bool) string { return choose(is, " (estimated from its size)", "") }
	k := part{Title: "The kettle", Lines: []planLine{
		line("It holds %s to the brim, and covers its element from %s on.", unit.FormatLitres(rig.Kettle.Capacity), unit.FormatLitres(rig.Kettle.ElementCoveredAt)),
		line("Its own metal takes as much heat as %.1f L of water%s.", float64(rig.Kettle.Vessel)/waterHeats, estimated(rig.Kettle.VesselEstimated)),
		line("With its lid on it loses %.0f W where it is 10 °C above the room%s.", 10*float64(rig.Kettle.Loss), estimated(rig.Kettle.LossEstimated)),
	}}
	if rig.Kettle.Diameter > 0 {
		k.Lines = append(k.Lines, line("It is %.0f cm wide.", 100*float64(rig.Kettle.Diameter)))
	}
	e := part{Title: "The element", Lines: []planLine{line("It is declared with %.0f W; its relay is %s, on %s (%s).", float64(rig.Element.Power), rig.Element.Relay.Type, rig.Element.Relay.Line, rig.Element.Relay.Driver)}}
	if rig.Supply.Voltage > 0 {
		e.Lines = append(e.Lines, line("At %.0f V it draws %.1f A.", float64(rig.Supply.Voltage), float64(rig.Element.Power)/float64(rig.Supply.Voltage)))
	}
	e.Lines = append(e.Lines, line("%s", choose(rig.Contactor.Present(), "A contactor stands in series with it.", "No contactor stands in series with it: a welded relay is ended by the cut-out and by you, at the breaker.")))
	p := part{Title: "Probe and pump", Lines: []planLine{
		line("The probe is read by %s%s; its place: %s.", rig.Probe.Driver, choose(rig.Probe.ID == "", "", " "+rig.Probe.ID), rig.Probe.Place),
		line("%s", choose(rig.Pump.Present(), "There is a pump, and it "+choose(rig.Pump.InBoil, "may", "does not")+" run in the boil.", "There is no pump.")),
	}}
	l := part{Title: "Limits", Lines: []planLine{
		line("Water boils here at %.1f °C; heat is cut, and stays off, at %.1f °C at the latest, in the mash far below that.", float64(rig.Boiling()), float64(rig.OverTemperature())),
		line("The rig file can tighten this, and nothing can loosen it."),
	}}
	return []part{k, e, p, l}
}

func choose(is bool, yes, no string) string {
	if is {
		return yes
	}
	return no
}

// tuned says what a test found.
func tuned(t *config.Tuning, b base) []string {
	rate := float64(t.Power) / float64(t.Capacity) * 60
	all := []string{
		fmt.Sprintf("With %s of water in it, full power warms it by +%.2f °C a minute: as %.0f W would that reach all of it.", unit.FormatLitres(t.Water), rate, float64(t.Power)),
		fmt.Sprintf("With its lid on it loses %.0f W where it is 10 °C above the room.", 10*float64(t.Loss)),
		fmt.Sprintf("The reading follows the kettle after %s: the element's %s, the probe's %s, the way between them %s.",
			say.Length(t.Element+t.Probe+t.Delay), say.Length(t.Element), say.Length(t.Probe), say.Length(t.Delay)),
	}
	if t.Doubt > 0 {
		all = append(all, fmt.Sprintf("The rate is known to within %s %%.", strconv.FormatFloat(100*float64(t.Doubt), 'f', 1, 64)))
	}
	for i := range all {
		all[i] = b.Words(all[i])
	}
	return all
}

// restoreTuning brings the tuning back that another one replaced.
func (s *site) restoreTuning(w http.ResponseWriter, r *http.Request) {
	code := codeRestored
	if err := s.o.Daemon.RestoreTuning(); err != nil {
		if code = lost(err); code == codeLate { // the disk's
			s.o.Log.Error("tuning", "error", err)
			code = codeNotRestored
		}
	}
	back(w, r, "/kettle", code)
}
