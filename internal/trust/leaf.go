package trust

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"fmt"
	"net"
	"slices"
	"strings"
	"sync"
	"time"
)

// Leaf is the server's own certificate. It lives in memory: every start makes
// a new one for the addresses of that day, and a server that runs on renews
// it when two thirds of its life are over.
type Leaf struct {
	authority *Authority
	names     []string
	now       func() time.Time

	mu      sync.Mutex
	current *tls.Certificate
}

// Leaf makes a certificate for names and addresses, all of which must be
// local.
func (a *Authority) Leaf(names []string, now func() time.Time) (*Leaf, error) {
	for _, name := range names {
		if !IsLocal(name) {
			return nil, fmt.Errorf("%s is no local name or address, and Tautline's own certificate is for those only: give --cert and --key for it", name)
		}
	}
	l := &Leaf{authority: a, names: names, now: now}
	_, err := l.certificate()
	return l, err
}

// IsLocal reports whether the authority may vouch for a name or address.
func IsLocal(name string) bool {
	if ip := net.ParseIP(name); ip != nil {
		return slices.ContainsFunc(parsedNets(), func(n *net.IPNet) bool { return n.Contains(ip) })
	}
	name = strings.ToLower(name)
	return slices.ContainsFunc(localNames, func(d string) bool { return name == d || strings.HasSuffix(name, "."+d) })
}

// Config serves with the certificate.
func (l *Leaf) Config() *tls.Config {
	c := Strong()
	c.GetCertificate = func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return l.certificate() }
	return c
}

// Strong is how every certificate is served: TLS 1.2 or 1.3, keys agreed on
// anew for each connection, and ciphers that also guard against change (AEAD);
// of TLS 1.3 the library takes no others.
func Strong() *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"},
		CipherSuites: []uint16{
			tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256, tls.TLS_ECDHE_ECDSA_WITH_AES_256_GCM_SHA384, tls.TLS_ECDHE_ECDSA_WITH_CHACHA20_POLY1305_SHA256,
			tls.TLS_ECDHE_RSA_WITH_AES_128_GCM_SHA256, tls.TLS_ECDHE_RSA_WITH_AES_256_GCM_SHA384, tls.TLS_ECDHE_RSA_WITH_CHACHA20_POLY1305_SHA256,
		},
	}
}

// certificate is the present one, renewed in time.
func (l *Leaf) certificate() (*tls.Certificate, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	if l.current != nil && now.Before(l.current.Leaf.NotBefore.Add(leafTime*2/3)) {
		return l.current, nil
	}
	made, err := l.make(now)
	if err != nil {
		return nil, fmt.Errorf("trust: making a certificate: %w", err)
	}
	l.current = made
	return made, nil
}

func (l *Leaf) make(now time.Time) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := newSerial()
	if err != nil {
		return nil, err
	}
	from := now.Add(-backdated)
	template := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: l.names[0]},
		NotBefore: from, NotAfter: from.Add(leafTime),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	for _, name := range l.names {
		if ip := net.ParseIP(name); ip != nil {
			template.IPAddresses = append(template.IPAddresses, ip)
		} else {
			template.DNSNames = append(template.DNSNames, name)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, template, l.authority.cert, key.Public(), l.authority.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: leaf}, err
}
