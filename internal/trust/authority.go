// Package trust lets phones on the local network reach a notebook by HTTPS:
// an authority of the notebook's own, certificates for the machine's local
// addresses, and the page that walks a person through trusting them.
package trust

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// File is where the authority lies in the notebook's folder: its certificate
// and its key in one file, so that the two can never be of different ages.
const File = "https/authority.pem"

// How long certificates last. Phones refuse a server's certificate that lasts
// longer than 398 days; a new authority is a walk through every phone, so it
// lasts ten years.
const (
	leafTime      = 397 * 24 * time.Hour
	authorityTime = 10 * 365 * 24 * time.Hour
	backdated     = time.Hour // for a phone whose clock is a little behind
)

// localNames and localNets are what the authority may vouch for, and nothing
// else: whoever steals its key cannot pose as a bank (RFC 5280 4.2.1.10;
// private addresses of RFC 1918, RFC 4193 and RFC 6598, names of RFC 6762 and RFC 8375).
var (
	localNames = []string{"localhost", "local", "lan", "internal", "home.arpa"}
	localNets  = []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "100.64.0.0/10", "127.0.0.0/8", "fc00::/7", "fe80::/10", "::1/128"}
)

// Authority vouches for this notebook's server, on local addresses only.
type Authority struct {
	cert *x509.Certificate
	key  crypto.Signer
	// Made tells that it was made just now, so no phone trusts it yet.
	Made bool
}

// Open reads the authority of the notebook in dir, and makes it the first
// time and again when it would not outlast a server's certificate.
func Open(dir string, now time.Time) (*Authority, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("the notebook's folder cannot be opened: %w", err)
	}
	defer root.Close() // its files are closed and synced by themselves
	a, err := read(root)
	if errors.Is(err, fs.ErrNotExist) || err == nil && now.Add(leafTime).After(a.cert.NotAfter) {
		return create(root, now)
	}
	return a, err
}

func read(root *os.Root) (*Authority, error) {
	info, err := root.Stat(File)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(root.Name(), filepath.FromSlash(File))
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("%s can be read by others on this machine, and with it anyone could pose as your notebook: delete it and trust the new one on each phone, or run chmod 600 if you know that nobody did", path)
	}
	raw, err := root.ReadFile(File)
	if err != nil {
		return nil, err
	}
	a, err := decode(raw)
	if err != nil {
		return nil, fmt.Errorf("%s cannot be used; move it away to have a new one made, which each phone must trust anew: %w", path, err)
	}
	return a, nil
}

func decode(raw []byte) (*Authority, error) {
	certBlock, rest := pem.Decode(raw)
	keyBlock, _ := pem.Decode(rest)
	if certBlock == nil || keyBlock == nil {
		return nil, errors.New("it holds no certificate with its key")
	}
	cert, err := x509.ParseCertificate(certBlock.Bytes)
	if err != nil {
		return nil, err
	}
	parsed, err := x509.ParsePKCS8PrivateKey(keyBlock.Bytes)
	if err != nil {
		return nil, err
	}
	key, ok := parsed.(*ecdsa.PrivateKey)
	if !ok || !key.PublicKey.Equal(cert.PublicKey) {
		return nil, errors.New("the key is not the certificate's")
	}
	return &Authority{cert: cert, key: key}, nil
}

// create makes an authority and keeps it, whole or not at all.
func create(root *os.Root, now time.Time) (*Authority, error) {
	a, keyDER, err := newAuthority(now)
	if err != nil {
		return nil, fmt.Errorf("trust: making an authority: %w", err)
	}
	raw := append(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: a.cert.Raw}),
		pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: keyDER})...)
	if err := root.MkdirAll(path.Dir(File), 0o700); err != nil {
		return nil, fmt.Errorf("the certificate's folder cannot be made: %w", err)
	}
	if err := root.WriteFile(File+".new", raw, 0o600); err != nil {
		return nil, fmt.Errorf("the certificate cannot be kept: %w", err)
	}
	if err := root.Rename(File+".new", File); err != nil {
		return nil, fmt.Errorf("the certificate cannot be kept: %w", err)
	}
	return a, nil
}

func newAuthority(now time.Time) (*Authority, []byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, nil, err
	}
	serial, err := newSerial()
	if err != nil {
		return nil, nil, err
	}
	host, _ := os.Hostname() // only a help to tell two notebooks apart
	template := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: strings.TrimSpace("Tautline notebook " + host), Organization: []string{"Tautline"}},
		NotBefore: now.Add(-backdated), NotAfter: now.Add(authorityTime),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign,
		ExtKeyUsage:                 []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: localNames, PermittedIPRanges: parsedNets(),
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return nil, nil, err
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, nil, err
	}
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	return &Authority{cert: cert, key: key, Made: true}, keyDER, err
}

func newSerial() (*big.Int, error) {
	return rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
}

func parsedNets() []*net.IPNet {
	nets := make([]*net.IPNet, len(localNets))
	for i, text := range localNets {
		_, block, err := net.ParseCIDR(text)
		if err != nil {
			panic(err) // a constant above is written wrong
		}
		nets[i] = block
	}
	return nets
}

// DER is the certificate that phones install.
func (a *Authority) DER() []byte { return a.cert.Raw }

// Fingerprint is the SHA-256 of DER as people compare it: 32 pairs of
// hexadecimal digits, in groups.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	pairs := make([]string, len(sum))
	for i, b := range sum {
		pairs[i] = fmt.Sprintf("%02X", b)
	}
	return strings.Join(pairs, " ")
}
