package browsertest

import (
	"crypto/x509"
	"encoding/pem"
	"errors"
	"os"
	"path/filepath"
	"testing"
)

// At is a service that runs by itself, under the host name and with the
// certificate of [WriteCertificate]. It can not be cut off.
func At(port string) *Site { return &Site{URL: "https://" + Host + ":" + port} }

// WriteCertificate writes a certificate that phones trust, and its key, into a
// folder, as the flags of the service want them.
func WriteCertificate(tb testing.TB, folder string) (certFile, keyFile string) {
	tb.Helper()
	certificate, err := issue()
	if err != nil {
		tb.Fatalf("browsertest: %v", err)
	}
	key, err := x509.MarshalPKCS8PrivateKey(certificate.PrivateKey)
	if err != nil {
		tb.Fatalf("browsertest: %v", err)
	}
	var chain []byte
	for _, der := range certificate.Certificate {
		chain = append(chain, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})...)
	}
	certFile, keyFile = filepath.Join(folder, "cert.pem"), filepath.Join(folder, "key.pem")
	const own = 0o600
	err = errors.Join(os.WriteFile(certFile, chain, own),
		os.WriteFile(keyFile, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: key}), own))
	if err != nil {
		tb.Fatalf("browsertest: %v", err)
	}
	return certFile, keyFile
}
