package main

import (
	"crypto/tls"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
)

// tlsPair names the files of a certificate, both or neither.
type tlsPair struct{ cert, key string }

// load reads the certificate; nil if none was named. It is refused before anything is opened: phones would
// be turned away by a certificate that has run out, and nobody at the laptop would see why.
func (p tlsPair) load(network string, now time.Time) (*tls.Certificate, error) {
	switch {
	case p.cert == "" && p.key == "":
		return nil, nil
	case p.cert == "" || p.key == "":
		return nil, usageErrorf("--tls-cert and --tls-key go together: a certificate is of no use without its private key; name both")
	case network == "":
		return nil, usageErrorf("--tls-cert is for phones; add --network (the page on this laptop needs no certificate)")
	}
	cert, err := readInput("certificate", p.cert)
	if err != nil {
		return nil, err
	}
	key, err := readInput("private key", p.key)
	if err != nil {
		return nil, err
	}
	pair, err := tls.X509KeyPair(cert, key)
	if err != nil {
		return nil, fmt.Errorf("certificate %s with private key %s: %s; name PEM files that belong together, or leave both out for plain HTTP",
			p.cert, p.key, strings.TrimPrefix(err.Error(), "tls: "))
	}
	if day := pair.Leaf.NotAfter; now.After(day) {
		return nil, fmt.Errorf("certificate %s: it ran out on %s; get a new one, or leave --tls-cert out for plain HTTP", p.cert, day.Format(time.DateOnly))
	}
	if day := pair.Leaf.NotBefore; now.Before(day) {
		return nil, fmt.Errorf("certificate %s: it counts from %s only; set this laptop's clock, or leave --tls-cert out for plain HTTP", p.cert, day.Format(time.DateOnly))
	}
	return &pair, nil
}

// namesOf are the host names in a certificate under which the laptop may be reached.
func namesOf(cert *tls.Certificate) []string {
	return slices.DeleteFunc(slices.Clone(cert.Leaf.DNSNames), func(name string) bool { return strings.Contains(name, "*") })
}

// secureAddresses are the web addresses that a certificate vouches for: its names, then those of the laptop's
// numbers that stand in it. Where none does, the numbers are given as they are: browsers will warn.
func secureAddresses(cert *tls.Certificate, plain []string, port int) []string {
	var good, rest []string
	for _, name := range namesOf(cert) {
		good = append(good, "https://"+net.JoinHostPort(name, fmt.Sprint(port)))
	}
	for _, address := range plain {
		u, err := url.Parse(address)
		if err != nil {
			continue // they are made a few lines above this
		}
		u.Scheme = "https"
		if cert.Leaf.VerifyHostname(u.Hostname()) == nil {
			good = append(good, u.String())
		} else {
			rest = append(rest, u.String())
		}
	}
	if len(good) > 0 {
		return good
	}
	return rest
}

// servedToPhones is the phones' server where it listens, behind TLS if there is a certificate.
func servedToPhones(server *http.Server, on net.Listener, cert *tls.Certificate) served {
	if cert == nil {
		return served{server, on}
	}
	// Phones that don't know the certificate break off, again and again: that is said on their screens.
	server.ErrorLog = log.New(io.Discard, "", 0)
	// HTTP/1.1 as without TLS: what was tested is what is served.
	return served{server, tls.NewListener(on, &tls.Config{Certificates: []tls.Certificate{*cert}, MinVersion: tls.VersionTLS12, NextProtos: []string{"http/1.1"}})}
}
