package pairing

import (
	"bytes"
	"encoding/base64"
	"errors"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// 128 bits are common practice, no source; these are 256.
func TestATokenIsRandomAndOnlyItsHashIsKept(t *testing.T) {
	h := newHall(t, t.TempDir())
	seen := map[string]bool{}
	for range MaxPhones {
		_, token := h.pair("Sofa")
		raw, err := base64.RawURLEncoding.DecodeString(token)
		if err != nil || len(raw)*8 < 128 || seen[token] {
			t.Fatalf("%d bits, there before: %v, %v", len(raw)*8, seen[token], err)
		}
		seen[token] = true
		text, err := os.ReadFile(filepath.Join(h.folder, PhonesFile))
		if err != nil || bytes.Contains(text, []byte(token)) || bytes.Contains(text, raw) {
			t.Fatalf("the token is in the file, or %v", err)
		}
	}
	for _, name := range []string{PhonesFile, ScrapeFile} {
		about, err := os.Stat(filepath.Join(h.folder, name))
		if err != nil || about.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v %v", name, about.Mode(), err)
		}
	}
	left, err := filepath.Glob(filepath.Join(h.folder, "*.new"))
	if err != nil || len(left) > 0 {
		t.Error(left, err)
	}
	again := newHall(t, h.folder) // after a restart
	for token := range seen {
		if w := again.ask(sofa, "GET", "/", "Cookie", again.Cookie()+"="+token); w.Code != 418 {
			t.Fatalf("not known after a restart: %d", w.Code)
		}
	}
	for token := range seen {
		if strings.Contains(h.log.String(), token) || strings.Contains(again.log.String(), token) {
			t.Fatal("a token is in the log")
		}
	}
}

func TestAListThatIsNotAsWrittenLetsNobodyIn(t *testing.T) {
	h := newHall(t, t.TempDir())
	_, token := h.pair("Sofa")
	path := filepath.Join(h.folder, PhonesFile)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"cut": string(whole[:len(whole)/2]), "empty": "", "no list": `{"phones": 1}`, "a short hash": `{"phones": [{"id": "a", "token_sha256": "00"}]}`,
		"no hash": `{"phones": [{"id": "a"}]}`, "no id": strings.Replace(string(whole), `"id": "`, `"di": "`, 1),
		"too many": `{"phones": [` + strings.Repeat(`{},`, MaxPhones) + `{}]}`,
	} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		x := newHall(t, h.folder)
		n, v := x.cookie(token)
		if w := x.ask(sofa, "GET", "/", n, v); w.Code == 418 || len(x.Phones()) != 0 {
			t.Errorf("%s: let in", name)
		}
		if w := x.ask(sofa, "GET", "/", "Cookie", x.Cookie()+"="); w.Code == 418 {
			t.Errorf("%s: let in without a token", name)
		}
		if !strings.Contains(x.log.String(), "no phone is paired") {
			t.Errorf("%s: the log says %q", name, x.log.String())
		}
		if w := x.ask(sofa, "POST", "/stop"); w.Code != 418 {
			t.Errorf("%s: STOP %d", name, w.Code)
		}
	}
}

// A disk that takes nothing: what would let somebody in is refused, what keeps
// him out holds.
func TestWithoutADiskNobodyIsAddedAndWhoIsRevokedIsOut(t *testing.T) {
	h := newHall(t, filepath.Join(t.TempDir(), ""))
	phone, token := h.pair("Sofa")
	if err := os.RemoveAll(h.folder); err != nil {
		t.Fatal(err)
	}
	i, err := h.Invite()
	if err != nil {
		t.Fatal(err)
	}
	if _, token, err := h.Pair(netip.MustParseAddr(known), i.Code, "x"); err == nil || token != "" || len(h.Phones()) != 1 {
		t.Errorf("%v, %d phones", err, len(h.Phones()))
	}
	if err := h.Revoke(phone.ID); err == nil || errors.Is(err, ErrNoPhone) {
		t.Error(err)
	}
	n, v := h.cookie(token)
	if w := h.ask(sofa, "GET", "/", n, v); w.Code == 418 {
		t.Error("revoked, and let in")
	}
}

func TestANameIsWhatCanBeReadInAList(t *testing.T) {
	for name, want := range map[string]string{
		"Sofa": "Sofa", "  the  one\tin the\nkitchen ": "the one in the kitchen", "": "a phone without a name", "\x00\x1b[2J": "[2J",
		"a\r\nlevel=INFO msg=forged": "a level=INFO msg=forged", "\xff\xfe": "a phone without a name", "\u202egnp.exe": "gnp.exe",
		strings.Repeat("ö", 50): strings.Repeat("ö", 40), "<b>": "<b>",
	} {
		if got := goodName(name); got != want {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}
