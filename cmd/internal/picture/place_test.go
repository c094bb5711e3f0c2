package picture

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/profile"
	"mashward/profile/plan"
)

// Names of random days: no text on another, no line through a text, none out
// of the picture.
func TestNamesNeverTouch(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	kinds := []string{"strike", "mash-in", "rest", "mash-out", "lift", "boil", "stand", "chill"}
	for range 2000 {
		l := Look{Wide: r.IntN(2) == 0, Fahrenheit: r.IntN(2) == 0}
		var legs []Leg
		at := time.Duration(0)
		for i := range 2 + r.IntN(31) {
			legs = append(legs, Leg{
				Index: i, Kind: kinds[r.IntN(len(kinds))], Title: kinds[r.IntN(len(kinds))] + ", the brewer's name"[:r.IntN(19)],
				Start: at, Target: 100 * r.Float64(),
			})
			at += time.Duration(r.IntN(90)) * time.Minute
		}
		f := frameOf(l, at+time.Hour)
		placed, rows := fly(nameFlags(legs, f, l), f, nameTries(f))
		if len(placed) != len(legs) {
			t.Fatalf("%d lines for %d steps", len(placed), len(legs))
		}
		clash(t, placed, rows, f)
	}
}

func clash(t *testing.T, all []placed, rows int, f frame) {
	t.Helper()
	for i, a := range all {
		end := a.from + extent(a.text, f.letters)
		if a.text == "" {
			continue
		}
		if a.row >= rows || a.from < 0 || end > f.width {
			t.Fatalf("%q lies in row %d of %d from %.0f to %.0f of %.0f", a.text, a.row, rows, a.from, end, f.width)
		}
		for j, b := range all {
			if i == j || b.text == "" {
				continue
			}
			if a.row == b.row && a.from < b.from+extent(b.text, f.letters) && b.from < end {
				t.Fatalf("%q and %q touch", a.text, b.text)
			}
			if b.row < a.row && b.x > a.from && b.x < end && b.x != a.x {
				t.Fatalf("the line of %q goes through %q", b.text, a.text)
			}
		}
	}
}

func TestBadgesNeverTouchAndLoseNoMark(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for range 2000 {
		f := frameOf(Look{Wide: r.IntN(2) == 0}, 5*time.Hour)
		var marks []Mark
		for range r.IntN(120) {
			marks = append(marks, Mark{At: time.Duration(r.Int64N(int64(5 * time.Hour))), Kind: MarkKind(r.IntN(6))})
		}
		slices.SortFunc(marks, func(a, b Mark) int { return int(a.At - b.At) })
		var numbers []int
		all := badges(marks, f, func(MarkKind) bool { return true })
		for i, b := range all {
			numbers = append(numbers, b.numbers...)
			if b.x-b.width(f)/2 < 0 || b.x+b.width(f)/2 > f.width {
				t.Fatalf("badge %q out of the picture", b.label())
			}
			if i > 0 && all[i-1].x+all[i-1].width(f)/2 > b.x-b.width(f)/2 {
				t.Fatalf("badges %q and %q touch", all[i-1].label(), b.label())
			}
			for _, n := range b.numbers {
				if marks[n-1].Kind > b.kind {
					t.Fatalf("badge %q is a %s and holds a %s", b.label(), b.kind, marks[n-1].Kind)
				}
			}
		}
		for i, n := range numbers {
			if n != i+1 {
				t.Fatalf("mark %d is missing", i+1)
			}
		}
		if len(numbers) != len(marks) {
			t.Fatalf("%d of %d marks", len(numbers), len(marks))
		}
	}
}

func TestTheStripSaysWhereTheDayFellBehind(t *testing.T) {
	written := texts(parse(t, pictures(t, brew(), Look{Wide: true})["strip"]), "text")
	if n := count(written, "9 min late"); n != 1 {
		t.Errorf("nine minutes late is said %d times: %q", n, written)
	}
	d := brew()
	d.Went = d.Plan
	for _, text := range texts(parse(t, pictures(t, d, Look{Wide: true})["strip"]), "text") {
		if text == "on time" || len(text) > 4 && text[len(text)-4:] == "late" {
			t.Errorf("a day on time says %q", text)
		}
	}
}

func count(all []string, want string) (n int) {
	for _, s := range all {
		if s == want {
			n++
		}
	}
	return n
}

