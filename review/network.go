package review

import (
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
)

// Network is how phones reach the desk: over the local network, in plain HTTP unless it is Secure. No function
// may be nil.
//
//	laptop --/phones--> a code, on its screen ~~ scanned or typed ~~> phone --/pair--> a session with roles
//	   |                                                                |
//	   '--revoke--> the session ends                                    '--> the pages its roles may use
type Network struct {
	// Addresses are where the phones' pages are now, as in http://192.0.2.7:8470, the likeliest first.
	// Networks come and go while a desk is open.
	Addresses func() []string
	// Names are host names under which the laptop is reached beside its addresses.
	Names []string
	// Told is given what somebody at the laptop should know, in words without secrets: who was paired,
	// who guessed.
	Told func(words string)
	// Secure says that PhoneHandler is served over TLS, under https addresses.
	Secure bool
}

// scheme is that of the phones' addresses.
func (n *Network) scheme() string {
	if n.Secure {
		return "https"
	}
	return "http"
}

// stable returns the addresses by name: they stay the same when the laptop gets another number, on phones that find
// such names.
func (n *Network) stable() []string {
	var all []string
	for _, a := range n.Addresses() {
		u, err := url.Parse(a)
		if err != nil {
			continue
		}
		for _, name := range n.Names {
			if !strings.HasSuffix(name, ".local") { // the name alone is known to few phones
				continue
			}
			if to := n.scheme() + "://" + net.JoinHostPort(name, u.Port()); !slices.Contains(all, to) {
				all = append(all, to)
			}
		}
	}
	return all
}

// PhoneHandler returns the pages for phones, to be served on the network. There must be a Network.
func (d *Desk) PhoneHandler() http.Handler {
	return d.through(door{cookie: phoneCookie, start: "/pair", names: d.opt.Network.Names, phones: true, scheme: d.opt.Network.scheme()})
}

// PhoneHTTP returns a server for PhoneHandler. It leaves a photo more time than a form: hotspots are slow.
func PhoneHTTP(h http.Handler) *http.Server {
	s := HTTP(h)
	s.ReadTimeout = 5 * time.Minute
	return s
}

// ownForms refuses what acts unless the browser says that a page of ours sent it. Over plain HTTP browsers
// leave out Sec-Fetch-Site, and a request without an origin would pass.
func (d *Desk) ownForms(next http.Handler, scheme string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.Method {
		case http.MethodGet, http.MethodHead:
		default:
			from, err := url.Parse(r.Header.Get("Origin"))
			if err != nil || from.Scheme != scheme || from.Host == "" || from.Host != r.Host {
				d.foreignForm(w, r)
				return
			}
		}
		next.ServeHTTP(w, r)
	})
}

// nearby reports whether a request comes from this laptop or the local network: nobody further away has
// business here, even where a laptop stands in the open internet.
func nearby(r *http.Request) bool {
	ip := net.ParseIP(addressOf(r))
	return ip != nil && (ip.IsLoopback() || ip.IsPrivate() || ip.IsLinkLocalUnicast())
}

// home is the page that a phone begins with.
func (r role) home() string {
	switch {
	case r.Photos():
		return "/photos"
	case r.Look():
		return "/"
	case r.Hear():
		return "/readback"
	default:
		return "/who"
	}
}

// addressOf is who asks, as far as the network says it.
func addressOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	host, _, _ = strings.Cut(host, "%") // the interface of a link-local address
	return host
}
