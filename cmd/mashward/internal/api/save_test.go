package api

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func asJSON(id, text string) string {
	if id == "" {
		return fmt.Sprintf(`{"text": %q}`, text)
	}
	return fmt.Sprintf(`{"id": %q, "text": %q}`, id, text)
}

func TestATextIsLookedAtAndSavedAsANewFileAndNoneIsWrittenOver(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		longer := strings.Replace(warm, "for: 2 min", "for: 3 min", 1)
		wrong := strings.Replace(warm, "25 L", "25 kg", 1)
		p := into[ShownProfile](b, b.post("profiles/check", asJSON("", wrong), 200))
		if !p.Refused || len(p.Faults) != 1 || p.Faults[0].Line != 2 || p.ID != "draft" {
			t.Errorf("%+v", p)
		}
		if p = into[ShownProfile](b, b.post("profiles/check", asJSON("", longer), 200)); p.Refused || p.Text != longer {
			t.Errorf("%+v", p)
		}
		if saved := into[ShownProfile](b, b.post("profiles", asJSON("warm-2", longer), 200)); saved.Hash != p.Hash || saved.ID != "warm-2" {
			t.Errorf("%+v", saved)
		}
		no(b, b.ask("POST", "profiles", asJSON("warm-2", warm)), http.StatusConflict, "profile-exists")
		no(b, b.ask("POST", "profiles", asJSON("warm", longer)), http.StatusConflict, "profile-exists")
		no(b, b.ask("POST", "profiles", asJSON("warm-3", wrong)), http.StatusUnprocessableEntity, "profile-refused")
		for _, id := range []string{"../warm-3", "a/b", "", ".", "x.yaml", "~by-hand~1~2~3", strings.Repeat("a", 65)} {
			no(b, b.ask("POST", "profiles", fmt.Sprintf(`{"id": %q, "text": %q}`, id, warm)), http.StatusBadRequest, "bad-request")
		}
		for _, path := range []string{"profiles", "profiles/check"} {
			no(b, b.ask("POST", path, `{}`), http.StatusBadRequest, "bad-request")
			no(b, b.ask("POST", path, `{"text": "a"}`, "Content-Type: text/plain"), http.StatusUnsupportedMediaType, "not-json")
			no(b, b.ask("POST", path, strings.Repeat(" ", 70<<10)), http.StatusRequestEntityTooLarge, "too-large")
		}
		no(b, b.ask("POST", "profiles/check", asJSON("warm", warm)), http.StatusBadRequest, "bad-request")
		for name, want := range map[string]string{"warm": warm, "warm-2": longer} {
			if text, err := os.ReadFile(filepath.Join(b.folder, name+".yaml")); err != nil || string(text) != want {
				t.Errorf("%s: %v %q", name, err, text)
			}
		}
		if all, err := os.ReadDir(b.folder); err != nil || len(all) != 2 {
			t.Errorf("%v %v", all, err)
		}
	})
}

func TestNothingIsSavedWithoutARig(t *testing.T) {
	inBubble(t, settings{broken: true}, func(b *bench) {
		no(b, b.ask("POST", "profiles", asJSON("warm-2", warm)), http.StatusServiceUnavailable, "heat-disabled")
		no(b, b.ask("POST", "profiles/check", asJSON("", warm)), http.StatusServiceUnavailable, "heat-disabled")
	})
}
