package pairing

import (
	"crypto/sha256"
	"errors"
	"log/slog"
	"net/netip"
	"path/filepath"
	"sync"
	"time"
)

// Files in the folder of the state.
const (
	PhonesFile = "phones"
	ScrapeFile = "scrape-token"
)

// What can be wrong with pairing.
var (
	ErrClosed  = errors.New("only this machine is served: to let phones in, start serve with --listen 0.0.0.0:8973 and --state")
	ErrCode    = errors.New("that is not the code, or it has been used, or its ten minutes are over: run `mashward pair` for another")
	ErrTooMany = errors.New("too many wrong codes: wait a minute")
	ErrNotHere = errors.New("a code is shown on the machine that mashward runs on: run `mashward pair` there")
)

// Options are what pairing needs. The zero value lets nobody in.
type Options struct {
	State string           // folder; "" keeps nothing
	Links func() []string  // addresses of this site as phones reach it now; nil: nobody beyond is served
	Port  string           // that is listened on
	Now   func() time.Time // with its monotonic reading: a code does not last longer because a clock is set
	Log   *slog.Logger     // nil: none
}

// Pairing knows who may come in. All may be called at any time. A nil one knows
// nobody.
type Pairing struct {
	o      Options
	scrape *[sha256.Size]byte // nil: nobody

	mu     sync.Mutex // held while the list is written
	phones list
	code   code
	codes  throttle

	counting sync.Mutex
	tokens   throttle
}

// New reads the phones that are paired. Where that fails nobody is: that is
// logged, and the kettle is served all the same.
func New(o Options) (*Pairing, error) {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	p := &Pairing{o: o}
	if o.State == "" {
		if o.Links != nil {
			return nil, errors.New("phones that are paired are kept in the folder of the state: name one with --state")
		}
		return p, nil
	}
	p.phones.path = filepath.Join(o.State, PhonesFile)
	if err := p.phones.read(); err != nil {
		o.Log.Error("no phone is paired: the list cannot be read, and the next that is paired begins a new one", "error", err)
	}
	if !p.Open() {
		return p, nil
	}
	hash, err := scrapeToken(filepath.Join(o.State, ScrapeFile))
	if err != nil {
		return nil, err
	}
	p.scrape = &hash
	return p, nil
}

// Closed serves this machine alone.
func Closed() *Pairing {
	return &Pairing{o: Options{Log: slog.New(slog.DiscardHandler)}}
}

// Open tells whether anybody beyond this machine is served.
func (p *Pairing) Open() bool { return p != nil && p.o.Links != nil }

// Invitation is what a phone is let in with.
type Invitation struct {
	Code  string
	Links []string // with the code behind #, which no browser sends anywhere
	Valid time.Duration
}

// PairPath is where a phone brings its code.
const PairPath = "/pair"

// Invite makes a code; the one before is void.
func (p *Pairing) Invite() (Invitation, error) {
	if !p.Open() {
		return Invitation{}, ErrClosed
	}
	links := p.o.Links()
	p.mu.Lock()
	defer p.mu.Unlock()
	i := Invitation{Code: p.code.fresh(p.o.Now()), Valid: ValidFor}
	for _, link := range links {
		i.Links = append(i.Links, link+PairPath+"#"+i.Code)
	}
	return i, nil
}

// Pair lets a phone in that brings the code, and gives it its token: now, and
// never again. Whoever has been wrong too often is not looked at.
func (p *Pairing) Pair(from netip.Addr, code, name string) (Phone, string, error) {
	if !p.Open() {
		return Phone{}, "", ErrClosed
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.o.Now()
	if p.codes.wait(from, now) > 0 {
		return Phone{}, "", ErrTooMany
	}
	if len(p.phones.now()) >= MaxPhones {
		return Phone{}, "", ErrFull // the code stays good
	}
	if !p.code.use(code, now) {
		if p.codes.wrong(from, now) {
			p.o.Log.Warn("a wrong code to pair a phone", "from", from)
		}
		return Phone{}, "", ErrCode
	}
	phone, token, err := p.phones.add(name, now)
	if err != nil {
		return Phone{}, "", err
	}
	p.o.Log.Info("a phone is paired", "phone", phone.ID, "name", phone.Name, "from", from)
	return phone, token, nil
}

// Phones are those that are paired, oldest first.
func (p *Pairing) Phones() []Phone {
	out := []Phone{}
	if p == nil {
		return out
	}
	for _, e := range p.phones.now() {
		out = append(out, e.Phone)
	}
	return out
}

// Revoke takes a phone off the list, and ends what it has open.
func (p *Pairing) Revoke(id string) error {
	if p == nil {
		return ErrNoPhone
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	err := p.phones.revoke(id)
	if !errors.Is(err, ErrNoPhone) {
		p.o.Log.Info("a phone is paired no more", "phone", id, "stored", err == nil)
	}
	return err
}
