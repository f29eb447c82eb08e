package review_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
)

var storeRefusal = store.Refusal{Fault: "row", Detail: "row 10 is outside the picture", Remedy: "step back and retake with the whole card in view"}

var pages = []string{"/who", "/", "/next", "/questions", "/draft", "/card/run1/Blue/card-3", "/card/run1/Blue/card-6", "/draft/draft.pdf", "/draft/draft.csv", "/draft/draft.json"}

func TestPages_FullAndEmpty_AllAnswer(t *testing.T) {
	for name, b := range map[string]*stacktest.Table{"full": afternoon(t), "empty": stacktest.New(t)} {
		t.Run(name, func(t *testing.T) {
			p := sit(t, open(t, b), "Cleo")
			for _, path := range pages {
				a := p.get(path)
				assert.Equal(t, http.StatusOK, a.status, "%s: %s", path, a.body)
			}
		})
	}
}

// form takes the action and hidden fields of the entry form out of a page.
func (p *person) typed(a answer, text, how string) answer {
	p.t.Helper()
	action := regexp.MustCompile(`<form method="post" action="(/entry/[^"]+)"`).FindStringSubmatch(a.body)
	require.NotNil(p.t, action, a.body)
	sheet := regexp.MustCompile(`name="sheet" value="(\d+)"`).FindStringSubmatch(a.body)
	require.NotNil(p.t, sheet)
	return p.send(action[1], url.Values{"sheet": {sheet[1]}, "text": {text}, "how": {how}, "do": {"settle"}})
}

var _ = httptest.NewServer
