package review_test

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

var (
	openList = regexp.MustCompile(`(?s)<details class="why"><summary>.*?</summary><ul>(.*?)</ul></details>`)
	listItem = regexp.MustCompile(`(?s)<li>(?:<a href="([^"]*)">)?(.*?)(?:</a>)?</li>`)
)

// What keeps a list open leads to the page on which it is settled: there it stands. Source: our own logic.
func TestDraft_OpenThings_LeadToWhereTheyAreSettled(t *testing.T) {
	b := afternoon(t)
	row := []stacktest.Row{{Bib: "14", Code: "F", Gate: "6"}}
	coded(t, b, "again.jpg", front, stacktest.Row{Bib: "44", Code: "F", Gate: "6"})
	plainCard(t, b, "league.jpg", sheetmodel.CardKey{}, row...)
	desk := open(t, b)
	p := sit(t, desk, "Cleo")
	page := p.get("/draft").body
	seen := map[string]bool{}
	for _, list := range openList.FindAllStringSubmatch(page, -1) {
		for _, item := range listItem.FindAllStringSubmatch(list[1], -1) {
			words, path := html.UnescapeString(item[2]), html.UnescapeString(item[1])
			if strings.Contains(words, "list is not known") || strings.Contains(words, "gates of this course in this run are not known") || strings.Contains(words, "No judge is placed") {
				assert.Empty(t, path, "%s: this desk has no page for that", words)
				continue
			}
			require.NotEmpty(t, path, words)
			to, err := url.Parse(path)
			require.NoError(t, err, words)
			a := p.get(to.EscapedPath())
			assert.Equal(t, http.StatusOK, a.status, "%s: %s", words, path)
			if to.Fragment != "" {
				assert.Contains(t, html.UnescapeString(a.body), `id="`+to.Fragment+`"`, words)
			}
			seen[strings.Split(to.Path, "/")[1]] = true
		}
	}
	for _, kind := range []string{"questions", "card", "entry"} {
		assert.True(t, seen[kind], "%s in %v", kind, seen)
	}
	assert.Regexp(t, `<h3>Missing cards</h3><ul class="findings"><li><a href="/card/`, page)
}

// Who is only to look can settle nothing, and is led nowhere.
func TestDraft_OpenThings_OfAViewerAreNoLinks(t *testing.T) {
	h := openHut(t, afternoon(t))
	page := h.pair("Vic", "view").get("/draft").body
	lists := openList.FindAllStringSubmatch(page, -1)
	require.NotEmpty(t, lists)
	for _, list := range lists {
		assert.NotContains(t, list[1], "<a ")
	}
	assert.NotContains(t, page, `href="/card/`)
}

// Each reason why judges stay is said once, with those whom it keeps.
func TestPosting_JudgesWhoStay_TheReasonIsSaidOnce(t *testing.T) {
	page := sit(t, open(t, afternoon(t)), "Cleo").get("/posting").body
	for _, once := range []string{"releases them: rows on their cards may be asked about.", "Until their card is in."} {
		assert.Equal(t, 1, strings.Count(page, once), once)
	}
	assert.NotContains(t, page, "stays until")
	assert.Regexp(t, `Blue · run 1, card 1, place B1, <strong>[^<]+</strong> <a class="phone" href="tel:[^"]*">[^<]*</a>: rows? [0-9, ]+</li>`, page)
}
