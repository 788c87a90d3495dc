package cli

import (
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"

	"rsc.io/qr"

	"tautline/internal/server"
	"tautline/internal/trust"
)

// lanPort is where phones find the notebook; the page that walks them through
// trusting it is at the next one.
const lanPort = 8443

// lan is the door to the local network: the notebook by HTTPS, and in the
// clear the page about its certificate.
type lan struct {
	authority     *trust.Authority
	page          http.Handler
	secure, plain net.Listener
	names         []string
}

// openLAN makes or reads the notebook's authority and listens on the machine's
// local address.
func (c serveCmd) openLAN(dir string) (*lan, error) {
	ip, port, err := c.lanAddress()
	if err != nil {
		return nil, err
	}
	l := &lan{names: append([]string{ip}, c.Host...)}
	if l.authority, err = trust.Open(dir, time.Now()); err != nil {
		return nil, err
	}
	leaf, err := l.authority.Leaf(l.names, time.Now)
	if err != nil {
		return nil, usageError{err}
	}
	secure, err := listenLAN(ip, port)
	if err != nil {
		return nil, err
	}
	l.secure = tls.NewListener(secure, leaf.Config())
	next := 0
	if port != 0 {
		next = port + 1
	}
	if l.plain, err = listenLAN(ip, next); err != nil {
		return nil, errors.Join(err, secure.Close())
	}
	if l.page, err = l.authority.Page(l.address()); err != nil {
		return nil, errors.Join(err, l.close())
	}
	return l, nil
}

// lanAddress is the address asked for, or the machine's own in its network.
func (c serveCmd) lanAddress() (ip string, port int, err error) {
	if c.LanAt == "" {
		ip, err = trust.LocalAddress()
		return ip, lanPort, err
	}
	ip, port = c.LanAt, lanPort
	if host, text, err := net.SplitHostPort(c.LanAt); err == nil {
		if port, err = strconv.Atoi(text); err != nil || port < 0 || port > 65534 {
			return "", 0, usageError{fmt.Errorf("--lan-at %s: the port is a number up to 65534", c.LanAt)}
		}
		ip = host
	}
	if net.ParseIP(ip) == nil || !trust.IsLocal(ip) {
		return "", 0, usageError{fmt.Errorf("--lan-at %s: give one of this machine's addresses in the local network, like 192.168.1.20 or 192.168.1.20:8443", c.LanAt)}
	}
	return ip, port, nil
}

func listenLAN(ip string, port int) (net.Listener, error) {
	l, err := net.Listen("tcp", net.JoinHostPort(ip, strconv.Itoa(port)))
	if err != nil {
		return nil, fmt.Errorf("cannot open the notebook to the local network at %s, port %d; try another with --lan-at: %w", ip, port, err)
	}
	return l, nil
}

// address is where phones find the notebook, under the first name it was
// given, since a name outlives the address that a router hands out.
func (l *lan) address() string {
	_, port, _ := net.SplitHostPort(l.secure.Addr().String()) // its own address
	return "https://" + net.JoinHostPort(l.names[min(1, len(l.names)-1)], port) + "/"
}

// trustAddress is the page about the certificate, in the clear.
func (l *lan) trustAddress() string { return "http://" + l.plain.Addr().String() + trust.PagePath }

// close closes what was opened; nil had nothing to close.
func (l *lan) close() error {
	if l == nil {
		return nil
	}
	return errors.Join(l.secure.Close(), l.plain.Close())
}

// tell prints where phones find the notebook.
func (l *lan) tell(t *terminal) {
	t.warnf("")
	t.warnf("Phones in this network: first, once, trust it at %s", l.trustAddress())
	if t.watched {
		t.draw(drawn(l.trustAddress()))
	}
	t.warnf("then open %s", l.address())
	t.warnf("SHA-256 of its certificate, to compare with what the phone shows:")
	sum := l.authority.Fingerprint()
	t.warnf("  %s\n  %s", sum[:47], sum[48:])
	if l.authority.Made {
		t.warnf("The certificate was made just now; no device knows it yet.")
	}
	t.warnf("")
}

// serveAll serves both doors beside the machine's own, which is open already,
// until that one's context ends or one of them fails.
func (l *lan) serveAll(own *door, h http.Handler, log *slog.Logger) error {
	own.gate.Open(h)
	if l == nil {
		return <-own.ended
	}
	ended := make(chan error, 3)
	serve := func(at net.Listener, h http.Handler) { ended <- server.Run(own.ctx, at, h, log) }
	go func() { ended <- <-own.ended }()
	go serve(l.secure, h)
	go serve(l.plain, trust.Door(l.page))
	first := <-ended
	own.stop() // one door alone is not what was promised
	return errors.Join(first, <-ended, <-ended)
}

// drawn is a QR code for a terminal, two modules a character, with the quiet
// margin of four modules that readers need (ISO/IEC 18004) and its own colours,
// so that it reads on a dark ground too.
func drawn(text string) string {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return ""
	}
	const quiet = 4
	var b strings.Builder
	for y := -quiet; y < code.Size+quiet; y += 2 {
		b.WriteString("\x1b[30;107m")
		for x := -quiet; x < code.Size+quiet; x++ {
			switch upper, lower := code.Black(x, y), code.Black(x, y+1); {
			case upper && lower:
				b.WriteString("█")
			case upper:
				b.WriteString("▀")
			case lower:
				b.WriteString("▄")
			default:
				b.WriteString(" ")
			}
		}
		b.WriteString("\x1b[0m\n")
	}
	return b.String()
}
