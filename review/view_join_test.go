package review_test

import (
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// At another laptop with a copy of the race a question is answered, and that copy is joined. Where this one has another photo of the card by
// now, the page asks, and says what was answered there; where it hasn't, the answer counts here. Source: our own logic.
func TestView_AnsweredInAnotherCopy(t *testing.T) {
	for _, retaken := range []bool{false, true} {
		b := elsewhere(t)
		b.Type("Bo", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
		dir := filepath.Join(t.TempDir(), "copy")
		require.NoError(t, os.CopyFS(dir, os.DirFS(b.Store.Dir())))
		s, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()})
		require.NoError(t, err)
		t.Cleanup(func() { assert.NoError(t, s.Close()) })
		copied := *b
		copied.Store = s
		there := sit(t, open(t, &copied), "Dora")
		require.Equal(t, http.StatusOK, answersFrom(t, there, there.get("/questions")).status)

		if retaken {
			photographsAgain(t, b, "again")
		}
		p := sit(t, open(t, b), "Cleo")
		require.Regexp(t, elsewhereForm, p.get("/questions").body)
		_, err = b.Store.Join(t.Context(), s)
		require.NoError(t, err)
		page := p.get("/questions").body
		if retaken {
			assert.Regexp(t, elsewhereForm, page)
			assert.Contains(t, page, "It was answered before, said by Dora: yes: the row counts as written. Since then another photo of card 1 (B1) counts")
			continue
		}
		assert.NotRegexp(t, elsewhereForm, page)
		assert.Contains(t, page, "<h2>Answered</h2>")
	}
}
