package main

import (
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestNotifyTestSaysWhatCameBackAndShowSendsNothing(t *testing.T) {
	var asked []string
	status := http.StatusOK
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			t.Error(err)
		}
		asked = append(asked, r.Header.Get("Authorization")+" "+r.URL.Path+" "+string(body))
		w.WriteHeader(status)
	}))
	defer server.Close()
	dir := t.TempDir()
	for name, text := range map[string]string{
		"n.yaml": "notify: [{target: phone, url: {file: url}, headers: [{name: Authorization, file: token}], tell: [trip]}]\n",
		"url":    server.URL + "/s3cr3t\n", "token": "Bearer t0ken\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(dir, "n.yaml")
	a := mashward("notify", "show", path)
	if a.code != exitOK || len(asked) != 0 || !strings.Contains(a.out, "phone, trip: POST "+server.URL) || !strings.Contains(a.out, "Authorization: [hidden]") {
		t.Errorf("%d %s%s, asked %q", a.code, a.out, a.err, asked)
	}
	a = mashward("notify", "test", path)
	if a.code != exitOK || a.out != "phone ("+server.URL+"): taken (200 OK)\n" || len(asked) != 1 || !strings.HasPrefix(asked[0], "Bearer t0ken /s3cr3t mashward, at ") {
		t.Errorf("%d %s%s, asked %q", a.code, a.out, a.err, asked)
	}
	status = http.StatusForbidden
	if a = mashward("notify", "test", path); a.code != exitShort || !strings.Contains(a.out, "refused (403 Forbidden)") {
		t.Errorf("%d %s%s", a.code, a.out, a.err)
	}
	if err := os.Chmod(filepath.Join(dir, "token"), 0o644); err != nil {
		t.Fatal(err)
	}
	if a = mashward("notify", "test", path); a.code != 78 || !strings.Contains(a.err, "others may read") || len(asked) != 2 {
		t.Errorf("%d %s%s, asked %d times", a.code, a.out, a.err, len(asked))
	}
	for _, wrong := range [][]string{{"notify"}, {"notify", "send", path}, {"notify", "test"}, {"notify", "test", path, path}} {
		if a := mashward(wrong...); a.code != exitUsage {
			t.Errorf("%q: %d %s", wrong, a.code, a.err)
		}
	}
}
