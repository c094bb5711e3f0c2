package moments

import (
	"encoding/json"
	"fmt"
	"os/exec"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"mashward/cmd/internal/ahead"
	"mashward/deploy/yardstick"
)

// unfolded takes lines apart as RFC 5545 3.1 says: a break and one white space are
// nothing.
func unfolded(text string) string {
	return strings.NewReplacer("\r\n ", "", "\r\n\t", "").Replace(text)
}

// The example of RFC 5545 3.1: a description on one line, and the same on three.
func TestALongLineIsFoldedSoThatItReadsAsOne(t *testing.T) {
	const one = "DESCRIPTION:This is a long description that exists on a long line."
	const three = "DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n"
	if unfolded(three) != one+"\r\n" {
		t.Fatalf("the test itself reads %q", unfolded(three))
	}
	if got := fold(one); got != one+"\r\n" {
		t.Errorf("66 octets are one line: %q", got)
	}
	for n := range 400 {
		text := "SUMMARY:" + strings.Repeat("x", n%7) + strings.Repeat("ü€𝄞a", n/4)
		got := fold(text)
		if unfolded(got) != text+"\r\n" || !strings.HasSuffix(got, "\r\n") {
			t.Fatalf("%q comes back as %q", text, unfolded(got))
		}
		for line := range strings.SplitSeq(strings.TrimSuffix(got, "\r\n"), "\r\n") {
			if len(line) > 75 || !utf8.ValidString(line) || strings.ContainsAny(line, "\r\n") {
				t.Fatalf("%d octets: %q", len(line), line)
			}
		}
	}
}

// The examples of RFC 5545 3.3.11 and 3.8.1.7.
func TestTextIsEscaped(t *testing.T) {
	for text, want := range map[string]string{
		"Project XYZ Final Review\nConference Room - 3B\nCome Prepared.": `Project XYZ Final Review\nConference Room - 3B\nCome Prepared.`,
		"Conference Room - F123, Bldg. 002":                              `Conference Room - F123\, Bldg. 002`,
		"a;b\\c\r\nd\x07\x00\\ne":                                        `a\;b\\c\nd\\ne`,
		"broken \xff":                                                    "broken \uFFFD",
	} {
		if got := escape(text); got != want {
			t.Errorf("%q: %q, not %q", text, got, want)
		}
	}
}

func dayAt(f ahead.Forecast) Day {
	return Day{Batch: "20260307-103000", Salt: "kettle", Name: "Rye, four rests", Clock: f.Made, List: Of(f, f.Made, armed.Add(f.Made), 1)}
}

func byUID(c Calendar) map[string]Event {
	m := map[string]Event{}
	for _, e := range c.Events {
		m[e.UID] = e
	}
	return m
}

// An event keeps its name while it moves, its number rises with each move, and nothing
// changes for a few seconds.
func TestEventsMoveAndKeepTheirNames(t *testing.T) {
	var b Book
	f := forecast()
	first := byUID(b.Calendar(dayAt(f)))
	if len(first) != 4 {
		t.Fatalf("%d events with names of their own", len(first))
	}
	f.Made += 20 * time.Second
	for i := range f.Moments {
		f.Moments[i].At += 20 * time.Second
	}
	for uid, e := range byUID(b.Calendar(dayAt(f))) {
		if e != first[uid] {
			t.Errorf("20 s: %+v, before %+v", e, first[uid])
		}
	}
	f.Made += 5 * time.Minute
	lift := &f.Moments[1].Span
	lift.At, lift.Early, lift.Late = lift.At+10*time.Minute, lift.Early+10*time.Minute, lift.Late+10*time.Minute
	moved := 0
	for uid, e := range byUID(b.Calendar(dayAt(f))) {
		was := first[uid]
		if e == was {
			continue
		}
		moved++
		if off := e.Start.Sub(was.Start); e.Title != "lift the grain" || off < 9*time.Minute || off > 11*time.Minute || e.Sequence <= was.Sequence || !e.Changed.After(was.Changed) {
			t.Errorf("%+v, before %+v", e, was)
		}
	}
	if moved != 1 {
		t.Errorf("%d events moved", moved)
	}
	// Started anew the program has forgotten its book; the numbers still rise.
	var again Book
	f.Made += 5 * time.Minute
	for uid, e := range byUID(again.Calendar(dayAt(f))) {
		if was, ok := first[uid]; !ok || e.Sequence <= was.Sequence {
			t.Errorf("after a new start %+v, before %+v", e, was)
		}
	}
}

// What was stays as it was; what did not happen when the batch is over is called off,
// and stays so; what comes back is on again.
func TestWhatDidNotHappenIsCalledOff(t *testing.T) {
	var b Book
	f := forecast()
	first := byUID(b.Calendar(dayAt(f)))
	f.Made = span("11:50:00", "11:50:00", "11:50:00").At
	poured := f
	poured.Moments = f.Moments[1:]
	b.Calendar(dayAt(poured))
	ended := ahead.Forecast{Made: f.Made + time.Minute}
	check := func(c Calendar, off bool) {
		t.Helper()
		if len(c.Events) != 4 {
			t.Fatalf("%d events", len(c.Events))
		}
		for _, e := range c.Events {
			want := off && e.Title != "pour the grain"
			if e.Cancelled != want || want && e.Sequence <= first[e.UID].Sequence {
				t.Errorf("%+v", e)
			}
		}
	}
	over := b.Calendar(dayAt(ended))
	check(over, true)
	late := dayAt(ended)
	late.List.Made = late.List.Made.Add(6 * time.Hour)
	for uid, e := range byUID(b.Calendar(late)) {
		if e != byUID(over)[uid] {
			t.Errorf("six hours later: %+v", e)
		}
	}
	poured.Made += 2 * time.Minute
	check(b.Calendar(dayAt(poured)), false)
}

