package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"mashward/cmd/internal/config"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/gravity"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// wishCall is what `mashward plan` was asked to come to.
type wishCall struct {
	volume, gravity, grain, out string
	wish                        plan.Wish
}

func (w *wishCall) options(o *options) {
	o.StringVar(&w.volume, "wanted", "", "`litres` into the fermenter, as 19L or \"19 L\"")
	o.StringVar(&w.gravity, "gravity", "", "original `gravity`, as 1.050 or 12.4P")
	o.StringVar(&w.grain, "grain", "", "`mass` of the grain, as 5kg")
	o.StringVar(&w.out, "out", "", "`file` for the scaled profile")
}

func (w *wishCall) asked() bool { return w.wish != plan.Wish{} }

// read takes the words apart; what is wrong with one is a wrong call.
func (w *wishCall) read() (err error) {
	if w.volume != "" {
		if w.wish.Volume, err = unit.ParseLitres(w.volume); err != nil {
			return usage("--wanted: %v", err)
		}
	}
	if w.grain != "" {
		if w.wish.Grain, err = unit.ParseKilograms(w.grain); err != nil {
			return usage("--grain: %v", err)
		}
	}
	if w.gravity != "" {
		if w.wish.Gravity, err = wishedGravity(w.gravity); err != nil {
			return usage("--gravity: %v", err)
		}
	}
	switch {
	case (w.volume+w.gravity+w.grain) != "" && !w.asked():
		return usage("plan: nothing is wished for: give a volume, a gravity or a mass above zero")
	case w.out != "" && !w.asked():
		return usage("--out: what is to be scaled? Add --wanted, --gravity or --grain")
	}
	return nil
}

// wishedGravity reads a gravity or degrees Plato. A refractometer's scale is of
// sucrose, and nobody wishes for its reading.
func wishedGravity(text string) (unit.SpecificGravity, error) {
	r, err := gravity.Read(text)
	if err != nil {
		return 0, err
	}
	if r.Kind == gravity.Refractometer {
		return 0, &unit.TextError{What: text + " is what a refractometer shows", Remedy: "write a gravity, as 1.050, or degrees Plato, as 12.4P"}
	}
	return r.Gravity()
}

// scale works a day out backwards. The profile that comes out is read again as
// a file would be, so that what is written is what was planned; one that does
// not fit is refused, and nothing is written.
func (c *call) scale(d day, w wishCall, path, format string, h *plan.Heading) error {
	s, err := plan.Scale(d.profile, d.rig.PlanKettle(), w.wish)
	if err != nil {
		return &config.Failure{Code: config.ExitBadInput, Err: fmt.Errorf("%s cannot be scaled so: %w", path, err)}
	}
	name := w.out
	if name == "" {
		name = "the scaled profile"
	}
	body := config.ProfileText(s.Profile, &d.rig)
	p, faults := profile.Parse(name, []byte(body))
	if strict.Refused(faults) {
		return &config.Failure{Code: config.ExitBadInput, Faults: faults}
	}
	template := d.profile
	d.profile = p
	d.plan, _ = plan.Make(p, d.rig.PlanKettle())
	if err := d.refuse(); err != nil {
		c.tellMisfit(template, d, s, w)
		return err
	}
	text := config.ScaledHead(s, d.plan, d.rig.Name, filepath.Base(path)) + body
	if w.out != "" {
		if err := putMade(w.out, path, text); err != nil {
			return err
		}
	}
	if h != nil {
		return c.tellSheet(d, *h)
	}
	return c.tellScaled(d, s, w, text, format)
}

// tellMisfit says what was tried, and what would fit.
func (c *call) tellMisfit(template profile.Profile, d day, s plan.Scaled, w wishCall) {
	for _, change := range s.Changes {
		fmt.Fprintln(c.err, change)
	}
	if least, most := plan.Fitting(template, d.rig.PlanKettle(), w.wish.Gravity); most > 0 {
		fmt.Fprintf(c.err, "This does not fit. On this kettle %s to %s in the fermenter do:\n", unit.FormatLitres(least), unit.FormatLitres(most))
		return
	}
	fmt.Fprintln(c.err, "This does not fit, and no other size does on this kettle:")
}

// putMade writes a profile, though never over the one it was made from.
func putMade(out, from, text string) error {
	a, err := os.Stat(out)
	if b, other := os.Stat(from); err == nil && other == nil && os.SameFile(a, b) {
		return usage("--out: %s is the profile that it is made from; name another file", out)
	}
	return record.Replace(out, []byte(text))
}

// tellScaled prints the profile itself, or, where that went into a file, what
// became of it and the plan; for programs both.
func (c *call) tellScaled(d day, s plan.Scaled, w wishCall, text, format string) error {
	if format == "json" {
		var day bytes.Buffer
		if err := plan.JSON(&day, d.plan); err != nil {
			return err
		}
		return encode(c.out, scaledJSON{text, s.Factor, float64(d.profile.Water), float64(d.profile.Grain.Mass), s.Changes, day.Bytes()})
	}
	if w.out == "" {
		_, err := io.WriteString(c.out, text)
		return err
	}
	fmt.Fprintf(c.out, "Written to %s.\n", w.out)
	for _, change := range s.Changes {
		fmt.Fprintln(c.out, change)
	}
	fmt.Fprintln(c.out)
	return c.tellPlan(d, format)
}

type scaledJSON struct {
	Text    string          `json:"profile_text"`
	Factor  float64         `json:"factor"` // of the volume in the fermenter
	Water   float64         `json:"water_litres"`
	Grain   float64         `json:"grain_kilograms"`
	Changes []string        `json:"changes"`
	Plan    json.RawMessage `json:"plan"`
}
