package moments

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// Event is one moment as a calendar keeps it.
type Event struct {
	UID       string // the same for the whole day
	Start     time.Time
	Length    time.Duration
	Alarm     time.Duration // before Start; 0: none
	Title     string
	What      string
	Band      string // in words; "" where there is none
	Sequence  int    // rises with every change
	Changed   time.Time
	Cancelled bool
}

// Calendar is a feed.
type Calendar struct {
	UID     string
	Name    string
	About   string
	Changed time.Time
	Events  []Event
}

// refresh is how often a feed should be fetched anew.
const refresh = "PT5M"

// Write writes the calendar as RFC 5545 has it, all times in UTC, with the name and
// refresh interval of RFC 7986. There is no METHOD: it is no invitation and asks for
// no answer. Without events it holds a VFREEBUSY with nothing in it, for a calendar
// has to hold something. The error is the writer's.
func (c *Calendar) Write(w io.Writer) error {
	var b strings.Builder
	line := func(name, value string) { b.WriteString(fold(name + ":" + value)) }
	line("BEGIN", "VCALENDAR")
	line("VERSION", "2.0")
	line("PRODID", "-//mashward//when you are needed//EN")
	line("CALSCALE", "GREGORIAN")
	line("UID", c.UID)
	line("LAST-MODIFIED", instant(c.Changed))
	line("NAME", escape(c.Name))
	line("DESCRIPTION", escape(c.About))
	line("REFRESH-INTERVAL;VALUE=DURATION", refresh)
	for i := range c.Events {
		c.Events[i].write(line)
	}
	if len(c.Events) == 0 {
		line("BEGIN", "VFREEBUSY")
		line("UID", c.UID+"-free")
		line("DTSTAMP", instant(c.Changed))
		line("END", "VFREEBUSY")
	}
	line("END", "VCALENDAR")
	_, err := io.WriteString(w, b.String())
	return err
}

func (e *Event) write(line func(name, value string)) {
	status, what := "CONFIRMED", e.What
	if e.Band != "" {
		what = e.Band + ".\n" + what
	}
	if e.Cancelled {
		status = "CANCELLED"
	}
	line("BEGIN", "VEVENT")
	line("UID", e.UID)
	line("DTSTAMP", instant(e.Changed)) // without METHOD: when this was last changed
	line("LAST-MODIFIED", instant(e.Changed))
	line("SEQUENCE", fmt.Sprint(e.Sequence))
	line("DTSTART", instant(e.Start))
	line("DTEND", instant(e.Start.Add(e.Length)))
	line("STATUS", status)
	line("SUMMARY", escape(e.Title))
	line("DESCRIPTION", escape(what))
	if e.Alarm > 0 && !e.Cancelled {
		line("BEGIN", "VALARM")
		line("ACTION", "DISPLAY")
		line("DESCRIPTION", escape(e.Title))
		line("TRIGGER", fmt.Sprintf("-PT%dM", int(e.Alarm/time.Minute)))
		line("END", "VALARM")
	}
	line("END", "VEVENT")
}

// instant is RFC 5545 3.3.5, form 2: date with UTC time.
func instant(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// escape is RFC 5545 3.3.11: backslash, semicolon, comma and line break; other control
// characters have no place in a text.
func escape(text string) string {
	var b strings.Builder
	for _, r := range strings.ReplaceAll(strings.ToValidUTF8(text, "\uFFFD"), "\r\n", "\n") {
		switch {
		case r == '\\' || r == ';' || r == ',':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t' || r >= ' ' && r != 0x7F:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// mostOctets is the longest line without its break (RFC 5545 3.1).
const mostOctets = 75

// fold ends a content line with CRLF and breaks it where it is too long, never within
// a character.
func fold(text string) string {
	var b strings.Builder
	octets := 0
	for _, r := range text {
		n := utf8.RuneLen(r)
		if octets+n > mostOctets {
			b.WriteString("\r\n ")
			octets = 1
		}
		b.WriteRune(r)
		octets += n
	}
	b.WriteString("\r\n")
	return b.String()
}
