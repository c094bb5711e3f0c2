package rehearse

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// tableSeeds are of the kettles that the table is run on, apart from those that
// limits were chosen or are judged on. The outlet, the bed and the hose are among
// them, both relays, tuned and not.
const tableSeeds = 97_000_000

// proven is a kettle with its healthy day, and what it is called.
type proven struct {
	*caught
	name string
	over *float64 // K that its true mash came over a target on that day
}

// rigKettle is a rig of testdata with its plant as an owner has built it.
func rigKettle(t testing.TB, name, profileName string) (proven, error) {
	p, rig, _ := sample(t, profileName, name+".yaml")
	params := rig.Plant()
	if name == "yard-kettle" {
		var err error
		if params, _, err = config.LoadPlant(samples+"/plants/yard-kettle-as-built.yaml", rig.Plant()); err != nil {
			return proven{}, err
		}
	}
	k := kettles.Kettle{Plant: params, Load: config.Load(p)}
	k.Declared.Tap = rig.Site.Tap
	day := brewed(k, true)
	if !rig.Pump.Present() {
		day = p // without a pump a day has one rest
	}
	d, problems := plan.Make(day, rig.PlanKettle())
	if plan.Refused(problems) {
		return proven{}, fmt.Errorf("%s: %v", name, problems)
	}
	run := &Run{Profile: day, Plan: d, Model: rig.Model(), Bare: true, Checks: Checks(d, rig.Found), Delay: 4 * time.Minute}
	return proven{caught: &caught{kettle: k, seed: 1, run: run}, name: name}, nil
}

// quiet is a kettle whose probe shows no noise.
func quiet(p proven) proven {
	p.name += ", a probe without noise"
	p.kettle.Plant.Probe.Noise = 0
	return p
}

// theKettles are the rigs of testdata and n random kettles, each with a healthy
// day to begin rows from. Six are chosen for their places.
func theKettles(t *testing.T, n int) []proven {
	t.Helper()
	yard, err := rigKettle(t, "yard-kettle", "rye-four-rests.yaml")
	still, err2 := rigKettle(t, "yard-kettle", "rye-four-rests.yaml")
	pot, err3 := rigKettle(t, "small-pot", "small-batch.yaml")
	if err := cmp.Or(err, err2, err3); err != nil {
		t.Fatal(err)
	}
	all := []proven{yard, quiet(still), pot}
	few := []uint64{0, 1, 2, 3, 7, 10} // each place of the probe, tuned and not
	for i := uint64(0); len(all) < n+3; i++ {
		seed := tableSeeds + i
		if n == len(few) {
			seed = tableSeeds + few[i]
		}
		c, err := set(seed, seed%2 == 1, true)
		if err != nil {
			continue // a water test that was refused
		}
		all = append(all, proven{caught: c, name: fmt.Sprintf("kettle %d (%v, tuned %v)", seed, c.kettle.Plant.Probe.Place, c.tuned)})
	}
	for i := range all {
		all[i].watched()
	}
	spreadOver(len(all), func(i uint64) {
		if err := all[i].live(all[i].kettle, nil, true); err != nil {
			t.Error(err)
		}
	})
	return slices.DeleteFunc(all, func(p proven) bool {
		if p.fell || len(p.trips) > 0 {
			t.Logf("left out: %s, whose healthy day ends otherwise: %v", p.name, p.when) // too weak to boil
		}
		return p.fell || len(p.trips) > 0
	})
}

// watched keeps how far over its targets the mash comes on the healthy day.
func (p *proven) watched() {
	p.over = new(float64)
	over, c := p.over, p.caught
	c.run.Watchers = append(c.run.Watchers, watching(func(f *loop.Frame) { *over = max(*over, overshoot(f, float64(c.bench.Plant().Mash()))) }))
}

// overshoot is how far the true mash is over its target, in a heat-up or a rest.
func overshoot(f *loop.Frame, mash float64) float64 {
	if d := &f.Decision; d.Mode == controller.Running && (d.Stage == controller.Heat || d.Stage == controller.Count) && d.Index > 0 {
		return mash - float64(d.Target)
	}
	return 0
}