// read is what the parser says of a calendar.
type read struct {
	Name, Refresh string
	Method        bool
	Components    []string
	Events        []struct {
		UID, Summary, Description, Start, End, Stamp, Modified, Status string
		Sequence                                                       int
		Alarms                                                         []string
	}
}

const parser = `
import sys, json, icalendar
def utc(v):
    assert v.dt.tzinfo is not None and v.dt.utcoffset().total_seconds() == 0, v
    return v.dt.strftime("%Y-%m-%dT%H:%M:%SZ")
cal = icalendar.Calendar.from_ical(sys.stdin.buffer.read())
out = {"Name": str(cal["NAME"]), "Refresh": str(cal["REFRESH-INTERVAL"]), "Method": "METHOD" in cal,
       "Components": [c.name for c in cal.subcomponents], "Events": []}
assert not cal.errors and str(cal["VERSION"]) == "2.0" and str(cal["PRODID"])
for e in cal.walk("VEVENT"):
    assert not e.errors, e.errors
    out["Events"].append({"UID": str(e["UID"]), "Summary": str(e["SUMMARY"]), "Description": str(e["DESCRIPTION"]),
        "Start": utc(e["DTSTART"]), "End": utc(e["DTEND"]), "Stamp": utc(e["DTSTAMP"]), "Modified": utc(e["LAST-MODIFIED"]),
        "Status": str(e["STATUS"]), "Sequence": int(e["SEQUENCE"]),
        "Alarms": [str(a["ACTION"]) + " " + str(int(a["TRIGGER"].dt.total_seconds())) for a in e.walk("VALARM")]})
json.dump(out, sys.stdout)
`

// parse reads a calendar with Debian's python3-icalendar, which knows nothing of this
// package.
func parse(t *testing.T, c Calendar) read {
	t.Helper()
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import icalendar").Run(); err != nil {
		yardstick.Missing(t, fmt.Sprintf("%s cannot import icalendar (%v): install python3-icalendar to run this check", python, err))
	}
	var text strings.Builder
	if err := c.Write(&text); err != nil {
		t.Fatal(err)
	}
	if strings.Count(text.String(), "\n") != strings.Count(text.String(), "\r\n") {
		t.Error("a line does not end in CRLF")
	}
	cmd := exec.Command(python, "-c", parser)
	cmd.Stdin = strings.NewReader(text.String())
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, text.String())
	}
	var r read
	if err := json.Unmarshal(out, &r); err != nil {
		t.Fatal(err)
	}
	return r
}

func TestAnotherProgramReadsTheSameFromTheCalendar(t *testing.T) {
	var b Book
	f := forecast()
	// No backslash before an n: that parser (4.0.3) takes it for a line break, which
	// TestTextIsEscaped holds against the RFC.
	const nasty = "Add 2 oz hops, \"late\"; C:\\Temp: ü€𝄞 and so on, and on, until the line is far longer than any line may be. Twice\nover."
	f.Moments[2].What = nasty
	c := b.Calendar(dayAt(f))
	c.Events[3].Cancelled = true
	r := parse(t, c)
	if r.Name != "Rye, four rests" || r.Method || r.Refresh != "PT5M" && !strings.Contains(r.Refresh, "5") || len(r.Events) != 4 {
		t.Fatalf("%+v", r)
	}
	for i, e := range c.Events {
		got, status := r.Events[i], map[bool]string{true: "CANCELLED", false: "CONFIRMED"}[e.Cancelled]
		utc := func(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05Z") }
		if got.UID != e.UID || got.Summary != e.Title || !strings.HasSuffix(got.Description, e.What) || got.Status != status || got.Sequence != e.Sequence {
			t.Errorf("%+v, of %+v", got, e)
		}
		if got.Start != utc(e.Start) || got.End != utc(e.Start.Add(e.Length)) || got.Stamp != utc(e.Changed) || got.Modified != got.Stamp {
			t.Errorf("%+v, of %+v", got, e)
		}
		if want := fmt.Sprintf("DISPLAY -%d", int(e.Alarm.Seconds())); e.Cancelled != (len(got.Alarms) == 0) || !e.Cancelled && got.Alarms[0] != want {
			t.Errorf("alarms %v of %+v", got.Alarms, e)
		}
	}
	// 11:42:10 in Berlin's winter is 10:42 in UTC; it rings 5 min before the earliest.
	if r.Events[0].Start != "2026-03-07T10:42:00Z" || r.Events[0].Alarms[0] != "DISPLAY -540" || !strings.HasPrefix(r.Events[0].Description, "Foreseen between 11:38 and 11:47.\n") {
		t.Errorf("%+v", r.Events[0])
	}
	empty := parse(t, (&Book{}).Calendar(Day{Name: "Kettle", List: List{Made: armed}}))
	if len(empty.Events) != 0 || len(empty.Components) != 1 {
		t.Errorf("%+v", empty)
	}
}
