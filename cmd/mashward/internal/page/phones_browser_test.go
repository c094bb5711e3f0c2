package page

import (
	"net"
	"net/http/httptest"
	"net/netip"
	"testing"

	"github.com/chromedp/chromedp"

	"mashward/cmd/mashward/internal/web"
	"mashward/deploy/yardstick"
)

// sofa serves the site as phones see it, plain HTTP by an address of the network: at
// localhost a browser says more of where a form comes from, and all would seem well.
func (h house) sofa() *httptest.Server {
	h.t.Helper()
	site := h.p.Door(New(h.options))
	s := httptest.NewUnstartedServer(web.Guard(site))
	s.Listener.Close()
	var err error
	if s.Listener, err = net.Listen("tcp", netip.AddrPortFrom(yardstick.Outside(h.t), 0).String()); err != nil {
		h.t.Fatal(err)
	}
	s.Start()
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
	if ask[bool](tab, "isSecureContext") {
		t.Error("the browser trusts this address as it does not trust that of a kettle")
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
