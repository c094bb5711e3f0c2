package page

import (
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/chromedp/chromedp"

	"mashward/cmd/mashward/internal/web"
)

// sofa serves the site as if everybody came from beyond this machine.
func (h house) sofa() *httptest.Server {
	h.t.Helper()
	site := h.p.Door(New(h.options))
	s := httptest.NewServer(web.Guard(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.RemoteAddr = onSofa + ":40000"
		site.ServeHTTP(w, r)
	})))
	h.t.Cleanup(func() { shut(s) })
	return s
}

// What a phone does that scans the link: the code is in its field and out of the
// address, and one press pairs it.
func TestAPhoneThatScansTheLinkIsPairedByOnePress(t *testing.T) {
	h := newHouse(t)
	s := h.sofa()
	tab := newBrowser(t)
	i, err := h.p.Invite()
	if err != nil {
		t.Fatal(err)
	}
	for _, width := range []int64{360, 1280} {
		tab.do(chromedp.EmulateViewport(width, 780), chromedp.Navigate(s.URL+"/pair?x#"+i.Code))
		tab.becomes("document.getElementById('code').value === " + quoted(i.Code) + " && location.hash === ''")
		tab.fits()
		if what := ask[string](tab, small); what != "" {
			t.Errorf("at %d px:\n%s", width, what)
		}
	}
	tab.looked("/pair")
	if n := len(h.p.Phones()); n != 0 {
		t.Fatalf("looking at the link has paired %d", n)
	}
	tab.do(chromedp.Click("#pair button"))
	tab.becomes("location.pathname === '/' && document.querySelector('main[data-live]') !== null")
	if n := len(h.p.Phones()); n != 1 {
		t.Errorf("%d phones", n)
	}
	if ask[string](tab, "document.cookie") != "" {
		t.Error("a script reads the cookie")
	}
	tab.do(chromedp.EmulateViewport(360, 780), chromedp.Navigate(s.URL+"/phones"))
	tab.fits()
	if what := ask[string](tab, small); what != "" {
		t.Error(what)
	}
	tab.looked("/phones")
	tab.do(chromedp.Click(".list button"))
	tab.reads("Pair this phone") // it has taken itself off
	tab.hold()
	tab.reads("everything is off")
}
