package api

import (
	"fmt"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/pairing"
)

// site is who may come in, and what stands behind the door.
type site struct {
	*bench
	p *pairing.Pairing
}

func paired(t *testing.T, f func(site)) {
	t.Helper()
	folder := t.TempDir()
	inBubble(t, settings{}, func(b *bench) {
		p, err := pairing.New(pairing.Options{State: folder, Links: func() []string { return []string{"http://192.0.2.2:8973"} }, Port: "8973", Now: time.Now})
		if err != nil {
			b.Fatal(err)
		}
		b.api = New(Options{Daemon: b.d, Records: b.records, Now: time.Now, Log: quiet(), Pairing: p})
		f(site{b, p})
	})
}

// from asks as somebody at an address would, through the door.
func (s site) from(address, method, path, body string, header ...string) *httptest.ResponseRecorder {
	s.Helper()
	r, w := request(method, Prefix+path, body, header...), httptest.NewRecorder()
	r.RemoteAddr = address + ":40000"
	s.p.Door(s.api).ServeHTTP(w, r)
	if w.Code != 401 {
		promised.hold(s, r, body, w)
	}
	return w
}

const (
	desk = "127.0.0.1"
	sofa = "192.0.2.77"
	shed = "192.0.2.78"
)

func (s site) invite() string {
	s.Helper()
	w := s.from(desk, "POST", "phones/invite", "{}")
	if w.Code != 200 {
		s.Fatal(w.Code, w.Body)
	}
	i := into[Invitation](s, w)
	if want := []string{"http://192.0.2.2:8973/pair#" + i.Code}; fmt.Sprint(i.Links) != fmt.Sprint(want) || i.Valid != 600 {
		s.Errorf("%+v", i)
	}
	return i.Code
}

func toPair(code, name string) string { return fmt.Sprintf(`{"code": %q, "name": %q}`, code, name) }

func TestAProgramIsPairedByTheCodeAndTakenOffTheList(t *testing.T) {
	paired(t, func(s site) {
		if w := s.from(sofa, "GET", "phones", ""); w.Code != 401 {
			t.Fatal(w.Code)
		}
		code := s.invite()
		w := s.from(sofa, "POST", "pair", toPair(strings.ToLower(code), "Sofa"), "Idempotency-Key: k")
		mine := into[Paired](s, w)
		if w.Code != 200 || mine.Name != "Sofa" {
			t.Fatal(w.Code, w.Body)
		}
		again := s.from(sofa, "POST", "pair", toPair(strings.ToLower(code), "Sofa"), "Idempotency-Key: k")
		no(t, again, 403, "wrong-code") // the key does not bring the token back
		known := "Authorization: Bearer " + mine.Token
		list := into[Phones](s, s.from(sofa, "GET", "phones", "", known))
		if len(list.Phones) != 1 || !list.Open || !list.Phones[0].Yours || list.Phones[0].ID != mine.ID {
			t.Errorf("%+v", list)
		}
		no(t, s.from(sofa, "POST", "phones/invite", "{}", known), 403, "not-here")
		no(t, s.from(desk, "POST", "phones/revoke", `{"phone": "x"}`), 404, "no-such-phone")
		if left := into[Phones](s, s.from(desk, "POST", "phones/revoke", `{"phone": "`+mine.ID+`"}`)); len(left.Phones) != 0 {
			t.Errorf("%+v", left)
		}
		if w := s.from(sofa, "GET", "phones", "", known); w.Code != 401 {
			t.Error("revoked, and answered", w.Code)
		}
	})
}

func TestWrongCodesAreNotLookedAtForEver(t *testing.T) {
	paired(t, func(s site) {
		code := s.invite()
		for range 5 {
			no(t, s.from(sofa, "POST", "pair", toPair("0000-0000", "x")), 403, "wrong-code")
		}
		w := s.from(sofa, "POST", "pair", toPair(code, "x"))
		if no(t, w, 429, "too-many-tries"); w.Header().Get("Retry-After") != "60" {
			t.Error(w.Header())
		}
		pass(time.Minute)
		if w := s.from(sofa, "POST", "pair", toPair(code, "x")); w.Code != 200 {
			t.Error(w.Code, w.Body)
		}
	})
}

func TestNoMoreThan32PhonesArePaired(t *testing.T) {
	paired(t, func(s site) {
		for range pairing.MaxPhones {
			s.from(shed, "POST", "pair", toPair(s.invite(), "x"))
		}
		no(t, s.from(shed, "POST", "pair", toPair(s.invite(), "x")), 409, "too-many-phones")
	})
}

func TestWhereOnlyThisMachineIsServedNobodyIsInvited(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		p := pairing.Closed()
		s := site{b, p}
		no(t, s.from(desk, "POST", "phones/invite", "{}"), 409, "only-this-machine")
		no(t, b.ask("POST", "pair", toPair("0000-0000", "x")), 409, "only-this-machine")
		no(t, s.from(sofa, "POST", "pair", toPair("0000-0000", "x")), 403, "only-this-machine")
		if list := into[Phones](b, b.get("phones")); list.Open || len(list.Phones) != 0 {
			t.Errorf("%+v", list)
		}
	})
}

func TestWhatIsNoRequestToPairIsRefused(t *testing.T) {
	paired(t, func(s site) {
		for path, bodies := range map[string][]string{
			"pair":          {`{}`, `{"code": "x"}`, `{"code": 1, "name": "x"}`, `{"code": "x", "name": "y", "admin": true}`, `[`},
			"phones/invite": {`[]`, `{"valid_seconds": 1e9}`},
			"phones/revoke": {`{}`, `{"phone": null}`, `{"phone": ["x"]}`},
		} {
			for _, body := range bodies {
				no(t, s.from(desk, "POST", path, body), 400, "bad-request")
			}
			no(t, s.from(desk, "POST", path, "{}", "Content-Type: text/plain"), 415, "not-json")
			s.from(desk, "POST", path, `{}`, "Idempotency-Key: "+path)
		}
		s.from(desk, "POST", "phones/revoke", `{"phone": 1}`, "Idempotency-Key: r")
		no(t, s.from(desk, "POST", "phones/revoke", `{"phone": 2}`, "Idempotency-Key: r"), 422, "key-reused")
		for i := range 2 * mostKeys { // a stranger's keys are not kept
			no(t, s.from(sofa, "POST", "pair", `{"code": 1}`, fmt.Sprintf("Idempotency-Key: %d", i)), 400, "bad-request")
		}
		if n := len(s.api.memory.deeds); n > 3 {
			t.Errorf("%d answers are kept", n)
		}
		s.from(desk, "POST", "phones/invite", `{"a": 1}`, "Idempotency-Key: i")
		no(t, s.from(desk, "POST", "phones/invite", `{"a": 2}`, "Idempotency-Key: i"), 422, "key-reused")
	})
}
