package review_test

import (
	"net/http"
	"net/url"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// Put back, a word is as old as it was: it makes nothing stand again that somebody has set aside since it was typed, and it doesn't
// answer somebody who has read the ink otherwise since. Source: design, §5.6; our own logic.
func TestRedo_SomethingSaidSinceItWasTyped_IsRefused(t *testing.T) {
	for name, since := range map[string]url.Values{
		"set aside":      {"do": {"aside"}, "note": {"the judge takes it back"}},
		"read otherwise": {"do": {"settle"}, "text": {"8"}, "how": {"paper"}},
	} {
		b := afternoon(t)
		desk := open(t, b)
		p, o := sit(t, desk, "Cleo"), sit(t, desk, "Bo")
		p.typed(p.get(bibPage(1, 2)), "9", "paper")
		st, _ := b.Load()
		row := st.Row(ref(1, 2))
		require.Equal(t, sheetmodel.BibTwoLooks, row.BibState, name)
		id := st.Decisions[len(st.Decisions)-1].ID
		since.Set("sheet", strconv.FormatInt(row.Sheet.ID, 10))
		require.Equal(t, http.StatusOK, o.send(bibPage(1, 2), since).status, name)
		st, _ = b.Load()
		require.NotEqual(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 2)).BibState, name)
		p.send("/undo", url.Values{"decision": {strconv.FormatInt(id, 10)}})
		assert.Equal(t, http.StatusConflict, p.send("/redo", url.Values{}).status, name)
		st, _ = b.Load()
		assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 2)).BibState, "%s: %+v", name, st.Row(ref(1, 2)).BibSeen.Seen)
	}
}
