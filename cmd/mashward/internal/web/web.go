// Package web stands between the network and everything that answers: who may
// ask, from where, how much, and what every answer carries.
//
// A page on the net can make a browser here ask anything (a form, a script, a
// name that is made to point here), so two walls stand before every route,
// reading included: the Host of a request must be one of ours, and a request
// that changes something must not come from another origin. Who may come in from
// beyond this machine is the business of package pairing.
package web

import (
	"bytes"
	"encoding/json"
	"io"
	"log"
	"net/http"
	"os"
	"strings"
	"time"
)

// Limits of a connection.
const (
	HeaderTimeout = 5 * time.Second
	ReadTimeout   = 10 * time.Second
	WriteTimeout  = 15 * time.Second
	IdleTimeout   = 5 * time.Second // an idle connection keeps a place from STOP
	MaxHeader     = 16 << 10
	MaxBody       = 64 << 10
	// MaxConnections at one time; the loop does not feel them, but memory does.
	MaxConnections = 64
)

// Guard wraps the whole site; names are those of this machine in lower case, by
// which it may be asked for from beyond.
func Guard(next http.Handler, names ...string) http.Handler {
	origin := http.NewCrossOriginProtection()
	origin.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { Refuse(w, r, otherSite) }))
	return headers(hosts(limits(origin.Handler(next)), names))
}

// hosts lets in requests that were meant for this machine, by name.
func hosts(next http.Handler, names []string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !ours(r, names) {
			Refuse(w, r, notOurs)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// limits bounds what a request may bring.
func limits(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, MaxBody)
		next.ServeHTTP(w, r)
	})
}

// headers are on every answer.
func headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		// Not no-referrer: a form of our own page would then come with "Origin: null" (Fetch
		// standard, "append a request Origin header"), and over plain HTTP by an address of
		// the network a browser sends no Sec-Fetch-Site either: we would refuse ourselves.
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// Refusal is what a wall or the door says. As JSON it is a problem as RFC 9457 has it, in the
// form that openapi.json gives it.
type Refusal struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail"`
}

var (
	otherSite = Refusal{"/problems/other-site", "From another site", http.StatusForbidden, "This request came from another site. Open the page by its own address."}
	notOurs   = Refusal{"/problems/not-our-address", "Not our address", http.StatusMisdirectedRequest, "This address is not one of ours. Open the page as http://localhost with its port; from another machine by the address that mashward tells."}
)

// apiPrefix is where programs ask, who read problems; elsewhere people read words.
const apiPrefix = "/api/"

// Refuse answers with a refusal: with the problem where programs ask, else with its words.
func Refuse(w http.ResponseWriter, r *http.Request, why Refusal) {
	kind, body := "text/plain; charset=utf-8", []byte(why.Detail+"\n")
	if strings.HasPrefix(r.URL.Path, apiPrefix) {
		if text, err := json.Marshal(why); err == nil {
			kind, body = "application/problem+json", text
		}
	}
	w.Header().Set("Content-Type", kind)
	w.WriteHeader(why.Status)
	_, _ = w.Write(body) // whoever has gone needs no answer
}

// What the program keeps for itself of its descriptors: lines, probe, record, and
// the eight or so that it takes to start a keeper. Each connection may read a file.
const (
	ownDescriptors = 32
	perConnection  = 2
	// fewest connections there are whatever the limit is: without any there is no
	// page, and no STOP by it.
	fewest = 4
)

// roomFor is how many connections so many descriptors allow.
func roomFor(descriptors uint64) int {
	if descriptors <= ownDescriptors {
		return fewest
	}
	return int(max(fewest, min(MaxConnections, (descriptors-ownDescriptors)/perConnection)))
}

// Server is an HTTP server with the limits above.
func Server(h http.Handler, names ...string) *http.Server {
	return &http.Server{
		Handler: Guard(h, names...), ReadHeaderTimeout: HeaderTimeout, ReadTimeout: ReadTimeout,
		WriteTimeout: WriteTimeout, IdleTimeout: IdleTimeout, MaxHeaderBytes: MaxHeader,
		ErrorLog: log.New(complaints{os.Stderr}, "", log.LstdFlags),
	}
}

// complaints are what the server itself has to say, without what any visitor can
// have it say again and again.
type complaints struct{ to io.Writer }

// Write drops what a bad handshake is told of.
func (c complaints) Write(p []byte) (int, error) {
	if bytes.Contains(p, []byte("TLS handshake error")) {
		return len(p), nil
	}
	return c.to.Write(p)
}
