package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"mashward/controller/unit"
	"mashward/profile"
)

// spell writes a duration as people say it.
func spell(d time.Duration) string {
	if d < 100*time.Second {
		return fmt.Sprintf("%d s", int(d.Round(time.Second)/time.Second))
	}
	minutes := int(d.Round(time.Minute) / time.Minute)
	switch hours, rest := minutes/60, minutes%60; {
	case hours == 0:
		return fmt.Sprintf("%d min", minutes)
	case rest == 0:
		return fmt.Sprintf("%d h", hours)
	default:
		return fmt.Sprintf("%d h %d min", hours, rest)
	}
}

// clock writes an instant as h:mm from arming.
func clock(d time.Duration) string {
	minutes := int(d.Round(time.Minute) / time.Minute)
	return fmt.Sprintf("%d:%02d", minutes/60, minutes%60)
}

// kilograms writes a mass, in grams where it is small.
func kilograms(m unit.Kilograms) string {
	if m < 0.995 {
		return fmt.Sprintf("%.0f g", float64(m)*1000)
	}
	return fmt.Sprintf("%.1f kg", float64(m))
}

// title names a step for the page.
func (s Step) title() string {
	word := map[profile.Kind]string{profile.MashOut: "mash-out", profile.Stand: "hop stand"}[s.Kind]
	if word == "" {
		word = s.Kind.String()
	}
	if s.Name != "" {
		word += ", " + s.Name
	}
	return word
}

// units stay with the number before them when a line is broken.
var units = [...]string{"°C", "L", "kg", "g", "min", "h", "s", "cm", "m", "kW", "kWh", "A", "%", "L/kg", "L/h"}

// words splits a text where a line may be broken.
func words(text string) []string {
	var out []string
	for _, word := range strings.Fields(text) {
		bare := strings.TrimRight(word, ".,;:)")
		if n := len(out); n > 0 && slices.Contains(units[:], bare) && strings.ContainsAny(out[n-1], "0123456789") {
			out[n-1] += " " + word
			continue
		}
		out = append(out, word)
	}
	return out
}

// wrap breaks a text into lines of at most width characters; the lines after
// the first begin with indent spaces. first is what stands before the text.
func wrap(first, text string, indent, width int) string {
	var b strings.Builder
	b.WriteString(first)
	column := utf8.RuneCountInString(first)
	fresh := true
	for _, word := range words(text) {
		length := utf8.RuneCountInString(word)
		if !fresh && column+1+length > width {
			b.WriteString("\n" + strings.Repeat(" ", indent))
			column, fresh = indent, true
		}
		if !fresh {
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += length
		fresh = false
	}
	b.WriteByte('\n')
	return b.String()
}
