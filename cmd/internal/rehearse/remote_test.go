package rehearse

import (
	"bufio"
	"encoding/json"
	"fmt"
	"net"
	"path/filepath"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller/unit"
	"mashward/sim"
)

// serve is a plant in lock-step on a unix socket, as another process would be.
// It answers one batch and tells what it was told.
func serve(t *testing.T, listener net.Listener, params sim.Params, moisture unit.Ratio) (told chan map[string]int) {
	told = make(chan map[string]int, 1)
	go func() {
		events := map[string]int{}
		defer func() { told <- events }()
		conn, err := listener.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		in := json.NewDecoder(bufio.NewReader(conn))
		var load struct {
			Water float64 `json:"water_litres"`
			Grain float64 `json:"grain_kilograms"`
			At    float64 `json:"grain_celsius"`
		}
		if err := in.Decode(&load); err != nil {
			return
		}
		fmt.Fprintln(conn, "{}")
		plant := sim.New(params, sim.Load{
			Water: unit.Litres(load.Water), Grain: unit.Kilograms(load.Grain),
			GrainTemperature: unit.Celsius(load.At), Moisture: moisture,
		}, 1)
		for want := 0; ; want++ {
			var tick struct {
				Tick        int
				Relay, Pump bool
				Event       string
			}
			if err := in.Decode(&tick); err != nil {
				return // the batch is over
			}
			if tick.Tick != want {
				events[fmt.Sprintf("tick %d instead of %d", tick.Tick, want)]++
			}
			if tick.Event != "" {
				events[tick.Event]++
				plant.Do(sim.Event{Kind: kindNamed(tick.Event)})
			}
			plant.Advance(unit.RelayOf(tick.Relay), unit.RelayOf(tick.Pump))
			fmt.Fprintf(conn, "{\"reading\": %v, \"fault\": \"\", \"true_mash\": %v}\n", float64(plant.Reading()), float64(plant.Mash()))
		}
	}()
	return told
}

func kindNamed(name string) sim.Kind {
	for k := sim.GrainIn; k <= sim.WaterOut; k++ {
		if k.String() == name {
			return k
		}
	}
	return sim.None
}

// TestPlantInAnotherProcessCarriesTheDay: the sample brew in lock-step with a
// plant behind a unix socket ends as it does with the plant in this process.
func TestPlantInAnotherProcessCarriesTheDay(t *testing.T) {
	p, rig, d := sample(t, "rye-four-rests.yaml", "yard-kettle.yaml")
	params, _, err := config.LoadPlant(filepath.Join(samples, "plants", "yard-kettle-as-built.yaml"), rig.Plant())
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "plant")
	listener, err := net.Listen("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	told := serve(t, listener, params, p.Grain.Moisture)
	kettle, err := Dial(path, Load{Water: p.Water, Grain: p.Grain.Mass, GrainTemperature: p.Grain.Temperature}, rig.Element.Power)
	if err != nil {
		t.Fatal(err)
	}
	r := Run{Profile: p, Plan: d, Kettle: kettle}
	began := time.Now()
	result, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	speed := result.Duration / time.Since(began).Seconds()
	t.Logf("lock-step over a unix socket: %.0f times real time", speed)
	kettle.Close()
	if result.Outcome != "complete" {
		t.Fatalf("%s (%s)", result.Outcome, result.Reason)
	}
	for event, n := range <-told {
		if n != 1 {
			t.Errorf("event %q came %d times; want once", event, n)
		}
		if kindNamed(event) == sim.None {
			t.Errorf("event %q is none of the contract's", event)
		}
	}
	for _, s := range result.Steps {
		if s.Limit != nil || s.HotSide != nil {
			t.Errorf("step %d has a limit or a hot side, which only a plant in this process can tell", s.Index)
		}
		if s.Offset != nil && *s.Offset != 0 {
			t.Errorf("step %d has an offset of %v; want 0", s.Index, *s.Offset)
		}
	}
	if rest := result.Steps[2]; rest.Overshoot == nil || *rest.Overshoot > 0.3 {
		t.Errorf("overshoot at 63 °C: %v; want at most 0.3 K", rest.Overshoot)
	}
}

// TestPlantThatGoesAwayEndsTheRehearsal with an error, not with a result.
func TestPlantThatGoesAwayEndsTheRehearsal(t *testing.T) {
	p, rig, d := sample(t, "water-only.yaml", "yard-kettle.yaml")
	path := filepath.Join(t.TempDir(), "plant")
	listener, err := net.Listen("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		conn, err := listener.Accept()
		if err == nil {
			bufio.NewReader(conn).ReadString('\n')
			fmt.Fprintln(conn, "{}")
			conn.Close()
		}
	}()
	kettle, err := Dial(path, Load{Water: p.Water}, rig.Element.Power)
	if err != nil {
		t.Fatal(err)
	}
	r := Run{Profile: p, Plan: d, Kettle: kettle}
	if result, err := r.Go(); err == nil {
		t.Errorf("no error, result %+v", result)
	}
	listener.Close()
	if _, err := Dial(path, Load{}, 1); err == nil {
		t.Error("a plant that does not listen is no error")
	}
}
