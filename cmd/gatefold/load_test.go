//go:build cgo

package main

import (
	"flag"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

var loadFor = flag.Duration("load", 0, "put a desk under load for so long; 0: don't")

// The load: what the desk is held to. Source: our own logic; many more than ever sit at one race.
const (
	loadClients = 20
	loadPerS    = 200
	loadPhotos  = 60
	loadP99     = 250 * time.Millisecond
)

// oneLook is a request as it went.
type oneLook struct {
	took time.Duration // from when it was due, so that waiting for the one before counts
	fail string
}

var sheetField = regexp.MustCompile(`name="sheet" value="(\d+)"`)

// A desk over the demo race while sixty photos, sent in one go, are read: twenty people look at pages and ink and settle
// entries, two hundred requests a second by the clock, each with a stream of news open besides. No answer is an error,
// every decision that was acknowledged is in the store, and the slowest of a hundred comes in time.
//
//	go test ./cmd/gatefold -run TestLoad -load 1m -v
func TestLoad_TwentyPeopleWhilePhotosAreRead(t *testing.T) {
	if *loadFor == 0 {
		t.Skip("takes minutes and a machine of its own; run with -load 1m")
	}
	race := raceCopy(t)
	photos, err := filepath.Glob(filepath.Join(demoStackDir, "photos", "*.jpg"))
	require.NoError(t, err)
	require.NotEmpty(t, photos)
	var out, errs said
	a := &app{out: &out, errs: &errs, now: time.Now}
	require.Contains(t, []int{int(exitDone), int(exitRefused)}, a.run(t.Context(), append([]string{"collect", race}, photos...)), errs.String())
	d := openDeskOn(t, race)
	phone := d.pair("Ida", "photos")

	keys, inks := bibKeys(t, race)
	require.Greater(t, len(keys), 10)
	clients := make([]*loader, loadClients)
	for i := range clients {
		c := newCaller(t, d.here)
		c.http.Timeout = 30 * time.Second
		c.http.Transport = &http.Transport{MaxIdleConnsPerHost: 20}
		c.http.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
		status, body := c.form("/who", url.Values{"name": {fmt.Sprintf("Person %c", 'A'+i)}, "to": {"/"}})
		require.Equal(t, http.StatusSeeOther, status, body)
		clients[i] = &loader{caller: c, name: fmt.Sprintf("Person %c", 'A'+i), sheets: map[string]string{}, kept: map[string]string{}}
	}

	// Every photo is another file, as if each card had been photographed anew.
	var ids []string
	var sent sync.WaitGroup
	var read atomic.Int64
	start := time.Now()
	sent.Go(func() {
		for i := range loadPhotos {
			data := append(slices.Clone(fileOf(t, photos[i%len(photos)])), fmt.Sprintf("again %d", i)...)
			for {
				status, got := phone.photo("again.jpg", data)
				if status == http.StatusOK {
					ids = append(ids, got.ID)
					break
				}
				time.Sleep(100 * time.Millisecond)
			}
		}
		for _, id := range ids {
			phone.until(id)
		}
		read.Store(int64(time.Since(start)))
	})
	var news atomic.Int64
	for _, c := range clients {
		go c.listens(&news)
	}

	total := int(loadFor.Seconds() * loadPerS)
	looks := make([]oneLook, total)
	var all sync.WaitGroup
	for k := range total {
		due := start.Add(time.Duration(k) * time.Second / loadPerS)
		time.Sleep(time.Until(due))
		all.Go(func() { looks[k] = clients[k%loadClients].step(k/loadClients, keys, inks, due) })
	}
	all.Wait()
	ended := time.Since(start)
	sent.Wait()

	var took []time.Duration
	for _, l := range looks {
		assert.Empty(t, l.fail)
		took = append(took, l.took)
	}
	slices.Sort(took)
	p := func(share float64) time.Duration {
		return took[min(int(share*float64(len(took))), len(took)-1)].Round(100 * time.Microsecond)
	}
	s, err := store.Open(t.Context(), race, store.Options{Now: time.Now})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	decisions, err := s.Decisions(t.Context())
	require.NoError(t, err)
	in := map[string]bool{}
	for _, dec := range decisions {
		in[dec.By+" "+dec.Reading+" "+dec.Text] = true
	}
	kept, stale := 0, 0
	for _, c := range clients {
		stale += c.stale
		for text, key := range c.kept {
			kept++
			assert.True(t, in[c.name+" "+key+" "+text], "%s typed %s for %s and it is lost", c.name, text, key)
		}
	}
	assert.Positive(t, kept, "nothing was decided: not a test")
	t.Logf("%d requests of %d clients in %s, %d of them decisions, %d refused as stale and sent again; %d photos read after %s; %d pieces of news; p50 %s, p95 %s, p99 %s, longest %s",
		total, loadClients, ended.Round(time.Second), kept, stale, len(ids), time.Duration(read.Load()).Round(time.Second), news.Load(), p(0.5), p(0.95), p(0.99), took[len(took)-1].Round(time.Millisecond))
	assert.LessOrEqual(t, p(0.99), loadP99)
}

// bibKeys are the readings of bibs in a race's store, as they are named, and the pictures of their rows.
func bibKeys(t *testing.T, race string) (keys, inks []string) {
	t.Helper()
	s, err := store.Open(t.Context(), race, store.Options{Now: time.Now})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	sheets, err := s.Sheets(t.Context())
	require.NoError(t, err)
	for _, sheet := range sheets {
		for i := range sheet.Read.Reading.Rows {
			if row := &sheet.Read.Reading.Rows[i]; row.Bib.State != sheetmodel.Empty {
				keys = append(keys, sheet.Key(fmt.Sprintf("row-%02d.%s", row.Number, sheetmodel.PartBib)))
				inks = append(inks, fmt.Sprintf("/ink/%d/row-%02d", sheet.ID, row.Number))
			}
		}
	}
	return keys, inks
}

// loader is one person of the load.
type loader struct {
	*caller
	name string

	mu     sync.Mutex
	sheets map[string]string // the photo whose ink was shown, by reading
	kept   map[string]string // what was acknowledged: reading by text
	stale  int
}

// step is one request: most look, one in ten settles.
func (c *loader) step(n int, keys, inks []string, due time.Time) oneLook {
	at := (n*7 + int(c.name[len(c.name)-1])) % len(keys)
	key := keys[at]
	paths := []string{"/", "/next", "/entry/" + key, "/live?once&here=stack", "/draft", "", "/entry/" + key, inks[at], "/questions", "/live?once&here=next"}
	path := paths[n%len(paths)]
	var err error
	if path == "" {
		err = c.settles(key, fmt.Sprint(1000+n))
	} else {
		_, _, err = c.ask(http.MethodGet, path, nil)
	}
	l := oneLook{took: time.Since(due)}
	if err != nil {
		l.fail = err.Error()
	}
	return l
}

// settles types a text for a reading. A card that was photographed again is answered with the new ink, and the form is sent
// once more: as a person does.
func (c *loader) settles(key, text string) error {
	for range 5 {
		c.mu.Lock()
		sheet := c.sheets[key]
		c.mu.Unlock()
		if sheet == "" {
			sheet = "0"
		}
		status, body, err := c.ask(http.MethodPost, "/entry/"+key, url.Values{"sheet": {sheet}, "text": {text}, "how": {"paper"}, "do": {"settle"}})
		if err != nil {
			return err
		}
		if status == http.StatusSeeOther {
			c.mu.Lock()
			c.kept[text] = key
			c.mu.Unlock()
			return nil
		}
		shown := sheetField.FindStringSubmatch(body)
		if status != http.StatusConflict || shown == nil {
			return fmt.Errorf("POST /entry/%s: %d", key, status)
		}
		c.mu.Lock()
		c.sheets[key] = shown[1]
		c.stale++
		c.mu.Unlock()
	}
	return fmt.Errorf("POST /entry/%s: always another photo", key)
}

// ask sends one request; the error is anything that no person should see.
func (c *loader) ask(method, path string, form url.Values) (int, string, error) {
	r, err := http.NewRequestWithContext(c.t.Context(), method, c.base+path, strings.NewReader(form.Encode()))
	if err != nil {
		return 0, "", err
	}
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	res, err := c.http.Do(r)
	if err != nil {
		return 0, "", err
	}
	body, err := io.ReadAll(res.Body)
	_ = res.Body.Close() // it was read whole
	if err != nil {
		return 0, "", err
	}
	switch res.StatusCode {
	case http.StatusOK, http.StatusSeeOther, http.StatusConflict:
		return res.StatusCode, string(body), nil
	}
	return 0, "", fmt.Errorf("%s %s: %d", method, path, res.StatusCode)
}

// listens keeps a stream of news open, as a page does, and counts what it is told.
func (c *loader) listens(news *atomic.Int64) {
	patient := &http.Client{Jar: c.http.Jar}
	for c.t.Context().Err() == nil {
		r, err := http.NewRequestWithContext(c.t.Context(), http.MethodGet, c.base+"/live?here=stack&at=-1", nil)
		if err != nil {
			return
		}
		res, err := patient.Do(r)
		if err != nil {
			return // the desk is closed
		}
		buf := make([]byte, 64<<10)
		for err == nil {
			var n int
			n, err = res.Body.Read(buf)
			news.Add(int64(strings.Count(string(buf[:n]), "event: news")))
		}
		_ = res.Body.Close() // it has ended
	}
}
