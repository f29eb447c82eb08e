package review_test

import (
	"bytes"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
)

// Whatever a form holds, the desk answers it or names a reason; it never breaks.
func FuzzForms(f *testing.F) {
	for _, seed := range [][4]string{
		{"/entry/run1/Blue/card-1/front/row-02.bib", "9", "paper", "settle"},
		{"/entry/run1/Blue/card-1/front/row-02.bib", "09\x00", "nod", "aside"},
		{"/entry/run1/Bl%2Fue/card-x", "", "", "later"},
		{"/bind/run1/Blue/card-1", "6-1, 12a", "", ""},
		{"/gap/spare/card-7", "blown away", "", "open"},
		{"/paper/run1/Blue/card-6", "-3", "", ""},
		{"/questions", "drawing/1/Blue/1/1/none", "none", ""},
		{"/undo", "1", "", ""},
		{"/who", "Ada\u202e", "//elsewhere.example", ""},
	} {
		f.Add(seed[0], seed[1], seed[2], seed[3])
	}
	b := afternoon(f)
	server := open(f, b)
	p := sit(f, server, "Cleo")
	f.Fuzz(func(t *testing.T, path, text, how, do string) {
		u, err := url.Parse(path)
		if err != nil || u.IsAbs() || u.Host != "" || len(path) == 0 || path[0] != '/' {
			t.Skip("no path")
		}
		q := &person{t: t, base: p.base, http: p.http}
		a := q.send(u.EscapedPath(), url.Values{
			"text": {text}, "how": {how}, "do": {do}, "sheet": {"1"}, "note": {text}, "sure": {text}, "gates": {text}, "judge": {text},
			"reason": {text}, "rows": {text}, "question": {text}, "answer": {how}, "decision": {text}, "name": {text}, "to": {how},
		})
		assert.Less(t, a.status, http.StatusInternalServerError, a.body)
	})
}

// readsNothing leaves photos where they were put.
type readsNothing struct{}

func (readsNothing) Take(string)         {}
func (readsNothing) Fault(string) string { return "" }

// Whatever is sent as a photo, alone or in a form, the desk keeps it whole or refuses it; it never breaks.
func FuzzUploads(f *testing.F) {
	const form = "multipart/form-data; boundary=x"
	f.Add("application/octet-stream", "card.jpg", []byte("\xff\xd8\xff\xe0 card 7 front"))
	f.Add("application/octet-stream", "%zz", []byte{})
	f.Add(form, "", []byte("--x\r\nContent-Disposition: form-data; name=photo; filename=\"../../a.jpg\"\r\n\r\n\xff\xd8\xff card\r\n--x--\r\n"))
	f.Add(form, "", []byte("--x\r\nContent-Disposition: form-data; filename*=utf-8''%2e%2e%00.jpg\r\n\r\n\xff\xd8\xff"))
	f.Add("multipart/form-data; boundary=", "", []byte("--\r\n"))
	f.Add("text/plain", "a", []byte("bib 46"))
	h := openHut(f, afternoon(f), func(o *review.Options) { o.Taker = readsNothing{} })
	p := h.pair("Eve", "photos")
	f.Fuzz(func(t *testing.T, kind, name string, body []byte) {
		if strings.ContainsFunc(kind+name, unicode.IsControl) {
			t.Skip("no header can hold it")
		}
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.base+"/photos", bytes.NewReader(body))
		require.NoError(t, err)
		r.Header.Set("Content-Type", kind)
		r.Header.Set("Gatefold-Name", name)
		q := &person{t: t, base: p.base, http: p.http, origin: p.origin}
		a := q.do(r)
		if a.status == http.StatusServiceUnavailable && a.header.Get("Retry-After") != "" {
			t.Skip("one phone has sent more than is taken at once: it is told to come again")
		}
		assert.Less(t, a.status, http.StatusInternalServerError, a.body)
	})
}
