package page

import (
	"fmt"
	"html"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestAProfileIsChangedAsTextAndSavedAsANewFile(t *testing.T) {
	b := newBench(t)
	sample := read(t, "profiles/rye-four-rests.yaml")
	status, page := b.get("/profile/rye-four-rests/edit")
	if status != http.StatusOK || !strings.Contains(page, html.EscapeString(sample[:200])) || !strings.Contains(page, `value="rye-four-rests-2"`) {
		t.Fatal(status, page)
	}
	// A fault is told at its line, with the line, and what was typed is there again. A
	// form sends its lines with a carriage return.
	wrong := strings.Replace(sample, "26 L", "26 kg", 1) + "# <b>mine</b>\n"
	form := func(text, do, as string) (int, string, string) {
		return b.post("/profile/rye-four-rests/edit", "text", strings.ReplaceAll(text, "\n", "\r\n"), "do", do, "as", as)
	}
	line := 1 + strings.Count(sample[:strings.Index(sample, "26 L")], "\n")
	for _, do := range []string{"check", "save", "rehearse"} {
		status, _, page = form(wrong, do, "mine")
		want := http.StatusUnprocessableEntity
		if do == "check" {
			want = http.StatusOK
		}
		if status != want || !strings.Contains(page, fmt.Sprintf("Line %d<", line)) || !strings.Contains(page, "water: 26 kg") ||
			!strings.Contains(page, html.EscapeString("# <b>mine</b>\n</textarea>")[:20]) || !strings.Contains(page, `value="mine"`) || strings.Contains(page, "<b>mine") {
			t.Errorf("%s: %d %s", do, status, page)
		}
	}
	// A good one is planned and rehearsed before it is saved, and counts as rehearsed then.
	good := strings.Replace(sample, "profile: Rye, four rests", "profile: Rye, mine", 1)
	if status, _, page = form(good, "check", ""); status != http.StatusOK || !strings.Contains(page, "It can be run") || !strings.Contains(page, `id="sn-t"`) {
		t.Errorf("%d %s", status, page)
	}
	if status, _, page = form(good, "rehearse", ""); status != http.StatusOK || !strings.Contains(page, "It went through to the end in 4 h") {
		t.Errorf("%d %s", status, page)
	}
	for _, as := range []string{"", "../mine", "rye-four-rests", "a b"} {
		if status, _, page = form(good, "save", as); status != http.StatusUnprocessableEntity || !strings.Contains(page, "Not done") || !strings.Contains(page, "profile: Rye, mine") {
			t.Errorf("saved as %q: %d", as, status)
		}
	}
	if status, to, _ := form(good, "save", "mine"); status != http.StatusSeeOther || to != "/profile/mine?said=saved" {
		t.Errorf("%d %s", status, to)
	}
	for name, want := range map[string]string{"rye-four-rests": sample, "mine": good} {
		if text, err := os.ReadFile(filepath.Join(b.folder, name+".yaml")); err != nil || string(text) != want {
			t.Errorf("%s: %v\n%s", name, err, text)
		}
	}
	if _, page = b.get("/profile/mine"); !strings.Contains(page, "Go on to the four statements") {
		t.Error("it was rehearsed before it was saved, and does not count")
	}
	if _, page = b.get("/profiles"); strings.Count(page, "Change its text</a>") != 4 || !strings.Contains(page, "mine.yaml") || strings.Contains(page, "<script>document") {
		t.Error(page)
	}
	if status, _ := b.get("/profile/nothing/edit"); status != http.StatusNotFound {
		t.Error(status)
	}
	if status, _, _ = form(strings.Repeat("# far too long\n", 8000), "check", ""); status != http.StatusRequestEntityTooLarge {
		t.Error(status)
	}
}

func TestAProfileIsScaledToTextThatIsNotSavedByAsking(t *testing.T) {
	b := newBench(t)
	status, _, page := b.post("/profile/rye-four-rests/scale", "litres", "15", "gravity", "1,050")
	if status != http.StatusOK || !strings.Contains(page, "Scaled from rye-four-rests.yaml") || !strings.Contains(page, "What became of it") || !strings.Contains(page, "It can be run") {
		t.Errorf("%d %s", status, page)
	}
	if _, _, page = b.post("/profile/rye-four-rests/scale", "litres", "90"); !strings.Contains(page, "This does not fit. On this kettle") {
		t.Error(page)
	}
	for _, bad := range [][]string{{}, {"litres", "0"}, {"litres", "x"}, {"gravity", "heavy"}, {"gravity", "12 Bx"}} {
		if status, _, page = b.post("/profile/rye-four-rests/scale", bad...); status != http.StatusUnprocessableEntity || !strings.Contains(page, "Not like this") {
			t.Errorf("%v: %d", bad, status)
		}
	}
	if all, err := os.ReadDir(b.folder); err != nil || len(all) != 3 {
		t.Errorf("%v %v", all, err)
	}
	if status, to, _ := b.post("/profile/broken/scale", "litres", "15"); status != http.StatusSeeOther || to != "/profile/broken" {
		t.Error(status, to)
	}
}

func TestTheBrewSheetIsOnAPageOfItsOwn(t *testing.T) {
	b := newBench(t)
	if status, page := b.get("/profile/rye-four-rests/sheet"); status != http.StatusOK || !strings.Contains(page, "<pre class=\"sheet\"") || !strings.Contains(page, "Rye, four rests") {
		t.Errorf("%d %s", status, page)
	}
	if status, page := b.get("/profile/hostile/sheet"); status != http.StatusOK || strings.Contains(page, "<img") {
		t.Errorf("%d %s", status, page)
	}
	if status, _ := b.get("/profile/broken/sheet"); status != http.StatusSeeOther {
		t.Error(status)
	}
}
