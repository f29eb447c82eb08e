package review_test

import (
	"crypto/rand"
	"errors"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// at is the laptop's clock.
var at = time.Date(2027, 1, 23, 11, 30, 0, 0, time.UTC)

// open opens a desk over a table, on a real listener.
func open(t testing.TB, b *stacktest.Table) *httptest.Server {
	t.Helper()
	return openAt(t, b, at)
}

// openAt opens it while the laptop's clock says now.
func openAt(t testing.TB, b *stacktest.Table, now time.Time) *httptest.Server {
	t.Helper()
	d, err := review.New(t.Context(), review.Options{
		Race: func() (*sheetmodel.Race, error) { return b.Race, nil }, Store: b.Store, Layout: b.LayoutByHash,
		Now: func() time.Time { return now }, Random: rand.Reader,
	})
	require.NoError(t, err)
	s := httptest.NewServer(d.Handler())
	t.Cleanup(s.Close)
	t.Cleanup(d.HangUp) // first: a server waits for its streams
	return s
}

// person is somebody at a browser of their own.
type person struct {
	t    testing.TB
	base string
	http *http.Client
	// origin is what a browser says of the page that a form was sent from; over plain HTTP nothing else is known.
	origin string
}

func sit(t testing.TB, s *httptest.Server, name string) *person {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	p := &person{t: t, base: s.URL, http: &http.Client{Jar: jar}}
	status, body := p.post("/who", url.Values{"name": {name}, "to": {"/"}})
	require.Equal(t, http.StatusOK, status, body)
	return p
}

// answer is what came back.
type answer struct {
	status int
	path   string // where the redirects ended
	header http.Header
	body   string
}

func (p *person) do(r *http.Request) answer {
	p.t.Helper()
	if p.origin != "" && r.Method == http.MethodPost && r.Header["Origin"] == nil {
		r.Header.Set("Origin", p.origin)
	}
	res, err := p.http.Do(r)
	require.NoError(p.t, err)
	body, err := io.ReadAll(res.Body)
	require.NoError(p.t, err)
	require.NoError(p.t, res.Body.Close())
	return answer{res.StatusCode, res.Request.URL.Path, res.Header, string(body)}
}

func (p *person) get(path string) answer {
	p.t.Helper()
	r, err := http.NewRequestWithContext(p.t.Context(), http.MethodGet, p.base+path, nil)
	require.NoError(p.t, err)
	return p.do(r)
}

func (p *person) send(path string, form url.Values) answer {
	p.t.Helper()
	r, err := http.NewRequestWithContext(p.t.Context(), http.MethodPost, p.base+path, strings.NewReader(form.Encode()))
	require.NoError(p.t, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return p.do(r)
}

func (p *person) post(path string, form url.Values) (int, string) {
	p.t.Helper()
	a := p.send(path, form)
	return a.status, a.body
}

// afternoon is a run with something of everything. No bib in it stands in another place of the page.
func afternoon(t testing.TB) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 1,
		stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"},
		stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C"})
	b.Card("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "40", Code: "K", Gate: "9"})
	b.Card("Blue", 3,
		stacktest.Row{Bib: "46", Code: "F", Gate: "15", Panel: "B", State: sheetmodel.Doubtful, Rivals: []string{"41"}},
		stacktest.Row{Bib: "21", Code: "F", Gate: "16", Panel: "B", State: sheetmodel.Doubtful, Rivals: []string{"27"}},
		stacktest.Row{Bib: "40", Code: "K", Gate: "14"})
	b.Card("Blue", 4)
	b.Card("Blue", 5, stacktest.Row{Bib: "30", Code: "F", Gate: "25", Panel: "B"}, stacktest.Row{Bib: "52", Code: "H", Gate: "27"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	b.Type("Ada", stacktest.Key("Blue", 2, 1, sheetmodel.PartBib), "14")
	b.Ask("Bo", stacktest.Key("Blue", 5, 1, sheetmodel.PartBib), "30")
	b.SetAside("Ada", stacktest.Key("Blue", 3, 2, sheetmodel.PartBib), "the judge has left")
	require.NoError(t, refuse(t, b))
	return b
}

func refuse(t testing.TB, b *stacktest.Table) error {
	p, _, err := b.Store.AddPhoto(t.Context(), "card-06-front.jpg", strings.NewReader("\xff\xd8\xff dark"), -1, at)
	if err != nil {
		return err
	}
	return b.Store.Refuse(t.Context(), p.ID, "test reader", storeRefusal)
}

// The start list is being saved, and then has a mistake: the page says so, and goes on once it is mended.
func TestDesk_MistakeInTheRacesFiles_IsSaidAndSurvived(t *testing.T) {
	b := stacktest.New(t)
	var mistake error
	d, err := review.New(t.Context(), review.Options{
		Race: func() (*sheetmodel.Race, error) { return b.Race, mistake }, Store: b.Store, Layout: b.LayoutByHash,
		Now: func() time.Time { return at }, Random: rand.Reader,
	})
	require.NoError(t, err)
	s := httptest.NewServer(d.Handler())
	t.Cleanup(s.Close)
	p := sit(t, s, "Cleo")
	for _, mistake = range []error{os.ErrNotExist, errors.New("race.yaml:4: \"nme\" is not a key here; did you mean name?")} {
		a := p.get("/")
		assert.Equal(t, http.StatusInternalServerError, a.status)
		assert.Contains(t, a.body, "Mend the race&#39;s files and load this page again.")
		assert.NotContains(t, a.body, "close gatefold")
		assert.NotContains(t, a.body, "photographed again")
	}
	mistake = nil
	assert.Equal(t, http.StatusOK, p.get("/").status)
}
