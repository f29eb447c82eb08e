package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// certificate writes a certificate that vouches for itself, and its key.
func certificate(t *testing.T, until time.Time, names ...string) (files tlsPair, trust *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	c := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "a laptop"}, NotBefore: until.Add(-48 * time.Hour), NotAfter: until,
		DNSNames: names, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
	}
	der, err := x509.CreateCertificate(rand.Reader, c, c, key.Public(), key)
	require.NoError(t, err)
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	require.NoError(t, err)
	dir := t.TempDir()
	files = tlsPair{filepath.Join(dir, "desk.crt"), filepath.Join(dir, "desk.key")}
	require.NoError(t, os.WriteFile(files.cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
	require.NoError(t, os.WriteFile(files.key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: keyDER}), 0o600))
	parsed, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	trust = x509.NewCertPool()
	trust.AddCert(parsed)
	return files, trust
}

var cameInSecurely = regexp.MustCompile(`phones come in at https://desk\.example:[0-9]+ or (https://127\.0\.0\.1:[0-9]+), with a code from the page (http://127\.0\.0\.1:[0-9]+)/phones`)

// With a certificate, a phone is paired over TLS and plain HTTP finds nothing there; the cookie never leaves TLS, old
// versions of it are refused, and nothing makes a browser refuse plain HTTP on another day. Source for the versions:
// RFC 9325, 3.1.1 (TLS 1.2 at least); else our own logic.
func TestDesk_WithACertificate_PhonesComeInOverTLS(t *testing.T) {
	files, trust := certificate(t, time.Now().Add(24*time.Hour), "desk.example")
	var out, errs said
	ctx, cancel := context.WithCancel(t.Context())
	a := &app{out: &out, errs: &errs, now: time.Now}
	code := make(chan int, 1)
	race := raceCopy(t)
	go func() {
		code <- a.run(ctx, []string{"desk", race, "--open-none", "--network=127.0.0.1:0", "--tls-cert", files.cert, "--tls-key", files.key})
	}()
	t.Cleanup(func() { cancel(); assert.Equal(t, int(exitDone), <-code, errs.String()) })
	require.Eventually(t, func() bool { return cameInSecurely.MatchString(out.String()) }, 20*time.Second, 20*time.Millisecond, "%s%s", &out, &errs)
	at := cameInSecurely.FindStringSubmatch(out.String())

	laptop := newCaller(t, at[2])
	laptop.form("/who", url.Values{"name": {"Lou"}, "to": {"/"}})
	_, page := laptop.form("/phones", url.Values{"do": {"code"}, "role": {"settle"}})
	pairing := regexp.MustCompile(`class="bigcode">([0-9A-Z-]+)<`).FindStringSubmatch(page)
	require.NotNil(t, pairing, page)
	assert.Contains(t, page, "https://desk.example:", "the page names the address of the certificate")
	assert.NotContains(t, page, "http://desk.example")

	phone := newCaller(t, at[1])
	phone.http.Transport = &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trust}}
	phone.http.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	pair := func(origin string) *http.Response {
		form := url.Values{"code": {pairing[1]}, "name": {"Ida"}}
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, at[1]+"/pair", strings.NewReader(form.Encode()))
		require.NoError(t, err)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", origin)
		res, err := phone.http.Do(r)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res
	}
	home, err := url.Parse(at[1])
	require.NoError(t, err)
	plain := *home
	plain.Scheme = "http"
	refused := pair(plain.String()) //nolint:bodyclose // pair has closed it
	assert.Equal(t, http.StatusForbidden, refused.StatusCode, "a form of a plain page, which somebody in between could have made")
	paired := pair(home.String()) //nolint:bodyclose // pair has closed it
	require.Equal(t, http.StatusSeeOther, paired.StatusCode)
	require.Len(t, paired.Cookies(), 1)
	assert.True(t, paired.Cookies()[0].Secure, "it would also be sent over plain HTTP")
	assert.True(t, paired.Cookies()[0].HttpOnly)
	assert.Equal(t, http.SameSiteStrictMode, paired.Cookies()[0].SameSite)
	status, body := phone.do(http.MethodGet, "/", "", nil)
	require.Equal(t, http.StatusOK, status, body)

	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, at[1]+"/", http.NoBody)
	require.NoError(t, err)
	res, err := phone.http.Do(r)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	assert.GreaterOrEqual(t, res.TLS.Version, uint16(tls.VersionTLS12))
	assert.Empty(t, res.Header.Get("Strict-Transport-Security"), "the next race may be without a certificate")

	old := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: trust, MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11}}} //nolint:gosec // that is what is tried
	_, err = old.Do(r)                                                                                                                                        //nolint:bodyclose // there is none
	require.ErrorContains(t, err, "protocol version")
	r.URL = &plain
	res, err = http.DefaultClient.Do(r)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	assert.Equal(t, http.StatusBadRequest, res.StatusCode, "plain HTTP finds nothing")
}

