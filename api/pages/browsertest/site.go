package browsertest

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"log/slog"
	"math/big"
	"net"
	"net/http"
	"sync"
	"testing"
	"time"

	"delaybook/api"
	"delaybook/domain/service"

	"github.com/google/uuid"
)

// A Site is a service that phones can reach.
type Site struct {
	URL    string // https://book.test:PORT
	Use    *service.Service
	Clips  *service.Clips
	server *http.Server
	line   *line
}

// A Store keeps a book and its recordings.
type Store interface {
	service.Store
	service.ClipStore
}

// Recordings say where the files of recordings are and what measures them.
type Recordings struct {
	Files   service.ClipFiles
	Uploads string // folder for what comes in bit by bit
	Analyst service.Analyst
	Viewer  service.Viewer // nil: nobody steps through them
}

// Serve runs the service on a book, over TLS, until the test ends.
func Serve(tb testing.TB, store Store, now func() time.Time, recordings Recordings) *Site {
	tb.Helper()
	site, listener := newSite(tb, store, now, "https://"+Host, recordings)
	certificate, err := issue()
	if err != nil {
		tb.Fatalf("browsertest: %v", err)
	}
	site.server.TLSConfig = &tls.Config{Certificates: []tls.Certificate{certificate}, MinVersion: tls.VersionTLS12}
	go func() { _ = site.server.ServeTLS(listener, "", "") }() // it ends with Close
	return site
}

// ServePlain is Serve without TLS, at a number, as the demo runs on one's own machine.
func ServePlain(tb testing.TB, store Store, now func() time.Time, recordings Recordings) *Site {
	tb.Helper()
	site, listener := newSite(tb, store, now, "http://127.0.0.1", recordings)
	go func() { _ = site.server.Serve(listener) }() // it ends with Close
	return site
}

func newSite(tb testing.TB, store Store, now func() time.Time, base string, recordings Recordings) (*Site, net.Listener) {
	tb.Helper()
	log := slog.New(slog.NewTextHandler(tb.Output(), &slog.HandlerOptions{Level: slog.LevelWarn}))
	use, err := service.Open(tb.Context(), service.Options{
		Store: store, Now: now, NewID: func() uuid.UUID { return uuid.Must(uuid.NewV7()) }, Secret: secret, Log: log,
	})
	if err != nil {
		tb.Fatalf("browsertest: %v", err)
	}
	listener, err := (&net.ListenConfig{}).Listen(tb.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatalf("browsertest: %v", err)
	}
	_, port, _ := net.SplitHostPort(listener.Addr().String())
	clips := service.NewClips(use, service.ClipOptions{Store: store, Files: recordings.Files, Analyst: recordings.Analyst, Viewer: recordings.Viewer})
	site := &Site{URL: base + ":" + port, Use: use, Clips: clips, line: &line{Listener: listener, open: map[net.Conn]bool{}}}
	handler, err := api.New(use, api.Options{Log: log, PublicURL: site.URL, Now: now, Clips: clips, Uploads: recordings.Uploads})
	if err != nil {
		tb.Fatalf("browsertest: %v", err)
	}
	site.server = &http.Server{
		Handler: handler, ReadHeaderTimeout: time.Minute, ErrorLog: slog.NewLogLogger(slog.DiscardHandler, slog.LevelDebug),
	}
	tb.Cleanup(func() { _ = site.server.Close() })
	if recordings.Analyst != nil {
		work(tb, clips)
	}
	return site, site.line
}

// work analyses recordings until the test ends.
func work(tb testing.TB, clips *service.Clips) {
	ctx, stop := context.WithCancel(context.WithoutCancel(tb.Context()))
	done := make(chan error, 1)
	go func() { done <- clips.Work(ctx) }()
	tb.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			tb.Errorf("browsertest: analyse recordings: %v", err)
		}
	})
}

func secret() (s [32]byte) {
	_, _ = rand.Read(s[:]) // never fails, by its documentation
	return s
}

type certificateAuthority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

// authority is the one of the test binary: its key lives as long as that.
var authority = sync.OnceValues(func() (*certificateAuthority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "test authority"}, IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageCertSign, NotBefore: validFrom, NotAfter: validTo,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return nil, err
	}
	cert, err := x509.ParseCertificate(der)
	return &certificateAuthority{cert, key}, err
})

var (
	validFrom = time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)
	validTo   = time.Date(2120, 1, 1, 0, 0, 0, 0, time.UTC)
)

// issue returns a certificate for Host, with that of the authority behind it.
func issue() (tls.Certificate, error) {
	ca, err := authority()
	if err != nil {
		return tls.Certificate{}, err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return tls.Certificate{}, err
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(2), DNSNames: []string{Host}, KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, NotBefore: validFrom, NotAfter: validTo,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, ca.cert, key.Public(), ca.key)
	return tls.Certificate{Certificate: [][]byte{der, ca.cert.Raw}, PrivateKey: key}, err
}
