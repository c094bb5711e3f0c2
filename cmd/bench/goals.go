package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
)

// goal is what mashward sets itself: the median of a figure, and its worst.
type goal struct {
	player        player
	column        column
	rests         which
	median, worst float64 // never: not asked
}

// goalsIn are the goals of a world. Nobody set any for a probe that is off, a
// supply that sags or an open lid.
func goalsIn(w world) []goal {
	switch {
	case w.name == worlds()[0].name:
		return []goal{
			{tuned, overshoot, every, 0.05, 0.15},
			{tuned, ratio, every, 1.02, 1.10},
			{tuned, rms, every, 0.015, 0.05},
			{untuned, overshoot, every, 0.3, 1.5},
			{untuned, ratio, every, 1.2, 2.5},
			{untuned, rms, every, 0.15, 0.8},
		}
	case w.name == mechanicalRelay:
		return []goal{
			{tuned, overshoot, every, never, 0.20},
			{tuned, ratio, every, never, 1.15},
			{tuned, rms, every, never, 0.06},
			{tuned, switches, every, never, 180},
		}
	case w.mistaken:
		return []goal{
			{tuned, overshoot, first, never, 0.5},
			{tuned, ratio, first, never, 1.25},
			{tuned, overshoot, later, never, 0.20},
			{tuned, ratio, later, never, 1.15},
		}
	}
	return nil
}

var whichNames = [...]string{every: "", first: " (first heated rest)", later: " (later rests)"}

// goals prints how mashward stands to its goals, both halves together, and tells
// whether it falls short of one.
func goals(w io.Writer, r results) (short bool) {
	fmt.Fprintln(w, "Goals of mashward, both halves together")
	for i, world := range r.worlds {
		for _, g := range goalsIn(world) {
			all := r.values(i, g.player, g.column, g.rests, nil)
			missed := at(all, 1) > g.worst || g.median < never && at(all, 0.5) > g.median
			short = short || missed
			if line := g.line(world, all); missed {
				paragraph(w, slices.Concat(strings.Fields("MISSED "+line+":"), g.misses(all)))
			} else {
				paragraph(w, strings.Fields("met "+line))
			}
		}
	}
	fmt.Fprintln(w)
	return short
}

func (g goal) line(w world, all []value) string {
	s := fmt.Sprintf("%s, %s, %s%s: ", w.name, playerNames[g.player], strings.TrimSuffix(columnNames[g.column], ", K"), whichNames[g.rests])
	if g.median < never {
		s += fmt.Sprintf("median %.3f (goal %.3f), ", at(all, 0.5), g.median)
	}
	return s + fmt.Sprintf("worst %.3f (goal %.2f)", at(all, 1), g.worst)
}

// misses are the kettles beyond the worst that is allowed, worst first.
func (g goal) misses(all []value) (words []string) {
	for i := len(all) - 1; i >= 0 && all[i].v > g.worst; i-- {
		v := all[i]
		words = append(words, fmt.Sprintf("%d at %.0f °C (%.3f)", v.seed, float64(programme[v.rest].target), v.v))
	}
	if words == nil {
		return []string{"the median alone"}
	}
	return strings.Fields(strings.Join(words, ", "))
}

// margins are differences that are not worth a word.
var margins = [columns]float64{ratio: 0.01, overshoot: 0.02, rms: 0.005, hot: 0.1}

// beaten says where mashward, tuned, is not the best: by world over all kettles,
// and kettle by kettle as tuned.
func beaten(w io.Writer, r results) {
	fmt.Fprintln(w, "Where another does better than mashward tuned, both halves together (by more than")
	fmt.Fprintln(w, "0.01 in time ratio, 0.02 K in overshoot, 0.005 K in hold RMS, 0.1 K on the hot side)")
	for i, world := range r.worlds {
		if !world.has(tuned) {
			continue
		}
		for c := ratio; c < switches; c++ {
			for _, share := range []float64{0.5, 0.9, 1} {
				best, by := r.best(i, c, share)
				own := at(r.values(i, tuned, c, every, nil), share)
				if best < own-margins[c] {
					paragraph(w, strings.Fields(fmt.Sprintf("%s: %s, %s: %s %s, mashward %s", world.name, columnNames[c],
						shareName(share), playerNames[by], c.format(best), c.format(own))))
				}
			}
		}
	}
	r.kettleByKettle(w)
}

func shareName(share float64) string {
	return map[float64]string{0.5: "median", 0.9: "p90", 1: "worst"}[share]
}

// best is the best of the others in a world.
func (r results) best(w int, c column, share float64) (float64, player) {
	best, by := never, tuned
	for _, p := range r.worlds[w].players {
		if p == tuned || p == untuned || p == limit {
			continue
		}
		if v := at(r.values(w, p, c, every, nil), share); v < best {
			best, by = v, p
		}
	}
	return best, by
}

// kettleByKettle compares the worst rest of each kettle in the first world.
func (r results) kettleByKettle(w io.Writer) {
	const named = 20
	for _, p := range r.worlds[0].players {
		if p == tuned || p == untuned || p == limit {
			continue
		}
		whole := []string{}
		for c := ratio; c < switches; c++ {
			var seeds []string
			for _, e := range r.entries {
				if e.err == nil && e.scores[0][p].worst(c) < e.scores[0][tuned].worst(c)-margins[c] {
					seeds = append(seeds, fmt.Sprint(e.seed))
				}
			}
			words := fmt.Sprintf("%s: %d of %d kettles", columnNames[c], len(seeds), len(r.entries))
			if len(seeds) > 0 && len(seeds) <= named {
				words += " (" + strings.Join(seeds, " ") + ")"
			}
			whole = append(whole, words)
		}
		paragraph(w, strings.Fields(fmt.Sprintf("%s, %s, worst rest of the kettle: %s", r.worlds[0].name, playerNames[p], strings.Join(whole, "; "))))
	}
	fmt.Fprintln(w)
}

// worst is the worst rest of a kettle; what is not known does not count.
func (s score) worst(c column) float64 {
	worst := 0.0
	for _, f := range s.rests {
		if v := c.of(f); v == v {
			worst = max(worst, v)
		}
	}
	return worst
}
