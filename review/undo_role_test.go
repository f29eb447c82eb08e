package review_test

import (
	"net/http"
	"net/url"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// A phone that only hears takes back what was heard, and nothing else: not what was typed or set aside at the desk under the name that it was
// given. A row that was set aside would stand again with its looks. Source: README, Phones (what each may do); our own logic.
func TestUndo_ByAPhoneThatOnlyHears_IsOfWhatWasHeardOnly(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C"})
	key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
	b.Type("Ada", key, "14")
	b.SetAside("Ada", key, "its judge takes it back")
	h := openHut(t, b)
	p := h.pair("Ada", "hear")
	require.Equal(t, http.StatusOK, p.send("/readback/run1/Blue/card-1", url.Values{"sheet": {sheetOf(t, b)}, "row-02": {"9"}}).status)
	for i, want := range []int{http.StatusForbidden, http.StatusForbidden, http.StatusOK} {
		st, _ := b.Load()
		dec := st.Decisions[i]
		a := p.send("/undo", url.Values{"decision": {strconv.FormatInt(dec.ID, 10)}})
		assert.Equal(t, want, a.status, "%s %s", dec.Basis, dec.Text)
		if want == http.StatusForbidden {
			st, _ = b.Load()
			assert.Nil(t, st.Decisions[i].Undone)
			assert.Contains(t, a.body, "at the desk")
		}
	}
	st, _ := b.Load()
	assert.Equal(t, sheetmodel.BibSetAside, st.Rows[0].BibState)
	assert.NotNil(t, st.Decisions[2].Undone)
	// At the desk, and on a phone that settles, it is theirs.
	assert.Equal(t, http.StatusOK, h.pair("Ada", "settle").send("/undo", url.Values{"decision": {strconv.FormatInt(st.Decisions[1].ID, 10)}}).status)
}

func sheetOf(t testing.TB, b *stacktest.Table) string {
	t.Helper()
	st, _ := b.Load()
	return strconv.FormatInt(st.Cards[0].Front.ID, 10)
}
