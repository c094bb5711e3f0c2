package main

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"log/slog"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// certify writes a certificate of its own with a number, dated so that it is seen.
func certify(t *testing.T, folder string, number int64) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	about := &x509.Certificate{SerialNumber: big.NewInt(number), DNSNames: []string{"kettle.lan"}, NotAfter: time.Now().Add(time.Hour)}
	raw, err := x509.CreateCertificate(rand.Reader, about, about, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(folder, "cert.pem"), filepath.Join(folder, "key.pem")
	for path, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: raw}, key: {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
		at := time.Date(2026, 1, int(number), 0, 0, 0, 0, time.UTC)
		if err := os.Chtimes(path, at, at); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

func TestACertificateIsRenewedWithoutAStart(t *testing.T) {
	folder := t.TempDir()
	cert, key := certify(t, folder, 1)
	var log bytes.Buffer
	config, err := (&serve{cert: cert, key: key}).secure(slog.New(slog.NewTextHandler(&log, nil)))
	if err != nil || config.MinVersion != tls.VersionTLS12 {
		t.Fatal(err)
	}
	number := func() int64 {
		t.Helper()
		c, err := config.GetCertificate(nil)
		if err != nil {
			t.Fatal(err)
		}
		x, err := x509.ParseCertificate(c.Certificate[0])
		if err != nil {
			t.Fatal(err)
		}
		return x.SerialNumber.Int64()
	}
	if got := number(); got != 1 {
		t.Error(got)
	}
	if err := os.WriteFile(cert, []byte("half of it"), 0o600); err != nil {
		t.Fatal(err)
	}
	if a, b := number(), number(); a != 1 || b != 1 || strings.Count(log.String(), "the one before stays") != 1 {
		t.Errorf("%d %d %q", a, b, log.String())
	}
	certify(t, folder, 2)
	if got := number(); got != 2 {
		t.Error(got)
	}
	if err := os.Remove(key); err != nil {
		t.Fatal(err)
	}
	if got := number(); got != 2 {
		t.Error(got)
	}
	if _, err := (&serve{cert: cert, key: key}).secure(nil); err == nil {
		t.Error("it starts without its key")
	}
}
