// Package notice is the file that says who is told what of a brew day, and how:
// addresses to post to, the wording, and headers whose secrets lie in files of
// their own. It sends nothing.
package notice

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

// Bounds of a file.
const (
	MostTargets = 8
	MostHeaders = 8
	LongestName = 32
	LongestURL  = 2000
	LongestBody = 1000
	LongestHead = 200

	ShortestTimeout = time.Second
	LongestTimeout  = time.Minute
	UsualTimeout    = 10 * time.Second
)

// The kinds of events that are told of.
const (
	Prompt   = "prompt"   // a person is asked to do something
	Addition = "addition" // something goes in now
	Soon     = "soon"     // a person will be needed in some minutes
	Alarm    = "alarm"
	Trip     = "trip" // heat is cut and stays off
	Cut      = "cut"  // heat is cut for a while
	Held     = "held" // heat and pump are off, the batch is not over
	Ended    = "ended"
	Finish   = "finish" // the batch is over in some minutes
	Trial    = "test"   // a person tries whether it arrives; always told
)

// Kinds are those that a file may name.
func Kinds() []string {
	return []string{Prompt, Addition, Soon, Alarm, Trip, Cut, Held, Ended, Finish}
}

// Form is how a body is written.
type Form string

// The forms.
const (
	Text Form = "text" // plain text
	JSON Form = "json"
	Web  Form = "form" // as a page's form is sent
)

// Media is the content type of the form.
func (f Form) Media() string {
	switch f {
	case JSON:
		return "application/json"
	case Web:
		return "application/x-www-form-urlencoded"
	case Text:
	}
	return "text/plain; charset=utf-8"
}

// File is who is told.
type File struct {
	Targets []Target
}

// Target is one address that is told of events.
type Target struct {
	Name    string
	URL     Secret // may carry a token, and is treated as one
	Kinds   []string
	Form    Form
	Body    Wording
	Headers []Header
	Timeout time.Duration
	Once    bool // nothing is said again
	Line    int
}

// Tells tells whether a target is told of a kind of events.
func (t *Target) Tells(kind string) bool {
	return kind == Trial || slices.Contains(t.Kinds, kind)
}

// Host is where a target is, without what may be secret in its address.
func (t *Target) Host() string {
	u, err := url.Parse(t.URL.Value)
	if err != nil {
		return ""
	}
	return u.Scheme + "://" + u.Host
}

// Header is one line before the body.
type Header struct {
	Name   string
	Value  Wording // nil where it lies in a file
	Secret Secret
}

// Secret is a value that may lie in a file of its own.
type Secret struct {
	File  string // as written; "" where the value stands in this file
	Value string
	Line  int
}

// Parse reads a file. What lies in files of its own is still missing then. With a
// fault that is no warning the file is not to be used.
func Parse(name string, text []byte) (File, []strict.Fault) {
	doc := strict.Parse(name, text)
	var f File
	m := doc.Map(strict.Keys{"notify"})
	items := m.List("notify", strict.Required)
	if len(items) > MostTargets {
		m.Refuse("notify", fmt.Sprintf("%d targets are too many", len(items)), fmt.Sprintf("keep it to %d", MostTargets))
		return f, doc.Faults()
	}
	names := map[string]bool{}
	for _, item := range items {
		t := parseTarget(item)
		if t.Name != "" && names[t.Name] {
			item.Refuse("the target "+t.Name+" stands twice", "give each a name of its own")
		}
		names[t.Name] = true
		f.Targets = append(f.Targets, t)
	}
	return f, doc.Faults()
}

