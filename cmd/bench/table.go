package main

import (
	"fmt"
	"io"
	"math"
	"strings"
)

// width of the page, in characters.
const width = 100

var columnWidths = [columns]int{17, 16, 19, 16, 11}

const labelWidth = 20

// method says what was done, before what came out.
func method(w io.Writer, o options) {
	size := "full run"
	if o.quick {
		size = "QUICK RUN on few kettles"
	}
	fmt.Fprintf(w, `mashward and what could be picked instead: simulation, %s

Kettles    random ones over 10-100 L, 30-120 W/L, 1-6 kW, turned over in 1.5-5 min, probe noise up
           to 0.05 K, its steps up to 0.0625 K. Two halves: seeds %s, which were seen
           while constants were chosen, and seeds %s, which were not.
Programme  44 °C 10 min, 63 °C 25 min, 71 °C 20 min, 77 °C 10 min; judged are the three rests
           reached by heating. mashward does the whole day from cold water on. The others
           begin on a copy of the kettle as tuned mashward's mash-in has left it, pump running.
           For all alike the minutes of a rest count from the moment the TRUE mash has
           reached it; a rest that is not reached in 3 h is given up ("never").
Given      all rivals  what tuned mashward is given: the model that one water test has found,
                       the mash in it by calculation. PID loops: the same filter (median of
                       three, two lags of 4 s), derivative behind Td/8, anti-windup by tracking,
                       the same relay modulation (solid-state: pulses of 1 s).
           thermostat  nothing; raw reading, off at the target, on again 0.5 K or 1 K below
           Ziegler-N.  PID, ultimate gain and period from a relay limit cycle run on that model
                       with the filter behind it, half of full power up and down, so that the
                       cycle is symmetric: kinder than a real test, where nothing cools
           AMIGO       PID for an integrating process, weight of the target 0 (its source's)
           SIMC        PI, tc = theta; AMIGO and SIMC by half rule from the same model
           untuned     mashward with declared power, volume, loss and vessel, no water test
           tuned       mashward after one water test, nothing set by hand
           limit       sees the true mash, tries on copies, any power: what there is to be won
Figures    TRUE mash = heat-capacity mean of all wort and grain, judged against where it is in
           steady state when the probe's place is at the target (what no controller can see).
           time ratio     first time within 0.3 K, over the least possible from the same state:
                          full power, off at the latest second from which it peaks <= 0.02 K over
           overshoot      highest above that, over the whole rest
           hold RMS       from the second half of the time there
           hot side       highest true wort at the element above the target
           switch-ons/h   closings of the relay from the first heat-up to the end
           Each rest of each kettle counts once. median / p90 / worst of them.

`, size, spanned(o.seen), spanned(o.unseen))
}

func spanned(s []uint64) string { return fmt.Sprintf("%d-%d", s[0], s[len(s)-1]) }

// table prints every world, each half by itself.
func table(w io.Writer, r results) {
	header := pad("", labelWidth)
	for c, name := range columnNames {
		header += pad(name, columnWidths[c])
	}
	fmt.Fprintln(w, strings.TrimRight(header, " "))
	for i, world := range r.worlds {
		for _, unseen := range []bool{false, true} {
			fmt.Fprintf(w, "%s, %s\n", world.name, map[bool]string{false: "seen kettles", true: "unseen kettles"}[unseen])
			for _, p := range world.players {
				fmt.Fprintln(w, strings.TrimRight(row(r, i, p, unseen), " "))
			}
		}
	}
	fmt.Fprintln(w)
}

// row is one player's line.
func row(r results, w int, p player, unseen bool) string {
	line := pad("  "+playerNames[p], labelWidth)
	for c := range columns {
		if p == limit && c == switches {
			line += pad("-", columnWidths[c])
			continue
		}
		all := r.values(w, p, c, every, &unseen)
		cells := make([]string, 0, 3)
		for _, share := range []float64{0.5, 0.9, 1} {
			cells = append(cells, c.format(at(all, share)))
		}
		line += pad(strings.Join(cells, "/"), columnWidths[c])
	}
	return line
}

func (c column) format(v float64) string {
	switch {
	case math.IsInf(v, 1):
		return "never"
	case c == rms:
		return fmt.Sprintf("%.3f", v)
	case c == switches:
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.2f", v)
}

// pad fills up with blanks by characters, not bytes.
func pad(s string, to int) string { return s + strings.Repeat(" ", max(1, to-len([]rune(s)))) }

// paragraph prints words within the page's width, further lines indented.
func paragraph(w io.Writer, words []string) {
	line := words[0]
	for _, word := range words[1:] {
		if len([]rune(line))+1+len([]rune(word)) > width {
			fmt.Fprintln(w, line)
			line = "     " + word
			continue
		}
		line += " " + word
	}
	fmt.Fprintln(w, line)
}
