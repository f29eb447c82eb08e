package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// openDesk is a desk with phones on a race of its own, as a person opens it.
type openDesk struct {
	t            *testing.T
	race         string
	out, errs    said
	here, phones string // addresses, without a slash at the end
	close        func()
}

var cameIn = regexp.MustCompile(`phones come in at (http://127\.0\.0\.1:[0-9]+), with a code from the page (http://127\.0\.0\.1:[0-9]+)/phones`)

func openDeskOn(t *testing.T, race string) *openDesk {
	t.Helper()
	d := &openDesk{t: t, race: race}
	ctx, cancel := context.WithCancel(t.Context())
	a := &app{out: &d.out, errs: &d.errs, now: time.Now}
	code := make(chan int, 1)
	go func() { code <- a.run(ctx, []string{"desk", race, "--open-none", "--network=127.0.0.1:0"}) }()
	closed := false
	d.close = func() {
		if closed {
			return
		}
		closed = true
		cancel()
		assert.Equal(t, int(exitDone), <-code, d.errs.String())
	}
	t.Cleanup(d.close)
	require.Eventually(t, func() bool { return cameIn.MatchString(d.out.String()) }, 20*time.Second, 20*time.Millisecond, d.errs.String())
	at := cameIn.FindStringSubmatch(d.out.String())
	d.phones, d.here = at[1], at[2]
	return d
}

// caller is a browser of a person or a phone.
type caller struct {
	t    *testing.T
	base string
	http *http.Client
}

func newCaller(t *testing.T, base string) *caller {
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	return &caller{t, base, &http.Client{Jar: jar}}
}

func (c *caller) do(method, path, kind string, body io.Reader, header ...string) (int, string) {
	c.t.Helper()
	r, err := http.NewRequestWithContext(c.t.Context(), method, c.base+path, body)
	require.NoError(c.t, err)
	if method == http.MethodPost {
		r.Header.Set("Content-Type", kind)
		r.Header.Set("Origin", c.base)
	}
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	res, err := c.http.Do(r)
	require.NoError(c.t, err)
	text, err := io.ReadAll(res.Body)
	require.NoError(c.t, err)
	require.NoError(c.t, res.Body.Close())
	return res.StatusCode, string(text)
}

func (c *caller) form(path string, form url.Values) (int, string) {
	c.t.Helper()
	return c.do(http.MethodPost, path, "application/x-www-form-urlencoded", strings.NewReader(form.Encode()))
}

// pair lets a phone in that may do so much.
func (d *openDesk) pair(name string, roles ...string) *caller {
	d.t.Helper()
	laptop := newCaller(d.t, d.here)
	laptop.form("/who", url.Values{"name": {"Lou"}, "to": {"/"}})
	_, page := laptop.form("/phones", url.Values{"do": {"code"}, "role": roles})
	code := regexp.MustCompile(`class="bigcode">([0-9A-Z-]+)<`).FindStringSubmatch(page)
	require.NotNil(d.t, code, page)
	p := newCaller(d.t, d.phones)
	status, body := p.form("/pair", url.Values{"code": {code[1]}, "name": {name}})
	require.Equal(d.t, http.StatusOK, status, body)
	return p
}

// toldOf is what a phone is told of a photo.
type toldOf struct {
	ID    string   `json:"id"`
	State string   `json:"state"`
	Words []string `json:"words"`
	Do    []string `json:"do"`
}

func (c *caller) photo(name string, data []byte) (int, toldOf) {
	c.t.Helper()
	status, body := c.do(http.MethodPost, "/photos", "application/octet-stream", bytes.NewReader(data), "Gatefold-Name", url.PathEscape(name))
	var got toldOf
	require.NoError(c.t, json.Unmarshal([]byte(body), &got), body)
	return status, got
}

// until asks for a photo's fate until it is known.
func (c *caller) until(id string) toldOf {
	c.t.Helper()
	var got []toldOf
	require.Eventually(c.t, func() bool {
		_, body := c.do(http.MethodGet, "/photos/seen?id="+id, "", nil)
		return assert.NoError(c.t, json.Unmarshal([]byte(body), &got), body) && len(got) == 1 && got[0].State != "reading"
	}, 60*time.Second, 50*time.Millisecond, "still being read")
	return got[0]
}

func originals(t *testing.T, race string) []string {
	t.Helper()
	entries, err := os.ReadDir(race + "/originals")
	require.NoError(t, err)
	var all []string
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

func raceCopy(t *testing.T) string {
	t.Helper()
	race := t.TempDir()
	require.NoError(t, os.CopyFS(race, os.DirFS("../../testdata/demo-race")))
	return race
}

func fileOf(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(name)
	require.NoError(t, err)
	return data
}
