package pairing

import (
	"context"
	"crypto/subtle"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"mashward/cmd/mashward/internal/web"
)

// Visitor is who asks. The zero value is a stranger.
type Visitor struct {
	Here  bool   // at this machine itself
	Phone *Phone // nil: none that is paired
}

// Stranger tells that he may see how to pair, and press STOP.
func (v Visitor) Stranger() bool { return !v.Here && v.Phone == nil }

type visitorKey struct{}

// Who is the visitor that a request was let in for.
func Who(ctx context.Context) Visitor {
	v, _ := ctx.Value(visitorKey{}).(Visitor)
	return v
}

// Cookie is the name under which a phone keeps its token. Browsers give one
// machine's cookies to all of its ports, and two kettles may be served on one.
func (p *Pairing) Cookie() string { return "mashward_phone_" + p.o.Port }

// Keep has the phone keep its token, where no script reads it and no other site
// can use it.
func (p *Pairing) Keep(w http.ResponseWriter, r *http.Request, token string) {
	http.SetCookie(w, &http.Cookie{
		Name: p.Cookie(), Value: token, Path: "/", MaxAge: int((365 * 24 * time.Hour).Seconds()),
		HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil,
	})
}

// forget has the phone throw away a token that is none.
func (p *Pairing) forget(w http.ResponseWriter) {
	http.SetCookie(w, &http.Cookie{Name: p.Cookie(), Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteStrictMode})
}

// right is what it takes to ask for something.
type right uint8

// Whatever is not named here takes a phone that is paired.
const (
	paired    right = iota
	stop            // everybody, from everywhere, before anything else
	everybody       // what a stranger needs to pair
	scraper         // metrics
	either          // whether it is alive and ready: scrapers and phones
)

// rightOf is what a request takes. Only the very words of a path count: no
// prefix of a whole part of the site, nothing that is cleaned up later on.
func rightOf(method, path string) right {
	look := method == http.MethodGet || method == http.MethodHead
	post := method == http.MethodPost
	switch {
	case post && (path == "/stop" || path == "/api/v1/stop"):
		return stop
	case (look || post) && path == PairPath, post && path == "/api/v1/pair":
		return everybody
	case look && still(path):
		return everybody
	case look && path == "/metrics":
		return scraper
	case look && (path == "/-/healthy" || path == "/-/ready"):
		return either
	}
	return paired
}

// still tells whether a path is one of the files that pages are drawn with. They
// are the same for everybody and tell nothing of a kettle.
func still(path string) bool {
	name, ok := strings.CutPrefix(path, "/static/")
	return ok && name != "" && !strings.Contains(name, "/") && !strings.Contains(name, "..")
}

// Door stands before the whole site, behind the walls of package web. STOP goes
// through it before anything else is looked at: it waits for no lock of ours.
func (p *Pairing) Door(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		needs := rightOf(r.Method, r.URL.Path)
		if needs == stop {
			next.ServeHTTP(w, r)
			return
		}
		here := web.Within(r)
		var phone *entry
		if !here {
			phone = p.phones.find(p.token(r))
		}
		if !here && !p.may(phone, needs, r) {
			p.turnAway(w, r, needs, phone)
			return
		}
		if phone == nil {
			next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), visitorKey{}, Visitor{Here: here})))
			return
		}
		if r.Method == http.MethodPost {
			p.o.Log.Info("a phone asks", "phone", phone.ID, "name", phone.Name, "for", short(r.URL.Path))
		}
		// A phone that is revoked loses what it has open: its stream of events too.
		ctx, cancel := context.WithCancel(context.WithValue(r.Context(), visitorKey{}, Visitor{Phone: &phone.Phone}))
		defer cancel()
		defer context.AfterFunc(phone.present, cancel)()
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}

// calendarPath is a feed that calendars ask for by themselves. They keep no cookie
// and send no token, but a name and a password (RFC 7617).
const calendarPath = "/calendar.ics"

func calendar(r *http.Request) bool {
	return r.URL.Path == calendarPath && (r.Method == http.MethodGet || r.Method == http.MethodHead)
}

