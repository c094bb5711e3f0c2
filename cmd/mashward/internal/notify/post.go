package notify

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"mashward/cmd/internal/notice"
)

// Bounds of what a target may do.
const (
	mostHead    = 16 << 10 // bytes of an answer's headers
	mostShown   = 300      // bytes of its body, and only where a person asked for them
	mostAfter   = 5 * time.Minute
	longestWhat = 200 // characters of an error
)

// Reply is what came back from a target.
type Reply struct {
	Taken  bool
	Again  bool // another attempt makes sense
	Status int  // 0: there was no answer
	Text   string
	After  time.Duration // the target asks to be left alone for so long
}

// poster speaks to one target.
type poster struct {
	target *notice.Target
	client *http.Client
}

// Dial opens a connection.
type Dial func(ctx context.Context, network, address string) (net.Conn, error)

// newPoster follows no redirect, uses no proxy, keeps no connection, and takes a
// certificate only if it is good; roots nil are those of the system.
func newPoster(t *notice.Target, dial Dial, roots *x509.CertPool) *poster {
	if dial == nil {
		dial = (&net.Dialer{KeepAlive: -1}).DialContext
	}
	within := func(ctx context.Context, network, address string) (net.Conn, error) {
		ctx, cancel := context.WithTimeout(ctx, t.Timeout) // the transport goes on dialling for a request that has ended
		defer cancel()
		return dial(ctx, network, address)
	}
	return &poster{target: t, client: &http.Client{
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{
			DialContext: within, TLSClientConfig: &tls.Config{RootCAs: roots, MinVersion: tls.VersionTLS12}, TLSHandshakeTimeout: t.Timeout,
			DisableKeepAlives: true, DisableCompression: true, MaxConnsPerHost: 2, MaxResponseHeaderBytes: mostHead,
		},
	}}
}

// request is a message as it goes to the target.
func (p *poster) request(ctx context.Context, m *Message, id string) (*http.Request, error) {
	t := p.target
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, t.URL.Value, strings.NewReader(t.Body.Fill(t.Form, m.Field)))
	if err != nil {
		return nil, errors.New("the address cannot be read") // the error has it in it
	}
	for _, h := range t.Headers {
		if h.Secret.File != "" {
			r.Header.Set(h.Name, h.Secret.Value)
			continue
		}
		r.Header.Set(h.Name, h.Value.Head(m.Field))
	}
	r.Header.Set("Content-Type", t.Form.Media())
	r.Header.Set("User-Agent", "mashward")
	r.Header.Set("Idempotency-Key", id)
	// What stands before our own routes refuses whatever another site has posted: a
	// target that is this very page by mistake can answer no question.
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	return r, nil
}

// send makes one attempt.
func (p *poster) send(ctx context.Context, l *letter) Reply {
	return p.exchange(ctx, &l.Message, l.id, p.target.Timeout, 0)
}

// exchange posts a message and waits for the answer's head, within a time; of its
// body so many bytes are read, and the rest is left.
func (p *poster) exchange(ctx context.Context, m *Message, id string, within time.Duration, body int64) (reply Reply) {
	defer func() {
		if failed := recover(); failed != nil {
			reply = Reply{Text: "a fault of mashward itself"}
		}
	}()
	ctx, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	r, err := p.request(ctx, m, id)
	if err != nil {
		return Reply{Text: err.Error()}
	}
	a, err := p.client.Do(r)
	if err != nil {
		return Reply{Again: true, Text: p.hidden(trouble(err, within))}
	}
	defer a.Body.Close()
	reply = judged(a)
	if body > 0 {
		text, _ := io.ReadAll(io.LimitReader(a.Body, body)) // what came until then
		if said := strings.TrimSpace(p.hidden(plain(string(text), int(body)))); said != "" {
			reply.Text += ": " + strings.ReplaceAll(said, "\n", " ")
		}
	}
	return reply
}

// judged is what a status means.
func judged(a *http.Response) Reply {
	status := strings.TrimSpace(strconv.Itoa(a.StatusCode) + " " + http.StatusText(a.StatusCode))
	reply := Reply{Status: a.StatusCode}
	switch {
	case a.StatusCode >= 200 && a.StatusCode < 300:
		reply.Taken, reply.Text = true, "taken ("+status+")"
	case a.StatusCode >= 300 && a.StatusCode < 400:
		reply.Text = "it sends on to another address, which is not followed (" + status + "): write the new address into the file"
	case a.StatusCode == http.StatusRequestTimeout || a.StatusCode == http.StatusTooManyRequests || a.StatusCode >= 500:
		reply.Again, reply.After, reply.Text = true, after(a.Header.Get("Retry-After")), "not now ("+status+")"
	default:
		reply.Text = "refused (" + status + ")"
	}
	return reply
}

// after reads how long a target asks to be left alone.
func after(text string) time.Duration {
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 {
		return 0
	}
	return min(mostAfter, time.Duration(min(n, 1e6))*time.Second)
}

// trouble is an error in words, without the address, in which a secret may stand.
func trouble(err error, within time.Duration) string {
	var u *url.Error
	if errors.As(err, &u) {
		err = u.Err
	}
	var n net.Error
	if errors.Is(err, context.DeadlineExceeded) || errors.As(err, &n) && n.Timeout() {
		return fmt.Sprintf("no answer within %.0f s", within.Seconds())
	}
	return plain(err.Error(), longestWhat)
}

// hidden takes out of a text what must not be seen: a target may send back what it
// was sent.
func (p *poster) hidden(text string) string {
	secrets := []string{p.target.URL.Value}
	if u, err := url.Parse(p.target.URL.Value); err == nil {
		secrets = append(secrets, u.RequestURI(), strings.Trim(u.EscapedPath(), "/"), u.RawQuery)
	}
	for _, h := range p.target.Headers {
		secrets = append(secrets, h.Secret.Value)
		if _, word, ok := strings.Cut(h.Secret.Value, " "); ok {
			secrets = append(secrets, word)
		}
	}
	for _, s := range secrets {
		if len(s) >= shortestSecret {
			text = strings.ReplaceAll(text, s, "[hidden]")
		}
	}
	return text
}

// shortestSecret is what is worth to be hidden: less would take words apart.
const shortestSecret = 4
