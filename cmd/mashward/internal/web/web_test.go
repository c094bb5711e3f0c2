package web

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"strings"
	"testing"
)

// site serves a page that counts what reached it.
func site(t *testing.T) (address string, reached *int) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	reached = new(int)
	server := Server(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, err := io.ReadAll(r.Body); err != nil {
			http.Error(w, err.Error(), http.StatusRequestEntityTooLarge)
			return
		}
		*reached++
		fmt.Fprintln(w, "reached")
	}))
	go server.Serve(l)
	t.Cleanup(func() { server.Close() })
	return l.Addr().String(), reached
}

// ask sends a raw request, so that no client library mends it.
func ask(t *testing.T, address, request string) int {
	t.Helper()
	status, _, _ := told(t, address, request)
	return status
}

// told is the whole answer to a raw request.
func told(t *testing.T, address, request string) (status int, header http.Header, body []byte) {
	t.Helper()
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	fmt.Fprint(c, request)
	answer, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if body, err = io.ReadAll(answer.Body); err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode, answer.Header, body
}

func TestOnlyOurOwnNamesAreServed(t *testing.T) {
	address, reached := site(t)
	_, port, _ := net.SplitHostPort(address)
	for host, want := range map[string]int{
		"127.0.0.1:" + port: 200, "localhost:" + port: 200, "[::1]:" + port: 200,
		"127.0.0.1": 421, "localhost": 421, "localhost:1": 421, "localhost.:" + port: 421,
		"kettle.local:" + port: 421, "localhost.evil.example:" + port: 421, "10.0.0.1:" + port: 421,
		"0.0.0.0:" + port: 421, "127.0.0.1.evil.example:" + port: 421, "[::1%25lo]:" + port: 421, "[fe80::1]:" + port: 421,
	} {
		for _, path := range []string{"/", "/api/v1/state", "/api/v1/events", "/metrics", "/style.css"} {
			if got := ask(t, address, "GET "+path+" HTTP/1.1\r\nHost: "+host+"\r\nConnection: close\r\n\r\n"); got != want {
				t.Errorf("GET %s with Host %s: %d; want %d", path, host, got, want)
			}
		}
	}
	if *reached != 3*5 {
		t.Errorf("%d requests reached the site; want 15", *reached)
	}
	if got := ask(t, address, "GET / HTTP/1.0\r\n\r\n"); got != 421 {
		t.Errorf("a request without a Host: %d; want 421", got)
	}
}

func TestAnotherSiteCanChangeNothing(t *testing.T) {
	address, reached := site(t)
	own := "http://" + address
	for name, row := range map[string]struct {
		headers string
		want    int
	}{
		"a form of another site":            {"Origin: http://evil.example\r\n", 403},
		"a page without an origin":          {"Origin: null\r\n", 403},
		"what the browser calls cross-site": {"Sec-Fetch-Site: cross-site\r\n", 403},
		"another port of this machine":      {"Origin: http://127.0.0.1:1\r\n", 403},
		"our own page":                      {"Origin: " + own + "\r\nSec-Fetch-Site: same-origin\r\n", 200},
		"a program that is no browser":      {"", 200},
	} {
		got := ask(t, address, "POST /api/v1/command HTTP/1.1\r\nHost: "+address+"\r\n"+row.headers+"Content-Length: 0\r\nConnection: close\r\n\r\n")
		if got != row.want {
			t.Errorf("%s: %d; want %d", name, got, row.want)
		}
	}
	if *reached != 2 {
		t.Errorf("%d posts reached the site; want 2", *reached)
	}
}

func TestBodiesAndHeadersHaveAnEnd(t *testing.T) {
	address, _ := site(t)
	big := strings.Repeat("x", MaxBody+1)
	if got := ask(t, address, fmt.Sprintf("POST / HTTP/1.1\r\nHost: %s\r\nContent-Length: %d\r\nConnection: close\r\n\r\n%s", address, len(big), big)); got != 413 {
		t.Errorf("a body of %d bytes: %d; want 413", len(big), got)
	}
	if got := ask(t, address, "GET / HTTP/1.1\r\nHost: "+address+"\r\nX: "+strings.Repeat("x", 2*MaxHeader)+"\r\n\r\n"); got != 431 {
		t.Errorf("a header of %d bytes: %d; want 431", 2*MaxHeader, got)
	}
}

