package page

import (
	"html"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
)

const tuningText = "tuning: Yard kettle\npower: 2850 W\nwater: 25 L\ncapacity: 108.6 kJ/K\nloss: 7 W/K\nlags: {element: 20 s, probe: 8 s, delay: 5 s, mixing: 60 s}\ndoubt: 0.8 %\n"

// tunedRig is a bench whose rig names a tuning, with one that it replaced.
func tunedRig(t *testing.T) *bench {
	folder := t.TempDir()
	for name, text := range map[string]string{"a.yaml": tuningText, "a.yaml.before": strings.Replace(tuningText, "2850 W", "3010 W", 1)} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return newBench(t, func(o *daemon.Options, _ *pot) { o.Rig.Tuning = filepath.Join(folder, "a.yaml") })
}

func TestTheKettleAndItsTuningAreSaidInWordsAndTheOneBeforeIsBroughtBack(t *testing.T) {
	b := tunedRig(t)
	_, page := b.get("/kettle")
	// By hand: 2850 W over 108.6 kJ/K are 1.57 K a minute; 4.1 kJ/K are 0.98 L of water.
	for _, want := range []string{"full power warms it by +1.57 °C a minute", "as much heat as 1.0 L of water", "+1.66 °C a minute", "heat is cut, and stays off, at 102.0 °C at the latest", "mashward tune --rig yard-kettle.yaml"} {
		if !strings.Contains(html.UnescapeString(page), want) {
			t.Errorf("%q is not said", want)
		}
	}
	if _, f := b.get("/kettle?unit=F"); !strings.Contains(html.UnescapeString(f), "+2.83 °F a minute") { // 1.57 × 9/5
		t.Error(f)
	}
	if status, to, _ := b.post("/kettle/restore"); status != http.StatusSeeOther || to != "/kettle?said=restored" {
		t.Error(status, to)
	}
	if now, before := b.daemon.Tunings(); now.Power != 3010 || before.Power != 2850 {
		t.Errorf("%v %v", now.Power, before.Power)
	}
	b.begin("rye-four-rests")
	if _, page = b.get("/kettle"); strings.Contains(page, "/kettle/restore") {
		t.Error("it is offered in a batch")
	}
	if _, to, _ := b.post("/kettle/restore"); to != "/kettle?said=not-now" {
		t.Error(to)
	}
	if now, _ := b.daemon.Tunings(); now.Power != 3010 {
		t.Error(now.Power)
	}
	b = newBench(t)
	if _, page = b.get("/kettle"); !strings.Contains(page, "The rig is not tuned") || strings.Contains(page, "/kettle/restore") {
		t.Error(page)
	}
	if _, to, _ := b.post("/kettle/restore"); to != "/kettle?said=not-restored" {
		t.Error(to)
	}
	if _, page = newBench(t, broken).get("/kettle"); !strings.Contains(page, "The rig file has faults") {
		t.Error(page)
	}
}

// strange finds units that no brewer has at his kettle: kelvin and joules, alone or per.
var strange = regexp.MustCompile(`\d ?(?:m?K|[kM]?J)\b|\b[kWJ]*[WJ]/K\b|(?i)kelvin|joule`)

// The text of a profile, as it stands in the form, is the file's own.
var ofTheFile = regexp.MustCompile(`(?s)<textarea.*?</textarea>|<svg.*?<title|<defs>.*?</defs>| d="[^"]*"|(?:points|viewBox|data-[a-z]+)="[^"]*"`)

func TestNoPageSpeaksOfKelvinOrJoules(t *testing.T) {
	b := tunedRig(t)
	b.post("/profile/rye-four-rests/rehearse")
	look := func(paths ...string) {
		t.Helper()
		for _, path := range paths {
			status, page := b.get(path)
			if status != http.StatusOK {
				t.Errorf("%s: %d", path, status)
			}
			for _, found := range strange.FindAllStringIndex(ofTheFile.ReplaceAllString(page, ""), -1) {
				text := ofTheFile.ReplaceAllString(page, "")
				t.Errorf("%s: …%s…", path, text[max(0, found[0]-60):min(len(text), found[1]+30)])
			}
		}
	}
	look("/", "/profiles", "/kettle", "/by-hand", "/alarms", "/records", "/profile/rye-four-rests", "/profile/rye-four-rests/arm", "/profile/rye-four-rests/edit", "/profile/rye-four-rests/scale", "/profile/rye-four-rests/sheet")
	b.begin("rye-four-rests")
	b.until("some minutes", func(s *daemon.Snapshot) bool { return s.Decision.Clock.Minutes() > 12 })
	look("/", "/did", "/what-if", "/additions", "/chart")
	b.press(controller.Command{Wish: controller.Stop})
	look("/", "/end", "/alarms")
	if !strange.MatchString("63.0 K") || !strange.MatchString("4.1 kJ/K") || !strange.MatchString("7 W/K") || strange.MatchString("4.60 kg, 0.8 L/kg, 3 kWh") {
		t.Error("this finds nothing, or too much")
	}
}
