package review_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
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
