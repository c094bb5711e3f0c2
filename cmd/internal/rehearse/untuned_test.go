package rehearse

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// declaredKettle is what an owner would write in a rig file.
func declaredKettle(k kettles.Kettle) plan.Kettle {
	d := k.Declared
	place := plan.Outlet
	switch d.Place {
	case sim.Return:
		place = plan.Return
	case sim.Bed:
		place = plan.Bed
	}
	return plan.Kettle{Capacity: d.Capacity, Diameter: d.Diameter, ElementCoveredAt: d.ElementCovered, Vessel: d.Vessel,
		Loss: d.Loss, Power: d.Power, Relay: plan.SolidState, Pump: true, InBoil: true, Probe: place, ProbeCoveredAt: d.ProbeCovered,
		Altitude: d.Altitude, Room: d.Room, Tap: d.Tap, Retention: d.Retention}
}

// fourRests is the study's mash for one kettle.
func fourRests(k kettles.Kettle) profile.Profile {
	rest := func(kind profile.Kind, t unit.Celsius, minutes int) profile.Step {
		return profile.Step{Kind: kind, Target: t, For: time.Duration(minutes) * time.Minute, Floor: 1}
	}
	return profile.Profile{Name: "four rests", Water: k.Load.Water,
		Grain: profile.Grain{Mass: k.Load.Grain, Temperature: k.Load.GrainTemperature, Moisture: k.Load.Moisture, Slaking: k.Plant.Grain.Slaking},
		Steps: []profile.Step{rest(profile.MashIn, 44, 10), rest(profile.Rest, 63, 25), rest(profile.Rest, 71, 20), rest(profile.MashOut, 77, 10)}}
}

func runKettle(t *testing.T, seed uint64, relay plan.RelayKind, trace string) (Result, bool) {
	k := kettles.Random(seed)
	dk := declaredKettle(k)
	dk.Relay = relay
	p := fourRests(k)
	d, problems := plan.Make(p, dk)
	if plan.Refused(problems) {
		t.Logf("seed %d refused: %v", seed, problems)
		return Result{}, false
	}
	bench := sim.NewBench(sim.New(k.Plant, k.Load, seed), nil, seed)
	r := Run{Profile: p, Plan: d, Kettle: &Simulated{Bench: bench}}
	if trace != "" {
		f, err := os.Create(trace)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		r.Trace = NewTrace(f)
	}
	res, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range r.judge.steps {
		if c.index == 1 {
			mashInMiss = r.judge.at(c.start) - 44
		}
	}
	return res, true
}

var mashInMiss float64

func TestExplore(t *testing.T) {
	n, _ := strconv.Atoi(os.Getenv("N"))
	from, _ := strconv.Atoi(os.Getenv("FROM"))
	if n == 0 {
		t.Skip("set N")
	}
	var over, ratio, rms, land []float64
	for seed := from; seed < from+n; seed++ {
		trace := ""
		if n == 1 {
			trace = "/tmp/trace.csv"
		}
		res, ok := runKettle(t, uint64(seed), relayKind(), trace)
		if !ok {
			continue
		}
		k := kettles.Random(uint64(seed))
		line := fmt.Sprintf("seed %d %4.0fL %4.0fW %s turn %.0fs out %s(%s):", seed, float64(k.Load.Water), float64(k.Plant.Element.Power), k.Plant.Probe.Place,
			float64(k.Load.Water)/float64(k.Plant.Circulation.Flow), res.Outcome, res.Reason)
		line += fmt.Sprintf(" in %+.2f ", mashInMiss)
		for _, s := range res.Steps {
			f := func(p *float64) float64 {
				if p == nil {
					return math.NaN()
				}
				return *p
			}
			q := f(s.Reached) / f(s.Limit)
			line += fmt.Sprintf(" | %s %.2f r%.2f h%.3f", s.Kind, f(s.Overshoot), q, f(s.HoldRMS))
			if s.Kind == "mash-in" {
				land = append(land, math.Abs(mashInMiss))
			}
			if s.Kind == "rest" || s.Kind == "mash-out" {
				over = append(over, f(s.Overshoot))
				ratio = append(ratio, q)
				rms = append(rms, f(s.HoldRMS))
			}
		}
		if len(res.Cuts)+len(res.Trips)+len(res.Alarms) > 0 {
			line += fmt.Sprint(" cuts ", res.Cuts, res.Trips, res.Alarms)
		}
		t.Log(line)
	}
	for name, v := range map[string][]float64{"over": over, "land": land, "ratio": ratio, "rms": rms} {
		slices.Sort(v)
		if len(v) > 0 {
			t.Logf("%s median %.3f p90 %.3f worst %.3f", name, v[len(v)/2], v[len(v)*9/10], v[len(v)-1])
		}
	}
}

var _ = heat.WaterHeat

func relayKind() plan.RelayKind {
	if os.Getenv("MECH") != "" {
		return plan.Mechanical
	}
	return plan.SolidState
}
