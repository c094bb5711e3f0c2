package main

import (
	"fmt"
	"slices"
	"sync"
)

// entry is what happened on one kettle, in every world.
type entry struct {
	seed   uint64
	unseen bool
	err    error // the kettle could not be tuned or mashed; it is in no figure
	scores [][players]score
}

// results are all kettles, those seen first, each half in the order of seeds.
type results struct {
	worlds  []world
	entries []entry
}

// run lets every kettle through every world. Kettles are independent of each
// other, so that the order in which they come is nobody's business.
func run(o options) results {
	r := results{worlds: o.worlds}
	for _, s := range o.seen {
		r.entries = append(r.entries, entry{seed: s})
	}
	for _, s := range o.unseen {
		r.entries = append(r.entries, entry{seed: s, unseen: true})
	}
	next := make(chan int)
	var all sync.WaitGroup
	for range max(o.workers, 1) {
		all.Go(func() {
			for i := range next {
				r.entries[i].run(o.worlds)
			}
		})
	}
	for i := range r.entries {
		next <- i
	}
	close(next)
	all.Wait()
	return r
}

func (e *entry) run(worlds []world) {
	t, err := tuneKettle(e.seed)
	if err != nil {
		e.err = err
		return
	}
	for _, w := range worlds {
		s, err := t.contest(w)
		if err != nil {
			e.err = err
			return
		}
		e.scores = append(e.scores, s)
	}
}

// troubles are batches that did not end well, in words.
func (r results) troubles() (lines []string) {
	for _, e := range r.entries {
		if e.err != nil {
			lines = append(lines, e.err.Error()+"; it is in no figure")
			continue
		}
		for i, scores := range e.scores {
			for p, s := range scores {
				if s.trouble != "" {
					lines = append(lines, fmt.Sprintf("kettle %d, %s, %s: %s", e.seed, r.worlds[i].name, playerNames[p], s.trouble))
				}
			}
		}
	}
	return lines
}

// column is one figure of the table.
type column uint8

const (
	ratio column = iota
	overshoot
	rms
	hot
	switches
	columns
)

var columnNames = [columns]string{"time ratio", "overshoot, K", "hold RMS, K", "hot side, K", "switch-ons/h"}

// of is the figure of a rest.
func (c column) of(f figures) float64 {
	return [...]float64{ratio: f.ratio, overshoot: f.overshoot, rms: f.rms, hot: f.hot}[c]
}

// which are the rests that count: all three, the first heated one, or the later.
type which uint8

const (
	every which = iota
	first
	later
)

func (w which) counts(rest int) bool { return w == every || (w == first) == (rest == 0) }

// value is one figure and where it comes from.
type value struct {
	seed uint64
	rest int
	v    float64
}

// values are all figures of a player in a world, sorted; those that are not
// known are left out. Which half: nil for both.
func (r results) values(w int, p player, c column, rests which, unseen *bool) []value {
	var all []value
	for _, e := range r.entries {
		if e.err != nil || unseen != nil && e.unseen != *unseen {
			continue
		}
		s := e.scores[w][p]
		if c == switches {
			all = append(all, value{e.seed, 0, s.switches})
			continue
		}
		for i, f := range s.rests {
			if v := c.of(f); v == v && rests.counts(i) {
				all = append(all, value{e.seed, i, v})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b value) int {
		switch {
		case a.v < b.v:
			return -1
		case a.v > b.v:
			return 1
		}
		return 0
	})
	return all
}

// at is the figure that a share of all do not exceed.
func at(all []value, share float64) float64 {
	if len(all) == 0 {
		return never
	}
	return all[min(int(share*float64(len(all))), len(all)-1)].v
}
