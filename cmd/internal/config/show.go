package config

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/profile/strict"
	"mashward/sim"
	"mashward/sim/fault"
)

// Show writes out what a file means, with everything filled in that it leaves
// out: a profile, plant, fault script or notify file as a file of its kind, a rig as the
// plant that is simulated for it without a plant file. The text can be read
// again and means the same. A plant is filled in from the rig, if one is given.
// The faults are warnings; errors are *Failure.
func Show(path string, rig *Rig) (string, []strict.Fault, error) {
	text, err := read(path)
	if err != nil {
		return "", nil, unreadable(path, err, "check the name")
	}
	switch KindOf(text) {
	case "rig":
		r, faults, err := LoadRig(path)
		return textOf(err, func() string { return showRig(r) }), faults, err
	case "plant":
		base := sim.Defaults()
		if rig != nil {
			base = rig.Plant()
		}
		p, faults, err := LoadPlant(path, base)
		return textOf(err, func() string { return showPlant(p) }), faults, err
	case "faults":
		script, faults, err := LoadFaults(path)
		return textOf(err, func() string { return showScript(script) }), faults, err
	case "tuning":
		t, faults, err := LoadTuning(path)
		return textOf(err, func() string { return string(t.Text()) }), faults, err
	case "notify":
		n, faults, err := LoadNotify(path)
		return textOf(err, n.Show), faults, err
	case "profile":
		p, faults, err := LoadProfile(path)
		return textOf(err, func() string { return showProfile(p, rig) }), faults, err
	}
	r := CheckFile(path, rig)
	return "", nil, &Failure{Code: r.Code, Faults: r.Faults}
}

func textOf(err error, show func() string) string {
	if err != nil {
		return ""
	}
	return show()
}

// showRig is the simulated kettle of a rig, with what else follows from it.
func showRig(r Rig) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# What is simulated for this rig without a plant file. Here water boils at\n# %s, and heat trips at %s at the latest.\n",
		unit.FormatCelsius(r.Boiling()), roundedDown(r.OverTemperature()))
	for _, e := range []struct {
		estimated bool
		what      string
	}{{r.Kettle.VesselEstimated, "vessel.capacity"}, {r.Kettle.LossEstimated, "loss.lid_on"}} {
		if e.estimated {
			fmt.Fprintf(&b, "# %s is estimated from the kettle's capacity.\n", e.what)
		}
	}
	b.WriteString(showPlant(r.Plant()))
	return b.String()
}

func showPlant(p sim.Params) string {
	var b strings.Builder
	section := func(name string, pairs ...string) {
		var inner []string
		for i := 0; i+1 < len(pairs); i += 2 {
			inner = append(inner, pairs[i]+": "+pairs[i+1])
		}
		fmt.Fprintf(&b, "%s: {%s}\n", name, strings.Join(inner, ", "))
	}
	fmt.Fprintf(&b, "plant: %s\n", plainOrQuoted(p.Name))
	section("element", "power", watts(p.Element.Power), "capacity", heatCapacity(p.Element.Capacity), "transfer", transfer(p.Element.Transfer))
	section("vessel", "capacity", heatCapacity(p.Vessel.Capacity), "transfer", transfer(p.Vessel.Transfer))
	section("loss", "lid_on", transfer(p.Loss.LidOn), "lid_off", transfer(p.Loss.LidOff))
	section("evaporation", "lid_on", vapour(p.Evaporation.LidOn), "lid_off", vapour(p.Evaporation.LidOff))
	c := p.Circulation
	section("circulation", "flow", flow(c.Flow), "bed_transfer", transfer(c.BedTransfer), "outside_bed", share(c.OutsideBed),
		"delay", lasting(c.Delay), "pipe_loss", transfer(c.PipeLoss))
	section("probe", "place", p.Probe.Place.String(), "lag", lasting(p.Probe.Lag), "noise", difference(p.Probe.Noise),
		"step", difference(p.Probe.Step), "offset", difference(p.Probe.Offset), "conversion", lasting(p.Probe.Conversion))
	section("supply", "nominal", volts(p.Supply.Nominal), "actual", volts(p.Supply.Actual))
	section("water", "error", share(p.Water.Error), "temperature", temperature(p.Water.Temperature))
	section("grain", "error", share(p.Grain.Error), "slaking", wetting(p.Grain.Slaking), "retention", retention(p.Grain.Retention))
	section("chiller", "transfer", transfer(p.Chiller.Transfer), "water", temperature(p.Chiller.Water))
	section("site", "room", temperature(p.Site.Room), "altitude", height(p.Site.Altitude))
	return b.String()
}

// ProfileText is a profile as a file of its kind, everything filled in; the rig,
// if there is one, tells how hard a boil is that names no rate.
func ProfileText(p profile.Profile, rig *Rig) string { return showProfile(p, rig) }