// What is wrong with a certificate is said before the desk opens, with the file and what to do. Our own logic.
func TestDesk_BadCertificate_IsRefused(t *testing.T) {
	now := time.Now()
	good, _ := certificate(t, now.Add(24*time.Hour), "desk.example")
	other, _ := certificate(t, now.Add(24*time.Hour), "desk.example")
	past, _ := certificate(t, now.Add(-24*time.Hour), "desk.example")
	future, _ := certificate(t, now.Add(30*24*time.Hour), "desk.example")
	text := filepath.Join(t.TempDir(), "notes.txt")
	require.NoError(t, os.WriteFile(text, []byte("no certificate"), 0o600))
	for name, c := range map[string]struct {
		files   tlsPair
		network string
		want    string
		code    exitCode
	}{
		"key of another":  {tlsPair{good.cert, other.key}, "127.0.0.1:0", good.cert + " with private key " + other.key + ": private key does not match public key; name PEM files that belong together", exitFailed},
		"no PEM":          {tlsPair{text, good.key}, "127.0.0.1:0", "certificate " + text, exitFailed},
		"not there":       {tlsPair{"nowhere.crt", good.key}, "127.0.0.1:0", "certificate nowhere.crt: there is no such file", exitFailed},
		"ran out":         {past, "127.0.0.1:0", "certificate " + past.cert + ": it ran out on " + now.Add(-24*time.Hour).UTC().Format(time.DateOnly), exitFailed},
		"not yet":         {future, "127.0.0.1:0", "set this laptop's clock", exitFailed},
		"half":            {tlsPair{cert: good.cert}, "127.0.0.1:0", "--tls-cert and --tls-key go together", exitUsage},
		"without network": {good, "", "add --network", exitUsage},
	} {
		t.Run(name, func(t *testing.T) {
			var out, errs said
			a := &app{out: &out, errs: &errs, now: func() time.Time { return now }}
			args := []string{"desk", raceCopy(t), "--open-none", "--tls-cert", c.files.cert, "--tls-key", c.files.key}
			if c.network != "" {
				args = append(args, "--network="+c.network)
			}
			assert.Equal(t, int(c.code), a.run(t.Context(), args))
			assert.Contains(t, errs.String(), c.want)
			assert.NotContains(t, out.String(), "open at")
		})
	}
}

// The address that phones are led to is one that the certificate vouches for, where there is one. Our own logic.
func TestDesk_SecureAddresses_AreThoseOfTheCertificate(t *testing.T) {
	files, _ := certificate(t, time.Now().Add(time.Hour), "desk.example", "*.desk.example")
	cert, err := files.load(":8470", time.Now())
	require.NoError(t, err)
	plain := []string{"http://192.0.2.7:8470", "http://127.0.0.1:8470"}
	assert.Equal(t, []string{"https://desk.example:8470", "https://127.0.0.1:8470"}, secureAddresses(cert, plain, 8470))
	cert.Leaf.DNSNames, cert.Leaf.IPAddresses = nil, nil
	assert.Equal(t, []string{"https://192.0.2.7:8470", "https://127.0.0.1:8470"}, secureAddresses(cert, plain, 8470))
}