// token is what a request brings to be known by: the cookie of a page, the header
// of a program, for a calendar the password. Never a part of its address: those are
// logged and shown.
func (p *Pairing) token(r *http.Request) string {
	if _, password, ok := r.BasicAuth(); ok && calendar(r) {
		return password
	}
	if t, ok := bearer(r); ok {
		return t
	}
	c, err := r.Cookie(p.Cookie())
	if err != nil {
		return ""
	}
	return c.Value
}

// bearer is the token of RFC 6750, section 2.1.
func bearer(r *http.Request) (string, bool) {
	all := r.Header.Values("Authorization")
	if len(all) != 1 {
		return "", len(all) > 1 // two are none
	}
	kind, token, ok := strings.Cut(all[0], " ")
	if !ok || !strings.EqualFold(kind, "Bearer") {
		return "", true
	}
	return strings.TrimSpace(token), true
}

// may tells whether a visitor from beyond may have what he asks for.
func (p *Pairing) may(phone *entry, needs right, r *http.Request) bool {
	switch needs {
	case everybody:
		return p.Open()
	case scraper:
		return p.scrapes(r)
	case either:
		return phone != nil || p.scrapes(r)
	}
	return phone != nil
}

// scrapes tells whether a request brings the token to scrape with.
func (p *Pairing) scrapes(r *http.Request) bool {
	token, _ := bearer(r)
	if p.scrape == nil || token == "" {
		return false
	}
	hash := hashOf(token)
	return subtle.ConstantTimeCompare(hash[:], p.scrape[:]) == 1
}

var (
	notPaired = web.Refusal{Type: "/problems/not-paired", Title: "Not paired", Status: http.StatusUnauthorized, Detail: "Pair first: run `mashward pair` on the machine that mashward runs on. STOP needs no pairing."}
	tooMany   = web.Refusal{Type: "/problems/too-many-tries", Title: "Too many wrong tokens", Status: http.StatusTooManyRequests, Detail: "Wait a minute. STOP needs no token and is never held up."}
	onlyHere  = web.Refusal{Type: "/problems/only-this-machine", Title: "Only this machine is served", Status: http.StatusForbidden, Detail: "This came through another program, for somebody beyond this machine. " + ErrClosed.Error() + "."}
)

// turnAway answers somebody who may not. A person is shown how to pair; a phone
// that asks for what is a scraper's stays paired.
func (p *Pairing) turnAway(w http.ResponseWriter, r *http.Request, needs right, phone *entry) {
	if !p.Open() {
		web.Refuse(w, r, onlyHere)
		return
	}
	if wrong := p.token(r); wrong != "" && phone == nil {
		if wait := p.wrongToken(r); wait > 0 {
			w.Header().Set("Retry-After", strconv.Itoa(int(wait.Seconds())))
			web.Refuse(w, r, tooMany)
			return
		}
		if _, ok := bearer(r); !ok {
			p.forget(w)
		}
	}
	look := r.Method == http.MethodGet || r.Method == http.MethodHead
	if calendar(r) {
		w.Header().Set("WWW-Authenticate", `Basic realm="mashward", charset="UTF-8"`)
		web.Refuse(w, r, notPaired)
		return
	}
	if needs == paired && (look || r.Method == http.MethodPost) && !strings.HasPrefix(r.URL.Path, "/api/") {
		to := PairPath
		if said := r.URL.Query().Get("said"); strings.HasPrefix(said, "stop") && len(said) < 16 {
			to += "?said=" + url.QueryEscape(said) // what STOP has to say, it says here too
		}
		http.Redirect(w, r, to, http.StatusSeeOther)
		return
	}
	w.Header().Set("WWW-Authenticate", `Bearer realm="mashward"`)
	web.Refuse(w, r, notPaired)
}

// wrongToken notes one; it is told how long to wait who brings too many. A right
// one is never held up by that: it cannot be guessed.
func (p *Pairing) wrongToken(r *http.Request) time.Duration {
	p.counting.Lock()
	defer p.counting.Unlock()
	from, now := web.From(r), p.o.Now()
	wait := p.tokens.wait(from, now)
	if p.tokens.wrong(from, now) {
		p.o.Log.Warn("a token that is none", "from", from, "for", short(r.URL.Path))
	}
	return wait
}

// short is what a log has of a path.
func short(path string) string { return path[:min(len(path), 80)] }
