package notice

import (
	"encoding/json"
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strings"

	"mashward/profile/strict"
)

// Fields are what may stand between braces in a body or a header.
func Fields() []string {
	return []string{
		"title", "text", "said", "do", "event", "id", "state", "times", "urgent", "rig", "profile", "batch", "step",
		"temperature", "clock", "time", "simulated", "line",
	}
}

// Explained says what a field stands for.
func Explained(field string) string {
	return map[string]string{
		"title": "rig and kind of event, a few words", "text": "all of it in whole sentences: where, when, what, what to do, cautions",
		"said": "what happened, one or two sentences", "do": "what to do about it", "event": "the kind of event: " + strings.Join(Kinds(), ", ") + ", " + Trial,
		"id": "which prompt, alarm or rule it is, in one word", "state": "new, again or over", "times": "how often this has been said",
		"urgent": "5 where heat is concerned or somebody has waited, 4 where a person is needed, else 3", "rig": "the kettle's name", "profile": "the profile's name",
		"batch": "the batch's id", "step": "the step that runs, in words", "temperature": "what the probe reads, such as 66.9 °C, or unknown",
		"clock": "hours and minutes since arming", "time": "the time it happened, as RFC 3339 has it", "simulated": "yes or no", "line": "a line break",
	}[field]
}

// usual are the bodies where the file has none.
var usual = map[Form]string{
	Text: "{text}",
	JSON: `{"title": "{title}", "text": "{text}", "event": "{event}", "id": "{id}", "state": "{state}", "rig": "{rig}", "batch": "{batch}", "time": "{time}", "simulated": "{simulated}"}`,
	Web:  "title={title}&text={text}&event={event}&state={state}",
}

// Wording is a text with fields to be filled in.
type Wording []part

// part is a piece of text, or a field.
type part struct{ text, field string }

var braces = regexp.MustCompile(`\{[a-z_]+\}`)

// ParseWording reads a text. A field that is not known is given back, "" if all are.
func ParseWording(text string) (w Wording, unknown string) {
	for text != "" {
		at := braces.FindStringIndex(text)
		if at == nil {
			return append(w, part{text: text}), unknown
		}
		if at[0] > 0 {
			w = append(w, part{text: text[:at[0]]})
		}
		field := text[at[0]+1 : at[1]-1]
		if !slices.Contains(Fields(), field) && unknown == "" {
			unknown = field
		}
		w, text = append(w, part{field: field}), text[at[1]:]
	}
	return w, unknown
}

// wording reads the text of a key and refuses fields that are not known.
func wording(m *strict.Map, key, text string) Wording {
	w, unknown := ParseWording(text)
	if unknown == "" {
		return w
	}
	remedy := "known here: {" + strings.Join(Fields(), "}, {") + "}"
	if near := strict.Nearest(unknown, Fields()); near != "" {
		remedy = "write {" + near + "}"
	}
	m.Refuse(key, fmt.Sprintf("there is no field {%s}", clipped(unknown)), remedy)
	return nil
}

func (w Wording) hasField() bool {
	return slices.ContainsFunc(w, func(p part) bool { return p.field != "" })
}

// String is the text as it was written.
func (w Wording) String() string {
	var b strings.Builder
	for _, p := range w {
		b.WriteString(p.text)
		if p.field != "" {
			b.WriteString("{" + p.field + "}")
		}
	}
	return b.String()
}

// Fill puts the fields in, each escaped as the form needs it: whatever is in them,
// they stay text.
func (w Wording) Fill(form Form, value func(field string) string) string {
	var b strings.Builder
	for _, p := range w {
		b.WriteString(p.text)
		if p.field == "" {
			continue
		}
		text := "\n"
		if p.field != "line" {
			text = value(p.field)
		}
		b.WriteString(escaped(form, text))
	}
	return b.String()
}

// Head is the same as the value of a header: one line of plain ASCII, of bounded
// length. A degree sign is left out, other letters become a question mark.
func (w Wording) Head(value func(field string) string) string {
	text := w.Fill(Text, value)
	var b strings.Builder
	for _, r := range strings.ToValidUTF8(text, "?") {
		switch {
		case r == '\n' || r == '\r' || r == '\t':
			b.WriteByte(' ')
		case r == '°':
		case r >= ' ' && r <= '~':
			b.WriteRune(r)
		default:
			b.WriteByte('?')
		}
		if b.Len() >= LongestHead {
			break
		}
	}
	return strings.TrimSpace(b.String())
}

func escaped(form Form, text string) string {
	switch form {
	case JSON:
		return inJSON(text)
	case Web:
		return url.QueryEscape(text)
	case Text:
	}
	return text
}

// inJSON is a text as it stands within quotes.
func inJSON(text string) string {
	out, err := json.Marshal(text)
	if err != nil {
		return "" // a string always can be
	}
	return string(out[1 : len(out)-1])
}

// soundJSON tells whether what comes of it is JSON, whatever is filled in.
func (w Wording) soundJSON() bool {
	for _, hostile := range []string{"a word", `"`, `\`, "\n", `", "x": "`, "7", ""} {
		if !json.Valid([]byte(w.Fill(JSON, func(string) string { return hostile }))) {
			return false
		}
	}
	return true
}
