package review_test

import (
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
)

// Whoever comes first to a race's desk is shown around, and nobody after; a way that was asked for is kept.
func TestTour_MeetsTheFirstPersonOnly(t *testing.T) {
	h := openHut(t, stacktest.New(t))
	sit := func(name, to string) string {
		return atLaptop(t, h).send("/who", url.Values{"name": {name}, "to": {to}}).path
	}
	assert.Equal(t, "/tour", sit("Ada", "/"))
	assert.Equal(t, "/", sit("Cleo", "/"))
	other := openHut(t, stacktest.New(t))
	p := atLaptop(t, other)
	assert.Equal(t, "/questions", p.send("/who", url.Values{"name": {"Ada"}, "to": {"/questions"}}).path)
	a := p.get("/tour")
	assert.Contains(t, a.body, "referee and jury decide")
	assert.Contains(t, a.body, "No bib is ever guessed")
	assert.NotContains(t, p.get("/tour").body, `href="/tour"`)
	assert.Contains(t, p.get("/draft").body, `href="/tour"`)
}

// atLaptop is a browser on the laptop itself, where nobody has sat down yet.
func atLaptop(t *testing.T, h *hut) *person {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	return &person{t: t, base: h.here.URL, http: &http.Client{Jar: jar}, origin: h.here.URL}
}
