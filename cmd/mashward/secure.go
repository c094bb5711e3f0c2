package main

import (
	"crypto/tls"
	"fmt"
	"log/slog"
	"os"
	"sync"
	"time"

	"mashward/cmd/internal/config"
)

// scheme begins the address that phones open.
func (s *serve) scheme() string {
	if s.cert != "" {
		return "https://"
	}
	return "http://"
}

// secure is how HTTPS is spoken with phones; nil where there is no certificate.
func (s *serve) secure(log *slog.Logger) (*tls.Config, error) {
	if s.cert == "" {
		return nil, nil
	}
	c := &certificate{cert: s.cert, key: s.key, log: log}
	if err := c.read(); err != nil {
		return nil, &exit{config.ExitIO, fmt.Sprintf("serve: the certificate for HTTPS: %v", err)}
	}
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: c.get}, nil
}

// certificate is read anew when one of its files has changed: it runs out every
// few months, and a brew day is no time to start anew.
type certificate struct {
	cert, key string
	log       *slog.Logger

	mu   sync.Mutex
	pair *tls.Certificate
	seen time.Time // the newer of its files, by its own date
	said bool      // that it cannot be read
}

// newer is the date of the file that was written last.
func (c *certificate) newer() (time.Time, error) {
	var newest time.Time
	for _, path := range []string{c.cert, c.key} {
		about, err := os.Stat(path)
		if err != nil {
			return time.Time{}, err
		}
		if about.ModTime().After(newest) {
			newest = about.ModTime()
		}
	}
	return newest, nil
}

// read reads them if they have changed; what cannot be used leaves the one before.
func (c *certificate) read() error {
	at, err := c.newer()
	if err != nil || c.pair != nil && at.Equal(c.seen) {
		return err
	}
	c.seen = at
	pair, err := tls.LoadX509KeyPair(c.cert, c.key)
	if err != nil {
		return err
	}
	c.pair = &pair
	return nil
}

// get gives the newest that can be used.
func (c *certificate) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.read(); err != nil && !c.said {
		c.log.Error("the certificate for HTTPS cannot be read anew: the one before stays", "error", err)
		c.said = true
	} else if err == nil {
		c.said = false
	}
	return c.pair, nil
}