func parseTarget(item strict.Item) Target {
	m := item.Map(strict.Keys{"target", "url", "tell", "as", "body", "headers", "timeout", "once"})
	t := Target{
		Name:    m.Text("target", strict.Required, strict.MaxRunes(LongestName), strict.Example("phone")),
		Kinds:   kinds(m),
		Form:    Form(m.Word("as", []string{string(Text), string(JSON), string(Web)}, strict.DefaultText(string(Text)))),
		Timeout: m.Duration("timeout", strict.Default(UsualTimeout), strict.Between(ShortestTimeout, LongestTimeout), strict.Example("10 s")),
		Once:    m.Yes("once"),
		Line:    m.Line(),
	}
	t.URL = address(m)
	body := m.Text("body", strict.MaxRunes(LongestBody), strict.Example("{text}"), strict.DefaultText(usual[t.Form]))
	t.Body = wording(m, "body", body)
	if t.Form == JSON && !m.Missing() && t.Body != nil && !t.Body.soundJSON() {
		m.Refuse("body", "what comes of it is no JSON", `write an object whose texts are in quotes, the {fields} too, such as '{"message": "{text}"}'`)
	}
	for i, h := range m.List("headers") {
		if i == MostHeaders {
			m.Refuse("headers", "there are too many headers", fmt.Sprintf("keep it to %d", MostHeaders))
			break
		}
		t.Headers = append(t.Headers, parseHeader(h))
	}
	return t
}

// kinds are the events of the key tell, or all.
func kinds(m *strict.Map) []string {
	items := m.List("tell")
	if m.Sound("tell") && len(items) == 0 {
		m.Refuse("tell", "nothing would be told", "name events, or leave tell out for all: "+strings.Join(Kinds(), ", "))
	}
	if len(items) == 0 {
		return Kinds()
	}
	var all []string
	for _, item := range items {
		word, _ := item.Word()
		if slices.Contains(Kinds(), word) {
			all = append(all, word)
			continue
		}
		remedy := "write " + strings.Join(Kinds(), ", ")
		if near := strict.Nearest(word, Kinds()); near != "" {
			remedy = "write " + near
		}
		item.Refuse(fmt.Sprintf("%q is no event that can be told", clipped(word)), remedy)
	}
	return all
}

func clipped(word string) string {
	if r := []rune(word); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return word
}

// address is where to post to.
func address(m *strict.Map) Secret {
	s := Secret{Line: m.LineOf("url")}
	if m.IsMap("url") {
		s.File = m.Map("url", strict.Keys{"file"}).Text("file", strict.Required, strict.MaxRunes(LongestURL), strict.Example("phone.url"))
		return s
	}
	s.Value = m.Text("url", strict.Required, strict.MaxRunes(LongestURL), strict.Example("https://messages.example/brewhouse"))
	if s.Value == "" {
		return s
	}
	if what, remedy := CheckURL(s.Value); what != "" {
		m.Refuse("url", what, remedy)
	} else if open(s.Value) {
		m.Warn("url", "the messages go unencrypted: whoever is on the way can read them", "write https:// where the target can do that")
	}
	return s
}

// CheckURL says what is wrong with an address; "" where nothing is. It repeats
// nothing of it: a token may stand in it.
func CheckURL(text string) (what, remedy string) {
	const sample = "write an address such as https://messages.example/brewhouse"
	u, err := url.Parse(text)
	switch {
	case !strings.HasPrefix(text, "http://") && !strings.HasPrefix(text, "https://"):
		return "the address does not begin with http:// or https://", sample
	case err != nil || u.Hostname() == "" || strings.ContainsAny(text, " \t\\"):
		return "the address cannot be read", sample
	case u.User != nil:
		return "the address carries a password", "take it out, and write a header whose value lies in a file"
	case strings.Contains(text, "#"):
		return "the address has a part behind #, which is never sent", "take it out"
	}
	return "", ""
}

// open tells whether what goes there can be read on the way.
func open(text string) bool {
	u, err := url.Parse(text)
	if err != nil || u.Scheme == "https" {
		return false
	}
	h := u.Hostname()
	return h != "localhost" && h != "::1" && !strings.HasPrefix(h, "127.")
}

