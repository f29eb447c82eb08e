package finish_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"image"
	"net/http"
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/finish"
	"gatefold/sheetmodel"
)

func jsonOf(t *testing.T, v any) *bytes.Reader {
	t.Helper()
	text, err := json.Marshal(v)
	require.NoError(t, err)
	return bytes.NewReader(text)
}

func smallDraft() finish.Draft {
	return finish.Draft{
		Layout: &sheetmodel.Layout{Format: 1, Name: "small", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{{
			Name: sheetmodel.Front, W: 100, H: 100, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}, Fields: []sheetmodel.Field{
				{Name: "row-01.bib", Part: sheetmodel.PartBib, Kind: sheetmodel.Cell, Row: 1, Rect: sheetmodel.Rect{X: 10, Y: 10, W: 20, H: 10}, Grammar: sheetmodel.GrammarBib},
			},
		}}},
		Sides: map[sheetmodel.SideName]finish.Side{sheetmodel.Front: {Picture: image.NewGray(image.Rect(0, 0, 10, 10)), Unsure: []string{"1: is that right?"}}},
	}
}

func serve(t *testing.T, opt finish.Options, r *http.Request) *httptest.ResponseRecorder {
	t.Helper()
	if opt.Draft.Layout == nil {
		opt.Draft = smallDraft()
	}
	page, err := finish.Handler(opt)
	require.NoError(t, err)
	w := httptest.NewRecorder()
	page.ServeHTTP(w, r)
	return w
}

func ask(t *testing.T, method, path string, body *bytes.Reader) *http.Request {
	t.Helper()
	if body == nil {
		body = bytes.NewReader(nil)
	}
	r, err := http.NewRequestWithContext(t.Context(), method, "http://127.0.0.1:1"+path, body)
	require.NoError(t, err)
	r.Host = "127.0.0.1:1"
	return r
}

// Our own logic: what can't be read again is not written, and whoever sent it learns why.
func TestSave_LayoutThatCantBeReadAgain_IsNotKept(t *testing.T) {
	kept := 0
	opt := finish.Options{Save: func(*sheetmodel.Layout) error { kept++; return nil }}
	l := smallDraft().Layout
	w := serve(t, opt, ask(t, http.MethodPost, "/save", jsonOf(t, l)))
	assert.Equal(t, http.StatusOK, w.Code, w.Body.String())
	assert.Equal(t, 1, kept)
	assert.Contains(t, w.Body.String(), "no gate range", "what is still to be mended comes with it")

	l.Sides[0].Fields[0].Rect.W = 500
	w = serve(t, opt, ask(t, http.MethodPost, "/save", jsonOf(t, l)))
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "lies outside the side")
	w = serve(t, opt, ask(t, http.MethodPost, "/save", bytes.NewReader([]byte(`{"format":1,"more":2}`))))
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Equal(t, 1, kept)

	w = serve(t, finish.Options{Save: func(*sheetmodel.Layout) error { return errors.New("no room") }}, ask(t, http.MethodPost, "/save", jsonOf(t, smallDraft().Layout)))
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "no room")
}

func TestLint_AsTheLayoutStands(t *testing.T) {
	l := smallDraft().Layout
	l.Sides[0].Fields[0].Part = sheetmodel.PartUnnamed
	w := serve(t, finish.Options{}, ask(t, http.MethodPost, "/lint", jsonOf(t, l)))
	assert.Contains(t, w.Body.String(), "no bib column")
}

// Source of the expectation: the desk's own headers, see review/docs/security.md.
func TestPage_OthersDontGetIn(t *testing.T) {
	w := serve(t, finish.Options{}, ask(t, http.MethodGet, "/", nil))
	assert.Equal(t, http.StatusOK, w.Code)
	assert.Contains(t, w.Header().Get("Content-Security-Policy"), "default-src 'self'")
	r := ask(t, http.MethodGet, "/draft", nil)
	r.Host = "elsewhere.example"
	assert.Equal(t, http.StatusForbidden, serve(t, finish.Options{}, r).Code)
	r = ask(t, http.MethodPost, "/save", jsonOf(t, smallDraft().Layout))
	r.Header.Set("Origin", "http://elsewhere.example")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	assert.Equal(t, http.StatusForbidden, serve(t, finish.Options{}, r).Code)
	done := false
	serve(t, finish.Options{Done: func() { done = true }}, ask(t, http.MethodPost, "/done", nil))
	assert.True(t, done)
}
