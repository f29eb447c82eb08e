package review_test

import (
	"bytes"
	"encoding/json"
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/stack/stacktest"
)

// seen is what a phone is told of a photo.
type seen struct {
	ID    string   `json:"id"`
	State string   `json:"state"`
	Words []string `json:"words"`
	Do    []string `json:"do"`
}

// upload sends a photo as the page's script does; size is what is announced, -1: nothing.
func (p *person) upload(name string, body io.Reader, size int64) (answer, seen) {
	p.t.Helper()
	r, err := http.NewRequestWithContext(p.t.Context(), http.MethodPost, p.base+"/photos", body)
	require.NoError(p.t, err)
	r.ContentLength = size
	r.Header.Set("Content-Type", "application/octet-stream")
	r.Header.Set("Gatefold-Name", name)
	a := p.do(r)
	var told seen
	if strings.HasPrefix(a.header.Get("Content-Type"), "application/json") {
		require.NoError(p.t, json.Unmarshal([]byte(a.body), &told), a.body)
	}
	return a, told
}

func jpegOf(shows string) []byte {
	return append([]byte("\xff\xd8\xff"+shows+" \n"), make([]byte, 500)...)
}

func TestPhotos_Verdicts_SayWhichCardOrWhatToDo(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Ida", "photos")
	for shows, want := range map[string]seen{
		"card 6 front":       {State: "good", Words: []string{"card 6, run 1, front: good"}},
		"card 6 back glare":  {State: "flawed", Words: []string{"card 6, run 1, back: usable, but glare over rows 3 and 4"}, Do: []string{"Tilt the card and retake."}},
		"a menu of the day.": {State: "refused", Words: []string{"No registration marks found."}, Do: []string{"Retake with the whole card in view."}},
	} {
		data := jpegOf(shows)
		a, told := p.upload("IMG.jpg", bytes.NewReader(data), int64(len(data)))
		require.Equal(t, http.StatusOK, a.status, a.body)
		require.Len(t, told.ID, 64)
		want.ID = told.ID
		assert.Equal(t, want, told)
		var again []seen
		require.NoError(t, json.Unmarshal([]byte(p.get("/photos/seen?id="+told.ID+"&id=nothing").body), &again))
		assert.Equal(t, []seen{want, {ID: "nothing", State: "unknown"}}, again)
	}
}

// A browser without scripts sends a form and is shown the same.
func TestPhotos_WithoutScripts_AFormDoes(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Ida", "photos")
	var b bytes.Buffer
	form := multipart.NewWriter(&b)
	for _, shows := range []string{"card 6 front", "a menu of the day."} {
		part, err := form.CreateFormFile("many", shows+".jpg")
		require.NoError(t, err)
		_, err = part.Write(jpegOf(shows))
		require.NoError(t, err)
	}
	require.NoError(t, form.Close())
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.base+"/photos", &b)
	require.NoError(t, err)
	r.Header.Set("Content-Type", form.FormDataContentType())
	a := p.do(r)
	assert.Equal(t, http.StatusOK, a.status)
	assert.Contains(t, a.body, "card 6, run 1, front: good")
	assert.Contains(t, a.body, "Retake with the whole card in view.")
}

func TestPhotos_TooMuch_IsRefused(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Eve", "photos")
	before, err := h.table.Store.Photos(t.Context())
	require.NoError(t, err)
	endless := io.MultiReader(strings.NewReader("\xff\xd8\xff"), io.LimitReader(zeros{}, 129<<20))
	a, told := p.upload("large.jpg", endless, -1)
	assert.Equal(t, http.StatusRequestEntityTooLarge, a.status)
	assert.Equal(t, "refused", told.State)
	after, err := h.table.Store.Photos(t.Context())
	require.NoError(t, err)
	assert.Len(t, after, len(before))

	// Four come in slowly, three from one phone, whose next is asked to come again though a place is left; then so is the
	// fifth of all, and comes in once one is through. A body is asked for
	// only when its place is taken (RFC 9110, 10.1.1): a sender waiting for that has its place once bytes are drawn.
	transport := &http.Transport{ExpectContinueTimeout: time.Hour}
	defer transport.CloseIdleConnections()
	other := h.pair("Ada", "photos")
	patient := &http.Client{Jar: p.http.Jar, Transport: transport}
	fourth := &http.Client{Jar: other.http.Jar, Transport: transport}
	var slow [4]*io.PipeWriter
	done := make(chan int, len(slow))
	for i := range slow {
		if i == 3 {
			a, _ = p.upload("fourth.jpg", bytes.NewReader(jpegOf("card 7 back")), -1)
			assert.Equal(t, http.StatusServiceUnavailable, a.status, "one phone has three places")
		}
		body, in := io.Pipe()
		slow[i] = in
		go func() {
			r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.base+"/photos", body)
			if !assert.NoError(t, err) {
				return
			}
			r.Header.Set("Content-Type", "application/octet-stream")
			r.Header.Set("Origin", p.origin)
			r.Header.Set("Expect", "100-continue")
			of := patient
			if i == 3 {
				of = fourth
			}
			res, err := of.Do(r)
			if assert.NoError(t, err) {
				_ = res.Body.Close()
				done <- res.StatusCode
			}
		}()
		_, err := in.Write(jpegOf("card 7 front " + string(rune('a'+i))))
		require.NoError(t, err)
	}
	a, _ = other.upload("fifth.jpg", bytes.NewReader(jpegOf("card 7 back")), -1)
	assert.Equal(t, http.StatusServiceUnavailable, a.status)
	assert.NotEmpty(t, a.header.Get("Retry-After"))
	for _, in := range slow {
		require.NoError(t, in.Close())
		assert.Equal(t, http.StatusOK, <-done)
	}
	a, _ = p.upload("fifth.jpg", bytes.NewReader(jpegOf("card 7 back")), -1)
	assert.Equal(t, http.StatusOK, a.status)
}

