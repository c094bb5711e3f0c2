package notice

import (
	"encoding/json"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"mashward/profile/strict"
)

func write(t *testing.T, path, text string, mode os.FileMode) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), mode); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, mode); err != nil { // whatever the umask takes away
		t.Fatal(err)
	}
}

func TestAFileWithTheLeastInItTellsAllEventsAsText(t *testing.T) {
	f, faults := Parse("n.yaml", []byte("notify: [{target: phone, url: https://messages.example/a}]\n"))
	if len(faults) > 0 || len(f.Targets) != 1 {
		t.Fatal(f, faults)
	}
	x := f.Targets[0]
	if !slices.Equal(x.Kinds, Kinds()) || x.Form != Text || x.Body.String() != "{text}" || x.Timeout != UsualTimeout || x.Once || x.Host() != "https://messages.example" {
		t.Errorf("%+v", x)
	}
}

func TestAllFaultsOfAFileAreToldAtOnce(t *testing.T) {
	_, faults := Parse("n.yaml", []byte(`notify:
  - {target: a, url: gopher://x}
  - {target: b, url: https://x.example, as: xml}
  - {target: c, url: https://x.example, tell: [promt], timeout: 0 s}
  - {target: d, url: https://x.example, headers: [{name: "a b", value: x}, {value: x}]}
`))
	lines := map[int]int{}
	for _, f := range faults {
		lines[f.Line]++
	}
	if len(faults) != 6 || lines[2] != 1 || lines[3] != 1 || lines[4] != 2 || lines[5] != 2 {
		t.Error(faults)
	}
}

// Nothing that is filled in may end the text it stands in: RFC 8259 for JSON, the
// URL standard for forms.
func TestWhatIsFilledInStaysText(t *testing.T) {
	hostile := "x\", \"wish\": \"stop\" \\ \n\r\t &a=b % <script>alert(1)</script> \u202e °C {text}"
	w, unknown := ParseWording(`{"a": "{said}", "b": "{line}{rig}"}`)
	if unknown != "" {
		t.Fatal(unknown)
	}
	var got map[string]string
	if err := json.Unmarshal([]byte(w.Fill(JSON, func(string) string { return hostile })), &got); err != nil || len(got) != 2 || got["a"] != hostile || got["b"] != "\n"+hostile {
		t.Errorf("%v %q", err, got)
	}
	w, _ = ParseWording("a={said}&b={rig}")
	values, err := url.ParseQuery(w.Fill(Web, func(string) string { return hostile }))
	if err != nil || len(values) != 2 || values.Get("a") != hostile || values.Get("b") != hostile {
		t.Errorf("%v %q", err, values)
	}
	head := w.Head(func(string) string { return hostile })
	if what, _ := visible(head); what != "" || len(head) > LongestHead || strings.Contains(head, "\n") {
		t.Errorf("%q: %s", head, what)
	}
}

func TestASecretIsReadFromAFileThatNobodyElseMayRead(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "phone.token"), "Bearer 0123\n", 0o600)
	write(t, filepath.Join(dir, "phone.url"), "https://messages.example/s3cr3t\n", 0o400)
	text := "notify: [{target: phone, url: {file: phone.url}, headers: [{name: Authorization, file: phone.token}]}]\n"
	name := filepath.Join(dir, "n.yaml")
	f, faults := Parse(name, []byte(text))
	if faults = append(faults, f.ReadSecrets(name)...); len(faults) > 0 {
		t.Fatal(faults)
	}
	x := f.Targets[0]
	if x.URL.Value != "https://messages.example/s3cr3t" || x.Headers[0].Secret.Value != "Bearer 0123" {
		t.Errorf("%+v", x)
	}
	if shown := f.Show(); strings.Contains(shown, "0123") || strings.Contains(shown, "s3cr3t") {
		t.Errorf("a secret is shown:\n%s", shown)
	}
	again, faults := Parse("again", []byte(f.Show()))
	if len(faults) > 0 || again.Show() != f.Show() {
		t.Errorf("what is shown is another file: %v\n%s\n%s", faults, f.Show(), again.Show())
	}
}