// ownHeaders are set by whoever sends; Origin and Sec-Fetch-Site make a page of
// ours refuse what was posted to it by mistake.
var ownHeaders = []string{
	"host", "content-type", "content-length", "transfer-encoding", "connection", "te", "trailer", "upgrade", "expect",
	"origin", "user-agent", "idempotency-key",
}

func parseHeader(item strict.Item) Header {
	m := item.Map(strict.Keys{"name", "value", "file"})
	h := Header{Name: m.Text("name", strict.Required, strict.MaxRunes(LongestHead), strict.Example("Authorization"))}
	if h.Name != "" {
		if what, remedy := checkHeaderName(h.Name); what != "" {
			m.Refuse("name", what, remedy)
		}
	}
	switch inFile, here := m.Has("file"), m.Has("value"); {
	case inFile && here:
		m.Refuse("file", "the value stands here and in a file", "keep one of them")
	case inFile:
		h.Secret = Secret{
			File: m.Text("file", strict.MaxRunes(LongestURL), strict.Example("phone.token")),
			Line: m.LineOf("file"),
		}
	default:
		text := m.Text("value", strict.Required, strict.MaxRunes(LongestBody), strict.Example(`"{title}"`))
		h.Value = wording(m, "value", text)
		if here && secretive(h.Name) && !h.Value.hasField() {
			m.Warn("value", "this looks like a secret, in a file that is not kept as one", "write file: and the name of a file with nothing else in it, readable by mashward alone")
		}
	}
	return h
}

// checkHeaderName holds a name to a token of RFC 9110, section 5.6.2.
func checkHeaderName(name string) (what, remedy string) {
	for _, r := range name {
		if r > '~' || r <= ' ' || strings.ContainsRune(`"(),/:;<=>?@[\]{}`, r) {
			return "this is no name of a header", "write one such as Authorization"
		}
	}
	low := strings.ToLower(name)
	if strings.HasPrefix(low, "sec-") || strings.HasPrefix(low, "proxy-") {
		return "this header is not for a file to set", "take it out"
	}
	if slices.Contains(ownHeaders, low) {
		return "this header is set by mashward", "take it out"
	}
	return "", ""
}

// secretive tells whether a header's name says that its value is a secret.
func secretive(name string) bool {
	low := strings.ToLower(name)
	for _, sign := range []string{"authorization", "cookie", "token", "secret", "key", "password"} {
		if strings.Contains(low, sign) {
			return true
		}
	}
	return false
}

// Show is what a file means, with everything filled in and no secret in it.
func (f File) Show() string {
	var b strings.Builder
	b.WriteString("notify:\n")
	for _, t := range f.Targets {
		fmt.Fprintf(&b, "  - target: %s\n    url: %s\n    tell: [%s]\n    as: %s\n    body: %s\n", quoted(t.Name), t.URL.shown(), strings.Join(t.Kinds, ", "), t.Form, quoted(t.Body.String()))
		if len(t.Headers) > 0 {
			b.WriteString("    headers:\n")
		}
		for _, h := range t.Headers {
			value := "value: " + quoted(h.Value.String())
			if h.Secret.File != "" {
				value = "file: " + quoted(h.Secret.File)
			}
			fmt.Fprintf(&b, "      - {name: %s, %s}\n", quoted(h.Name), value)
		}
		fmt.Fprintf(&b, "    timeout: %s\n    once: %s\n", unit.FormatDuration(t.Timeout), map[bool]string{true: "yes", false: "no"}[t.Once])
	}
	return b.String()
}

// shown is a secret as a file has it.
func (s Secret) shown() string {
	if s.File != "" {
		return "{file: " + quoted(s.File) + "}"
	}
	return quoted(s.Value)
}

// quoted is a text between single quotes, as YAML takes it whatever is in it.
func quoted(text string) string { return "'" + strings.ReplaceAll(text, "'", "''") + "'" }