// suits tells whether a row can be run on a kettle, and gives the moment.
func (r *tableRow) suits(p proven, draw *rand.Rand) *instant {
	place := map[sim.Place]string{sim.Outlet: "outlet", sim.Return: "return", sim.Bed: "bed"}[p.kettle.Plant.Probe.Place]
	for _, want := range r.on {
		switch want {
		case "pump":
			if !p.run.Plan.Kettle.Pump {
				return nil
			}
		case "quiet":
			if p.kettle.Plant.Probe.Noise > 0 {
				return nil
			}
		default:
			if !slices.Contains(r.on, place) {
				return nil
			}
		}
	}
	if places[r.where] == nil {
		return &instant{bench: p.bench}
	}
	return p.pick(draw, func(i *instant) bool { return places[r.where](p.caught, i) })
}

// drawOf is the chance of one row on one kettle.
func drawOf(row *tableRow, p proven, n uint64) *rand.Rand {
	h := fnv.New64()
	h.Write([]byte(row.name()))
	return rand.New(rand.NewPCG(h.Sum64()+n, p.seed))
}

// figures are what came out of a row on all kettles.
type figures struct {
	mu    sync.Mutex
	runs  int
	bad   int // of these
	worst time.Duration
	on    string // kettle
	wrong []string
	notes []string
}

func (g *figures) add(p proven, u outcome) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.runs++
	if u.acted && (u.after > g.worst || g.on == "") {
		g.worst, g.on = u.after, p.name
	}
	if len(u.wrong) > 0 {
		g.bad++
	}
	for _, w := range u.wrong {
		g.wrong = append(g.wrong, p.name+": "+w)
	}
	if u.note != "" {
		g.notes = append(g.notes, p.name+": "+u.note)
	}
}

// runRow runs a row on all kettles that suit, so many times on each.
func runRow(row *tableRow, all []proven, times int, stand standIn) *figures {
	g := &figures{}
	spreadOver(len(all)*times, func(n uint64) {
		p := all[n%uint64(len(all))]
		if i := row.suits(p, drawOf(row, p, n/uint64(len(all)))); i != nil {
			o := p.begin(i, row, stand)
			u := o.judge()
			o.mild(&u, *p.over)
			g.add(p, u)
		}
	})
	return g
}

// TestTheFaultTable runs each row that the simulator can show, on the rigs of
// testdata and on random kettles, and prints the worst delays beside their limits.
func TestTheFaultTable(t *testing.T) {
	n, times := 6, 1
	if *night {
		n, times = 40, 5
	}
	rows, all := theTable(t), theKettles(t, n)
	var report []string
	for i := range rows {
		row := &rows[i]
		if !row.simulated() {
			report = append(report, row.elsewhere())
			continue
		}
		t.Run(row.name(), func(t *testing.T) {
			g := runRow(row, all, times, ourselves)
			report = append(report, row.summary(g))
			if g.runs == 0 {
				t.Error("it was never run")
			}
			for _, w := range g.wrong {
				if row.short == 0 {
					t.Error(w)
				} else {
					t.Log(w)
				}
			}
			if most := float64(row.short) * float64(g.runs); row.short > 0 && float64(g.bad) > most {
				t.Errorf("%d of %d runs fall short; known are %.0f", g.bad, g.runs, most)
			}
			for _, note := range g.notes {
				t.Log(note)
			}
		})
	}
	t.Logf("worst delay beside its limit; * beyond half of it; 95 %%: what may be missed of all where none was of these\n%s", strings.Join(report, "\n"))
}

// elsewhere is the line of a row that is not run here.
func (r *tableRow) elsewhere() string {
	if r.notShown != "" {
		return fmt.Sprintf("%-5s %s: NOT SHOWN: %s", r.id, r.what, r.notShown)
	}
	return fmt.Sprintf("%-5s %s: by %s", r.id, r.what, strings.Join(r.tests, ", "))
}

// summary is the line of a row.
func (r *tableRow) summary(g *figures) string {
	kind := ""
	for word, s := range sortWords {
		if s == r.expect {
			kind = word
		}
	}
	text := fmt.Sprintf("%-5s %s: %s %s", r.id, r.what, kind, strings.Join(r.ids, " or "))
	if g.on != "" && r.within > 0 {
		share := g.worst.Seconds() / r.within.Seconds()
		mark := ""
		if share > 0.5 {
			mark = " *"
		}
		text += fmt.Sprintf("; worst %v of %v (%.0f %%%s)", unit.FormatDuration(g.worst), unit.FormatDuration(r.within), 100*share, mark)
	}
	if r.lies {
		text += "; the true temperature is not held"
	}
	if g.bad > 0 {
		return text + fmt.Sprintf("; FALLS SHORT in %d of %d runs", g.bad, g.runs)
	}
	return text + fmt.Sprintf("; %d runs, 95 %%: at most %.2g", g.runs, 3/float64(max(1, g.runs)))
}
