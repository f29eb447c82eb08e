package review_test

import (
	"crypto/rand"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/sheetmodel"
)

// Source of the addresses: WHATWG URL Standard, basic URL parser (tabs and line ends are taken out, a
// backslash is a slash).
func TestWho_WayBack_IsAPathOfOurs(t *testing.T) {
	server := open(t, afternoon(t))
	for to, want := range map[string]string{
		"/draft": "/draft", "/entry/run1/Blue/card-1/front/row-02.bib": "/entry/run1/Blue/card-1/front/row-02.bib", "/questions#one": "/questions#one", "/card/run1/Far%20side/card-1": "/card/run1/Far%20side/card-1",
		"": "/", "draft": "/", "/who": "/", "//evil.example": "/", `/\evil.example`: "/", "/\t/evil.example": "/", "/%09/evil.example": "/", "/\n/evil.example": "/",
		"https://evil.example/": "/", "https:evil.example": "/", "/%5Cevil.example": "/", "///evil.example": "/", "/%2Fevil.example": "/", "javascript:alert(1)": "/", "/\u0000": "/", "/%zz": "/",
	} {
		client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		p := &person{t: t, base: server.URL, http: client}
		a := p.send("/who", url.Values{"name": {"Ada"}, "to": {to}})
		assert.Equal(t, http.StatusSeeOther, a.status, "%q", to)
		assert.Equal(t, want, a.header.Get("Location"), "%q", to)
		assert.Contains(t, p.get("/who?to="+url.QueryEscape(to)).body, `name="to" value="`+want+`"`, "%q", to)
	}
}

func TestDesk_WhatIsNoForm_IsTheSendersFault(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	for _, path := range []string{"/draft?x=;;", "/?%zz", "/next?a=%", "/questions?;"} {
		a := p.get(path)
		assert.Equal(t, http.StatusBadRequest, a.status, path)
		assert.Contains(t, a.body, "open the page again by its link", path)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.base+"/questions", strings.NewReader("question=%zz&;"))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	assert.Equal(t, http.StatusBadRequest, p.do(r).status)
}

// A page of another site can give its own name to this laptop's address.
func TestDesk_OnlyItsOwnNames_AreAnswered(t *testing.T) {
	b := afternoon(t)
	d, err := review.New(t.Context(), review.Options{
		Race: func() (*sheetmodel.Race, error) { return b.Race, nil }, Store: b.Store, Layout: b.LayoutByHash,
		Now: func() time.Time { return at }, Random: rand.Reader, Host: "hut-laptop.local",
	})
	require.NoError(t, err)
	server := httptest.NewServer(d.Handler())
	t.Cleanup(server.Close)
	p := sit(t, server, "Cleo")
	for host, want := range map[string]int{
		"127.0.0.1:80": http.StatusOK, "localhost": http.StatusOK, "LOCALHOST:99": http.StatusOK, "[::1]:80": http.StatusOK, "[::1]": http.StatusOK, "hut-laptop.local:80": http.StatusOK,
		"evil.example": http.StatusForbidden, "evil.example:80": http.StatusForbidden, "127.0.0.1.evil.example": http.StatusForbidden, "localhost.evil.example": http.StatusForbidden,
		"192.0.2.7:80": http.StatusForbidden, "hut-laptop.local.evil.example": http.StatusForbidden, "169.254.1.1": http.StatusForbidden,
	} {
		for _, path := range []string{"/draft", "/static/page.css"} {
			r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL+path, nil)
			require.NoError(t, err)
			r.Host = host
			assert.Equal(t, want, p.do(r).status, "%s %s", host, path)
		}
	}
}

// Every form that acts is refused when another site, or another program on this laptop, sends it
// through a person's browser. Source: Fetch Metadata Request Headers, W3C.
func TestDesk_FormsOfOthers_AreRefused(t *testing.T) {
	b := afternoon(t)
	server := open(t, b)
	p := sit(t, server, "Cleo")
	head, err := b.Store.Head(t.Context())
	require.NoError(t, err)
	for _, path := range []string{"/who", "/bind/run1/Blue/card-1", "/gap/run1/Blue/card-6", "/paper/run1/Blue/card-6", bibPage(1, 2), "/undo", "/redo", "/questions", "/head"} {
		for name, value := range map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "https://evil.example"} {
			r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, server.URL+path, strings.NewReader("reason=x&rows=1&name=Eve&decision=1"))
			require.NoError(t, err)
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.Header.Set(name, value)
			assert.Equal(t, http.StatusForbidden, p.do(r).status, "%s %s", path, name)
		}
		// Another port of this laptop is the same site, but not the same origin.
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, server.URL+path, strings.NewReader("reason=x"))
		require.NoError(t, err)
		r.Header.Set("Sec-Fetch-Site", "same-site")
		assert.Equal(t, http.StatusForbidden, p.do(r).status, path)
	}
	after, err := b.Store.Head(t.Context())
	require.NoError(t, err)
	assert.Equal(t, head, after, "nothing was kept")
}
