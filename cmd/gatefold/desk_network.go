package main

import (
	"cmp"
	"context"
	"crypto/tls"
	"fmt"
	"net"
	"os"
	"slices"
	"strings"

	"gatefold/review"
)

// phonesAddress is where phones come in unless another address is named. The port is always the same, so
// that a phone finds the desk again after it was closed and opened.
const phonesAddress = ":8470"

// listenForPhones listens on the network; nil if nobody asked for it.
func (a *app) listenForPhones(ctx context.Context, network string) (net.Listener, error) {
	if network == "" {
		return nil, nil
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", network)
	if err != nil {
		return nil, fmt.Errorf("address %s: %w; choose another with --network=ADDRESS:PORT", network, err)
	}
	return l, nil
}

// networkOf says where a listener is reached; over TLS if there is a certificate.
func (a *app) networkOf(l net.Listener, cert *tls.Certificate) *review.Network {
	at, _ := l.Addr().(*net.TCPAddr)
	n := &review.Network{
		Addresses: func() []string { return addressesOf(at, interfaceAddresses()) },
		Told:      func(words string) { a.printf("%s %s\n", a.now().Format("15:04"), words) },
	}
	if host, err := os.Hostname(); err == nil && host != "" {
		host, _, _ = strings.Cut(strings.ToLower(host), ".")
		n.Names = []string{host, host + ".local"} // as names are told in a network without a server for them
	}
	if cert != nil {
		n.Secure = true
		n.Names = append(n.Names, namesOf(cert)...)
		n.Addresses = func() []string { return secureAddresses(cert, addressesOf(at, interfaceAddresses()), at.Port) }
	}
	return n
}

// addressesOf are the web addresses under which others in the local network reach a listener: those of the
// laptop's own networks, the likeliest first. Addresses that hold for one cable only are left out.
func addressesOf(at *net.TCPAddr, own []net.IP) []string {
	if !at.IP.IsUnspecified() {
		own = []net.IP{at.IP}
	} else {
		own = slices.DeleteFunc(slices.Clone(own), func(ip net.IP) bool { return ip.IsLoopback() || !ip.IsGlobalUnicast() })
	}
	rank := func(ip net.IP) int {
		switch {
		case ip.To4() != nil && ip.IsPrivate(): // which hotspots give
			return 0
		case ip.To4() != nil:
			return 1
		}
		return 2
	}
	slices.SortStableFunc(own, func(a, b net.IP) int { return cmp.Compare(rank(a), rank(b)) })
	var all []string
	for _, ip := range own {
		all = append(all, "http://"+net.JoinHostPort(ip.String(), fmt.Sprint(at.Port)))
	}
	return all
}

// interfaceAddresses are the addresses of this laptop as they are now.
func interfaceAddresses() []net.IP {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil // the page says that there is no network
	}
	var ips []net.IP
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok {
			ips = append(ips, n.IP)
		}
	}
	return ips
}
