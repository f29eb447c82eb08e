package review_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/review"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// A row that is set aside while somebody's entry is on its way stays so: nobody made it stand again knowingly.
// Source: our own logic.
func TestEntry_SetAsideWhileItIsOnItsWay_StaysSetAside(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	looks := -1 // at the race's files, until somebody sets the row aside
	h := openHut(t, b, func(o *review.Options) {
		o.Race = func() (*sheetmodel.Race, error) {
			if looks--; looks == 0 {
				b.SetAside("Ben", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "the judge takes it back")
			}
			return b.Race, nil
		}
	})
	ada := sit(t, h.here, "Ada")
	page := ada.get(bibPage(1, 1))
	looks = 2 // the form is looked at, then what it says is kept
	a := ada.filled(page, url.Values{"text": {"14"}, "how": {"paper"}, "do": {"settle"}})
	assert.Equal(t, http.StatusConflict, a.status)
	assert.Contains(t, a.body, "Somebody has set this row aside")
	st, result := b.Load()
	assert.Equal(t, sheetmodel.BibSetAside, st.Row(ref(1, 1)).BibState)
	assert.Empty(t, result.Calls)
	assert.Empty(t, decisionsOf(t, b, "Ada"), "nothing was kept")
}