func TestASecretThatCannotBeUsedIsAFaultThatDoesNotTellIt(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		mode os.FileMode
		said string
	}{
		"others may read it": {"s3cr3t", 0o644, "others may read"},
		"a group may":        {"s3cr3t", 0o640, "others may read"},
		"empty":              {"\n", 0o600, "empty"},
		"two lines":          {"s3cr3t\ns3cr3t", 0o600, "more than one line"},
		"no plain letters":   {"s3cr3t\x00", 0o600, "more than one line"},
		"too long":           {strings.Repeat("s3cr3t", 1000), 0o600, "longer than"},
		"missing":            {"", 0, "cannot be read"},
	} {
		if runtime.GOOS == "windows" && strings.Contains(c.said, "others") {
			continue
		}
		dir := t.TempDir()
		path := filepath.Join(dir, "n.yaml")
		if c.mode != 0 {
			write(t, filepath.Join(dir, "key"), c.text, c.mode)
		}
		f, _ := Parse(path, []byte("notify:\n  - target: phone\n    url: https://messages.example/a\n    headers: [{name: Authorization, file: key}]\n"))
		faults := f.ReadSecrets(path)
		if len(faults) != 1 || !strings.Contains(faults[0].What, c.said) || faults[0].Line != 4 || strings.Contains(faults[0].String(), "s3cr3t") {
			t.Errorf("%s: %v", name, faults)
		}
	}
}

// A folder in the place of a secret is told too, and a device is not waited for.
func TestASecretIsAPlainFile(t *testing.T) {
	f, _ := Parse("n.yaml", []byte("notify: [{target: phone, url: {file: /dev/zero}}, {target: b, url: {file: /}}]\n"))
	if faults := f.ReadSecrets("n.yaml"); len(faults) != 2 {
		t.Error(faults)
	}
}

func FuzzAFileIsReadOrRefusedAndNeverSaysMoreThanItMay(f *testing.F) {
	for _, text := range []string{
		"notify: [{target: phone, url: https://messages.example/a}]\n",
		"notify:\n  - target: a\n    url: {file: x}\n    as: json\n    body: '{\"a\": \"{said}\"}'\n    headers: [{name: A, value: '{title}'}, {name: B, file: y}]\n    timeout: 5 s\n",
		"notify: [{target: a, url: 'http://h', as: form, body: 'a={said}&{rig}={line}', tell: [prompt], once: yes}]",
	} {
		f.Add([]byte(text), "rig \"x\"\r\nSet-Cookie: a")
	}
	f.Fuzz(func(t *testing.T, text []byte, value string) {
		file, faults := Parse("f", text)
		if strict.Refused(faults) {
			return
		}
		fill := func(string) string { return value }
		for _, x := range file.Targets {
			body := x.Body.Fill(x.Form, fill)
			if x.Form == JSON && !json.Valid([]byte(body)) {
				t.Errorf("no JSON: %q", body)
			}
			r, err := http.NewRequest(http.MethodPost, "http://h", strings.NewReader(body))
			if err != nil {
				t.Fatal(err)
			}
			for _, h := range x.Headers {
				if v := h.Value.Head(fill); len(v) > LongestHead || !utf8.ValidString(v) || strings.ContainsAny(v, "\r\n\x00") {
					t.Errorf("header %q", v)
				} else {
					r.Header.Set(h.Name, v)
				}
			}
			if err := r.Write(&strings.Builder{}); err != nil {
				t.Errorf("it cannot be sent: %v", err)
			}
			if x.URL.File == "" && x.Host() == "" {
				t.Error("a target is nowhere")
			}
		}
		if again, faults := Parse("f", []byte(file.Show())); strict.Refused(faults) || again.Show() != file.Show() {
			t.Errorf("what is shown is another file: %v\n%s", faults, file.Show())
		}
	})
}