func TestTheStripShowsWhenSomebodyIsNeeded(t *testing.T) {
	d := brew()
	if n := len(classed(parse(t, pictures(t, d, Look{})["strip"]), "mw-later")); n != 0 {
		t.Errorf("a day that is over still needs somebody %d times", n)
	}
	d.Running, d.Now = true, minutes(60)
	if n := len(classed(parse(t, pictures(t, d, Look{})["strip"]), "mw-later")); n != 1 {
		t.Errorf("%d moments to come, want the lift alone", n)
	}
	ahead := Day{Plan: d.Plan, Needed: d.Needed}
	if n := len(classed(parse(t, pictures(t, ahead, Look{})["strip"]), "mw-later")); n != 2 {
		t.Errorf("%d moments in a plan, want 2", n)
	}
}

// samplePlan is the sample brew of testdata, planned.
func samplePlan(t *testing.T) plan.Plan {
	t.Helper()
	p, _, err := config.LoadProfile("../../../testdata/profiles/rye-four-rests.yaml")
	if err != nil {
		t.Fatal(err)
	}
	rig, _, err := config.LoadRig("../../../testdata/rigs/yard-kettle.yaml")
	if err != nil {
		t.Fatal(err)
	}
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		t.Fatal(problems)
	}
	return d
}

func TestLegsFollowThePlan(t *testing.T) {
	p := samplePlan(t)
	legs := LegsOf(p)
	if len(legs) != len(p.Steps) || len(NeededOf(p)) != len(p.Persons) {
		t.Fatalf("%d legs for %d steps", len(legs), len(p.Steps))
	}
	for i, g := range legs {
		s := p.Steps[i]
		if g.Index != s.Index || g.Start != s.Start || g.Reached != s.Reached || g.End != s.End || g.Title == "" {
			t.Errorf("leg %+v of step %+v", g, s)
		}
		if s.Kind == profile.Lift && known(g.Target) {
			t.Error("a lift has no target")
		}
		at, celsius := g.Start, g.From
		for _, b := range g.Bends {
			if b.At <= at || b.At >= g.Reached || (b.Temperature > celsius) != (g.Ends > g.From) {
				t.Errorf("%s: bend %+v after %s, %.1f °C", g.Kind, b, at, celsius)
			}
			at, celsius = b.At, b.Temperature
		}
	}
	chill := legs[len(legs)-1]
	// Newton cooling: half-way in time it is the geometric mean above the tap.
	tap := float64(p.Kettle.Tap)
	middle := chill.Bends[len(chill.Bends)/2]
	above := (chill.From - tap) * (chill.Ends - tap)
	if got := (middle.Temperature - tap) * (middle.Temperature - tap); got < 0.98*above || got > 1.02*above {
		t.Errorf("half-way down at %.1f °C: %.1f, want %.1f", middle.Temperature, got, above)
	}
	for _, l := range looks() {
		pictures(t, Day{Name: p.Profile, Plan: legs, Needed: NeededOf(p)}, l)
	}
}

func TestStepsAreFoundInThePointsWhereNobodyToldThem(t *testing.T) {
	d := brew()
	told := d.Went
	d.Went = nil
	found := d.went()
	if len(found) != len(told)-1 { // the lift takes no time: no point lies in it
		t.Fatalf("%d steps found, want %d", len(found), len(told)-1)
	}
	for _, g := range found {
		if g.Title != told[g.Index].Title || g.Start != told[g.Index].Start {
			t.Errorf("found %+v, was %+v", g, told[g.Index])
		}
		there, ok := g.reached()
		if want := told[g.Index].Reached; !ok && g.Kind != "strike" && g.Kind != "chill" || ok && (there < want-minutes(1) || there > want) {
			t.Errorf("%s: reached %s (%v), was %s", g.Kind, there, ok, want)
		}
	}
}

func TestWrappedTextKeepsAllWords(t *testing.T) {
	text := "Stir the grain in without lumps, and say when all of it is in."
	var all []string
	for _, line := range wrapped(text, 13, 150) {
		if extent(line, 13) > 150 {
			t.Errorf("%q is too wide", line)
		}
		all = append(all, line)
	}
	if got := fmt.Sprint(all); len(all) < 3 || got != "["+text+"]" && len(got) != len(text)+2 {
		t.Errorf("%q", all)
	}
}
