package review_test

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// A sign that doesn't show, as a phone's keyboard or a paste may bring along, makes no other bib of what was typed or heard,
// and turns no line of the log around. Source: our own logic.
func TestTyped_SignsThatDoNotShow_AreNoPartOfIt(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, stacktest.Row{Bib: "22", Code: "F", Gate: "9"})
	h := openHut(t, b)
	ada, cy := sit(t, h.here, "Ada"), h.pair("Cy", "hear")
	require.Equal(t, http.StatusOK, cy.get("/readback/run1/Blue/card-1").status)
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	cy.send("/readback/run1/Blue/card-1", url.Values{"sheet": {fmt.Sprint(sheets[0].ID)}, "row-02": {"\u206622\u2069"}})
	ada.typed(ada.get(bibPage(1, 1)), "\u200b14\ufeff", "paper")
	st, _ := b.Load()
	for i := range 2 {
		assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(1, i+1)).BibState, "row %d", i+1)
	}
	require.Equal(t, http.StatusOK, ada.send("/heard", heardForm("", "6", "course \u202eheld")).status)
	log, err := b.Store.HeardLog(t.Context())
	require.NoError(t, err)
	require.Len(t, log, 1)
	assert.Equal(t, "course held", log[0].Words)
}
