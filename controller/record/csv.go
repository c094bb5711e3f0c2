package record

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
)

// csvHeader names the columns and their units. seconds count from arming,
// run_seconds from the start of the program; reading_age_seconds is how old
// the reading was. An empty field is unknown, or nothing.
var csvHeader = []string{
	"seconds", "run_seconds", "step", "kind", "name", "phase", "mode", "reason", "prompt",
	"reading_celsius", "reading_fault", "reading_age_seconds", "estimate_celsius", "target_celsius",
	"duty_ratio", "wanted", "relay", "pump", "applied", "earned_seconds", "cut", "trip",
	"command", "alarms", "event",
}

// ExportCSV writes the ticks as comma-separated values (RFC 4180), one row a
// tick, UTF-8, lines ended by CRLF. relay is what was permitted for the second
// to come, applied what the line did in the one before. Rows up to where a
// record is damaged are written before the error is returned.
func ExportCSV(w io.Writer, r *Reader) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	row := make([]string, len(csvHeader))
	err := out.Write(csvHeader)
	note := ""
	for err == nil {
		var b *Block
		if b, err = r.Next(); err != nil {
			break
		}
		switch b.Kind {
		case KindGap:
			note = join(note, fmt.Sprintf("%d ticks lost before this one", b.Gap.Ticks))
		case KindNote:
			note = join(note, b.Note)
		case KindTick:
			r.Head.csvRow(row, &b.Tick, note)
			note = ""
			err = out.Write(row)
		}
	}
	out.Flush()
	if failed := out.Error(); failed != nil {
		return fmt.Errorf("exporting: %w", failed)
	}
	if err == io.EOF {
		return nil
	}
	return err
}

// csvRow fills in one row.
func (h *Head) csvRow(row []string, t *Tick, note string) {
	fault, reading := "", ""
	if t.In.Reading.Good() {
		reading = decimal(float64(t.In.Reading.Value))
	} else {
		fault = t.In.Reading.Fault.String()
	}
	reason, target, estimate := "", "", ""
	if t.Reason != 0 {
		reason = t.Reason.String()
	}
	if t.HasTarget {
		target = decimal(float64(t.Target))
	}
	if t.HasEstimate {
		estimate = decimal(float64(t.Estimate))
	}
	copy(row, []string{
		timeText(t.Clock), timeText(t.In.Now), strconv.Itoa(int(t.Index)), t.Kind.String(), h.stepName(int(t.Index), ""),
		t.Phase.String(), t.Mode.String(), reason, t.Prompt.String(),
		reading, fault, timeText(t.In.Reading.Age(t.In.Now)), estimate, target,
		decimal(float64(t.Duty)), t.Wanted.String(), t.Permitted.String(), t.Pump.String(), t.In.Applied.String(),
		timeText(t.Earned), ruleText(t.Cut), ruleText(t.Trip),
		commandWords(t.In.Command), alarmText(t), join(note, h.eventText(t)),
	})
}

func (h *Head) eventText(t *Tick) string {
	all := ""
	for _, e := range t.Events {
		all = join(all, h.eventWords(e))
	}
	if t.Lost > 0 {
		all = join(all, fmt.Sprintf("and %d more", t.Lost))
	}
	return all
}

func alarmText(t *Tick) string {
	var all []string
	for i, on := range t.Alarms {
		if on {
			all = append(all, controller.Alarm(i).String())
		}
	}
	return strings.Join(all, "; ")
}

func join(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "; " + b
}

func ruleText(r interlock.Rule) string {
	if r == interlock.NoRule {
		return ""
	}
	return r.String()
}

// timeText is a length of time in seconds, exact.
func timeText(d time.Duration) string { return decimal(d.Seconds()) }
