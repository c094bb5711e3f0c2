package house

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"mashward/deploy/yardstick"
)

// phone is a browser without a screen.
type phone struct {
	t      *testing.T
	site   string
	client *http.Client
}

func newPhone(t *testing.T) *phone {
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &phone{t: t, client: &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// sees wants a status for a page, or for a form that is sent.
func (p *phone) sees(want int, path string, form url.Values, host string) string {
	p.t.Helper()
	method, body := "GET", io.Reader(http.NoBody)
	if form != nil {
		method, body = "POST", strings.NewReader(form.Encode())
	}
	r, err := http.NewRequest(method, p.site+path, body)
	if err != nil {
		p.t.Fatal(err)
	}
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	r.Host = host
	a, err := p.client.Do(r)
	if err != nil {
		p.t.Error(err)
		return ""
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil || a.StatusCode != want {
		p.t.Errorf("%s %s: %s, want %d (%v)", method, path, a.Status, want, err)
	}
	return string(text)
}

var codeInLink = regexp.MustCompile(`/pair#([0-9A-Z]{4}-[0-9A-Z]{4})`)

// TestScenarioAPhoneComesInOverTheNetwork goes the whole way with the program itself and
// real connections to an address of this machine on its network.
func TestScenarioAPhoneComesInOverTheNetwork(t *testing.T) {
	t.Parallel()
	p := build(t)
	ip := yardstick.Outside(t)
	phone := newPhone(t)
	args := []string{"serve", "--rig", sample(t, "rigs/yard-kettle.yaml"), "--profiles", p.folder, "--state", "state", "--simulate", "--listen", "0.0.0.0:0"}
	begin := func(address string) (here string) {
		port := address[strings.LastIndex(address, ":")+1:]
		phone.site = "http://" + netip.AddrPortFrom(ip, 0).Addr().String() + ":" + port
		return "127.0.0.1:" + port
	}
	var port string
	p.serving(args, func(address string) {
		here := begin(address)
		port = here[strings.LastIndex(here, ":")+1:]
		phone.sees(http.StatusSeeOther, "/", nil, "")
		phone.sees(http.StatusUnauthorized, "/api/v1/state", nil, "")
		phone.sees(http.StatusUnauthorized, "/metrics", nil, "")
		phone.sees(http.StatusMisdirectedRequest, "/pair", nil, "evil.example:"+port)
		phone.sees(http.StatusSeeOther, "/stop", url.Values{"x": {""}}, "")
		said := p.must(0, "pair", "--at", here).out
		code := codeInLink.FindStringSubmatch(said)
		if code == nil || !strings.Contains(said, phone.site+"/pair#") {
			t.Fatalf("no code for %s:\n%s", phone.site, said)
		}
		phone.sees(http.StatusSeeOther, "/pair", url.Values{"code": {code[1]}, "name": {"Sofa"}}, "")
		phone.sees(http.StatusForbidden, "/pair", url.Values{"code": {code[1]}, "name": {"another"}}, "")
		if page := phone.sees(http.StatusOK, "/", nil, ""); !strings.Contains(page, "Yard kettle") {
			t.Errorf("the page of a paired phone:\n%.1000s", page)
		}
		phone.sees(http.StatusOK, "/api/v1/state", nil, "")
		phone.sees(http.StatusUnauthorized, "/metrics", nil, "")
		token, err := os.ReadFile(filepath.Join(p.folder, "state", "scrape-token"))
		if err != nil {
			t.Fatal(err)
		}
		r, err := http.NewRequest("GET", phone.site+"/metrics", http.NoBody)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Authorization", "Bearer "+strings.TrimSpace(string(token)))
		if a, err := http.DefaultClient.Do(r); err != nil || a.StatusCode != http.StatusOK {
			t.Errorf("a scrape with its token: %v %v", a, err)
		} else {
			a.Body.Close()
		}
	})
	// After a restart, on the port that its cookie is for, it is known; then no more.
	args[len(args)-1] = "0.0.0.0:" + port
	p.serving(args, func(address string) {
		here := begin(address)
		phone.sees(http.StatusOK, "/", nil, "")
		id, _, _ := strings.Cut(p.must(0, "pair", "--at", here, "--list").out, " ")
		p.must(0, "pair", "--at", here, "--revoke", id)
		phone.sees(http.StatusSeeOther, "/", nil, "")
	})
}