func TestEveryAnswerCarriesTheHeaders(t *testing.T) {
	address, _ := site(t)
	answer, err := http.Get("http://" + address + "/")
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "Cache-Control": "no-store"} {
		if got := answer.Header.Get(name); got != want {
			t.Errorf("%s is %q; want %q", name, got, want)
		}
	}
	if policy := answer.Header.Get("Content-Security-Policy"); !strings.Contains(policy, "default-src 'self'") || strings.Contains(policy, "unsafe") {
		t.Errorf("content policy %q", policy)
	}
}

func TestConnectionsBeyondTheLimitWait(t *testing.T) {
	inner, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer inner.Close()
	l := Limit(inner, 1)
	for range 2 {
		c, err := net.Dial("tcp", inner.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
	}
	first, err := l.Accept()
	if err != nil {
		t.Fatal(err)
	}
	second := make(chan net.Conn, 1)
	go func() {
		c, err := l.Accept()
		if err == nil {
			second <- c
		}
	}()
	select {
	case <-second:
		t.Fatal("a second connection was let in beside the first")
	default:
	}
	first.Close()
	first.Close() // gives back one place, not two
	(<-second).Close()
}

// Programs read problems, people read words.
func TestARefusalComesInTheFormOfThoseWhoAsked(t *testing.T) {
	address, reached := site(t)
	for path, kind := range map[string]string{
		"/": "text/plain; charset=utf-8", "/apiary": "text/plain; charset=utf-8", "/metrics": "text/plain; charset=utf-8",
		"/api/v1/state": "application/problem+json", "/api/v1/stop": "application/problem+json", "/api/nothing": "application/problem+json",
	} {
		for request, status := range map[string]int{
			"GET " + path + " HTTP/1.1\r\nHost: kettle.evil.example\r\n":                                                  421,
			"POST " + path + " HTTP/1.1\r\nHost: " + address + "\r\nOrigin: http://evil.example\r\nContent-Length: 0\r\n": 403,
		} {
			got, header, body := told(t, address, request+"Connection: close\r\n\r\n")
			if got != status || header.Get("Content-Type") != kind || header.Get("X-Content-Type-Options") != "nosniff" {
				t.Errorf("%.40q: %d, %s", request, got, header.Get("Content-Type"))
			}
			var p map[string]any
			err := json.Unmarshal(body, &p)
			if read := err == nil; read != strings.HasSuffix(kind, "json") || read && (p["status"] != float64(status) || p["type"] == "" || p["title"] == "" || p["detail"] == "") {
				t.Errorf("%.40q: %v\n%s", request, err, body)
			}
		}
	}
	if *reached != 0 {
		t.Errorf("%d requests reached the site", *reached)
	}
}

// A handler that panics ends its own request and nothing else: STOP is still there.
func TestAPanicInAHandlerEndsThatRequestAlone(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := Server(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/panic" {
			panic("a handler's mistake")
		}
		fmt.Fprintln(w, "reached")
	}))
	server.ErrorLog = log.New(io.Discard, "", 0)
	go server.Serve(l)
	t.Cleanup(func() { server.Close() })
	for range 2 * MaxConnections { // each gives its place back
		if answer, err := http.Get("http://" + l.Addr().String() + "/panic"); err == nil {
			answer.Body.Close()
			t.Fatalf("a panic is answered %s", answer.Status)
		}
	}
	if got := ask(t, l.Addr().String(), "POST /stop HTTP/1.1\r\nHost: "+l.Addr().String()+"\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"); got != http.StatusOK {
		t.Errorf("after panics: %d", got)
	}
}

func TestVisitorsNeverGetTheLastDescriptors(t *testing.T) {
	for descriptors, want := range map[uint64]int{0: 4, 32: 4, 40: 4, 64: 16, 128: 48, 160: 64, 1024: 64, 1 << 63: 64} {
		if got := roomFor(descriptors); got != want {
			t.Errorf("%d descriptors: %d connections, want %d", descriptors, got, want)
		}
	}
	if n := Room(); n < 4 || n > MaxConnections {
		t.Errorf("here %d", n)
	}
}