type zeros struct{}

func (zeros) Read(b []byte) (int, error) {
	clear(b)
	return len(b), nil
}

// What says that it is a form is no photo, and never read into memory as one. Source: our own logic.
func TestPhotos_SentAsALongForm_IsNotReadIn(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Eve", "photos")
	sent := &counted{}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.base+"/photos", io.LimitReader(io.TeeReader(zeros{}, sent), 120<<20))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	assert.Equal(t, http.StatusUnsupportedMediaType, p.do(r).status)
	assert.Less(t, sent.bytes(), 16<<20, "most of it was not even sent")
}

// counted counts what is written to it.
type counted struct{ n atomic.Int64 }

func (c *counted) Write(b []byte) (int, error) {
	c.n.Add(int64(len(b)))
	return len(b), nil
}

func (c *counted) bytes() int { return int(c.n.Load()) }

// Fewer bytes than were announced are no photo; the sender is asked to send again, and not told it was refused.
func TestPhotos_CutShort_IsNotKept(t *testing.T) {
	h := openHut(t, afternoon(t))
	before, err := h.table.Store.Head(t.Context())
	require.NoError(t, err)
	p := h.pair("Ida", "photos")
	for _, name := range []string{"", "x", "%zz"} { // odd names do no harm
		a, told := p.upload(name, strings.NewReader("\xff\xd8"), 2)
		assert.Equal(t, http.StatusUnsupportedMediaType, a.status)
		assert.Equal(t, "refused", told.State)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.base+"/photos", strings.NewReader("x=1"))
	require.NoError(t, err)
	r.Header.Set("Content-Type", "text/plain")
	assert.Equal(t, http.StatusUnsupportedMediaType, p.do(r).status)
	after, err := h.table.Store.Head(t.Context())
	require.NoError(t, err)
	assert.Equal(t, before, after)
}

// A desk whose program can't read photos keeps them and says so.
func TestPhotos_NoReader_SaysSo(t *testing.T) {
	b := afternoon(t)
	h := openHut(t, b, func(o *review.Options) {
		o.Taker = &readsLater{t: t, table: b, held: true, cannot: "this program was built without image support"}
	})
	p := h.pair("Ida", "photos")
	data := jpegOf("card 6 front")
	_, told := p.upload("IMG.jpg", bytes.NewReader(data), int64(len(data)))
	assert.Equal(t, "unread", told.State)
	assert.Equal(t, []string{"the laptop can't read photos just now; whoever sits there is told why"}, told.Words)
	assert.Contains(t, sit(t, h.here, "Lou").get("/photos").body, "This program was built without image support")
	assert.Contains(t, p.get("/photos").body, "Photos are kept all the same")
}

// What is still missing carries the judge's number, for whoever takes photos.
func TestPhotos_Missing_NamesWhomToCall(t *testing.T) {
	h := openHut(t, afternoon(t))
	body := h.pair("Ida", "photos").get("/photos?part").body
	assert.NotContains(t, body, "<html")
	assert.Contains(t, body, "<strong>Card 6</strong> both sides")
	assert.Contains(t, body, `href="tel:555-0106"`)
	assert.NotContains(t, body, "<strong>Card 1</strong>")
	// No cards are expected where nobody was placed.
	empty := stacktest.New(t)
	for i := range empty.Race.Runs {
		for k := range empty.Race.Runs[i].Courses {
			empty.Race.Runs[i].Courses[k].Places = nil
		}
	}
	assert.Contains(t, openHut(t, empty).pair("Ida", "photos").get("/photos?part").body, "No card is expected")
}