// showProfile writes a profile; the rig tells how hard a boil is that names no
// rate.
func showProfile(p profile.Profile, rig *Rig) string {
	var b strings.Builder
	fmt.Fprintf(&b, "profile: %s\nwater: %s\n", plainOrQuoted(p.Name), volume(p.Water))
	if p.Grain.Mass > 0 {
		fmt.Fprintf(&b, "grain: {mass: %s, temperature: %s, moisture: %s, slaking: %s, extract: %s, conversion: %s}\n", mass(p.Grain.Mass),
			temperature(p.Grain.Temperature), share(p.Grain.Moisture), wetting(p.Grain.Slaking), share(p.Grain.Extract), share(p.Grain.Conversion))
	}
	fmt.Fprintf(&b, "trub: %s\n", share(p.Trub))
	if p.Use != profile.Brew {
		fmt.Fprintf(&b, "use: %s\n", p.Use)
	}
	b.WriteString("steps:\n")
	for _, s := range p.Steps {
		showStep(&b, s)
		if s.Kind == profile.Boil && s.BoilOff == 0 {
			b.WriteString(vigour(p, rig))
		}
		if len(s.Additions) > 0 {
			b.WriteString("    additions:\n")
		}
		for _, a := range s.Additions {
			fmt.Fprintf(&b, "      - {%sadd: %s}\n", moment(a), plainOrQuoted(a.Add))
		}
	}
	showExpect(&b, p.Expect)
	return b.String()
}

// showStep writes a step on one line, or a key a line where additions follow.
func showStep(b *strings.Builder, s profile.Step) {
	if s.Kind == profile.Lift {
		b.WriteString("  - lift" + map[bool]string{true: ":"}[len(s.Additions) > 0] + "\n")
		return
	}
	head := temperature(s.Target)
	if s.Kind == profile.Boil {
		head = lasting(s.For)
	}
	pairs := []string{s.Kind.String() + ": " + head}
	if s.Kind != profile.Boil && s.Kind != profile.Chill {
		pairs = append(pairs, "for: "+lasting(s.For))
	}
	if s.Ramp > 0 {
		pairs = append(pairs, "ramp: "+exact(s.Ramp, unit.ParseKelvinPerSecond, "K/min", "K/h", "K/s"))
	}
	if s.Floor > 0 {
		pairs = append(pairs, "floor: "+difference(s.Floor))
	}
	if s.Name != "" {
		pairs = append(pairs, "name: "+plainOrQuoted(s.Name))
	}
	if s.BoilOff > 0 {
		pairs = append(pairs, "boil_off: "+exact(s.BoilOff, unit.ParseLitresPerSecond, "L/h", "L/min"))
	}
	if s.Kind == profile.Boil || s.Kind == profile.Stand || len(s.Additions) > 0 {
		fmt.Fprintf(b, "  - %s\n", strings.Join(pairs, "\n    "))
		return
	}
	fmt.Fprintf(b, "  - {%s}\n", strings.Join(pairs, ", "))
}

// moment is when an addition goes in, as it is written before it.
func moment(a profile.Addition) string {
	switch a.When {
	case profile.ByLeft:
		return "left: " + lasting(a.Left) + ", "
	case profile.ByClock:
		return "at: " + lasting(a.At) + ", "
	case profile.AtStrike:
		return "at: strike, "
	case profile.AtOnce:
	}
	return ""
}

// vigour says what a boil without a rate boils off.
func vigour(p profile.Profile, rig *Rig) string {
	if rig != nil {
		if d, _ := plan.Make(p, rig.PlanKettle()); len(d.Boils) > 0 && d.Boils[0].Rate > 0 {
			return "    # no boil_off: " + unit.FormatLitresPerHour(d.Boils[0].Rate) + " on this kettle\n"
		}
	}
	return "    # no boil_off: a tenth of the wort in an hour, or what the element can\n"
}

func showScript(script fault.Script) string {
	var b strings.Builder
	b.WriteString("faults:\n")
	for _, f := range script {
		at := lasting(f.At.After)
		if f.At.OfStep {
			at = fmt.Sprintf("{step: %d, after: %s}", f.At.Step, at)
		}
		fmt.Fprintf(&b, "  - {at: %s, fault: %s%s", at, f.Kind, faultValue(f))
		if f.For > 0 {
			b.WriteString(", for: " + lasting(f.For))
		}
		b.WriteString("}\n")
	}
	return b.String()
}

func faultValue(f fault.Fault) string {
	switch f.Kind {
	case fault.ProbeOffset, fault.ProbeNoise:
		return ", value: " + difference(f.Kelvin)
	case fault.ProbeSpike:
		return ", value: " + difference(f.Kelvin) + ", chance: " + share(f.Chance)
	case fault.ProbeDrift:
		return ", value: " + exact(f.Drift, unit.ParseKelvinPerSecond, "K/h", "K/min", "K/s")
	case fault.LowVolume, fault.SupplySag:
		return ", value: " + share(f.Share)
	case fault.Drained:
		return ", value: " + flow(f.Flow)
	case fault.ColdWater:
		return ", value: " + volume(f.Litres)
	case fault.ClockStep, fault.TickLate:
		return ", value: " + lasting(f.Duration)
	}
	return ""
}

// plainWord is text that YAML reads as it stands wherever it stands.
var plainWord = regexp.MustCompile(`^\p{L}[\p{L}\p{N} ._/()+°-]*$`)

// plainOrQuoted writes a text so that YAML reads the same. Go quotes as YAML does.
func plainOrQuoted(text string) string {
	if plainWord.MatchString(text) && strings.TrimSpace(text) == text && !strings.EqualFold(text, "null") {
		return text
	}
	return strconv.Quote(text)
}

// lasting writes a time as people do where that loses nothing.
func lasting(d time.Duration) string {
	text := unit.FormatDuration(d)
	if back, err := unit.ParseDuration(text); err == nil && back == d {
		return text
	}
	return strconv.FormatFloat(d.Seconds(), 'f', -1, 64) + " s"
}
