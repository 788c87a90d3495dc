package trust

import (
	"errors"
	"net"
)

// LocalAddress is the address under which other devices of the local network
// reach this machine: that of the way to the outside, if it is local, else the
// first local one.
func LocalAddress() (string, error) {
	// A UDP "connection" sends nothing; it only asks which way would be taken.
	if c, err := net.Dial("udp", "192.0.2.1:9"); err == nil {
		ip := c.LocalAddr().(*net.UDPAddr).IP
		if err := c.Close(); err == nil && ip.IsPrivate() {
			return ip.String(), nil
		}
	}
	all, err := net.InterfaceAddrs()
	if err != nil {
		return "", err
	}
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok && n.IP.IsPrivate() {
			return n.IP.String(), nil
		}
	}
	return "", errors.New("this machine is in no local network: connect it to the network of your phone, or to the phone's own hotspot, and start again")
}
