package review_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
)

// A phone is shut out in the middle of an entry: what it sends is not kept, and the entry is somebody else's at once. Source: our own logic.
func TestHold_PhoneShutOutInTheMiddle_TheEntryIsFree(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	h := openHut(t, b)
	lost, bo := h.pair("Lost", "settle"), sit(t, h.here, "Bo")
	page := lost.get("/next")
	require.Equal(t, bibPage(1, 1), page.path)
	require.Equal(t, "/draft", sit(t, h.here, "Cy").get(bibPage(1, 1)).path, "it is held")
	id := revokeID.FindStringSubmatch(bo.get("/phones").body)
	require.NotNil(t, id)
	require.Equal(t, http.StatusOK, bo.send("/phones", url.Values{"do": {"revoke"}, "id": {id[1]}}).status)
	assert.Equal(t, bibPage(1, 1), bo.get("/next").path)
	assert.Equal(t, "/pair", lost.get("/next").path)
	form := url.Values{"text": {"14"}, "how": {"paper"}, "do": {"settle"}, "sheet": {sheetOf(t, b)}}
	assert.Equal(t, http.StatusUnauthorized, lost.send(bibPage(1, 1), form).status)
	assert.Empty(t, decisionsOf(t, b, "Lost"))
}
