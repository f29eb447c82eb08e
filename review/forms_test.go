package review_test

import (
	"bytes"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
)

// Two photos of one number show two forms: both stand side by side, and any answer can be given. Nothing is typed before.
// Source: our own logic.
func TestQuestions_TwoForms(t *testing.T) {
	for answer, left := range map[string]string{stack.AnswerLater: "another form", stack.AnswerEarlier: "", stack.AnswerTwo: ""} {
		b := stacktest.New(t)
		row := stacktest.Row{Bib: "14", Code: "F", Gate: "6"}
		coded(t, b, "one.jpg", front, row)
		again := b.Sheets("Blue", 2, row)[0]
		again.Part, again.Layout = 1, strings.Repeat("f", 64)
		photo, _, err := b.Store.AddPhoto(t.Context(), "two.jpg", bytes.NewReader(append(again.Page, "two.jpg"...)), -1, time.Time{})
		require.NoError(t, err)
		require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "test reader", []store.NewSheet{again}))
		p := sit(t, open(t, b), "Cleo")
		page := p.get("/questions")
		assert.Contains(t, page.body, "show two different forms")
		assert.Equal(t, "/questions", p.get("/next").path)
		st, _ := b.Load()
		require.Len(t, st.Questions, 1)
		a := p.send("/questions", url.Values{"question": {st.Questions[0].Key}, "answer": {answer}, "note": {"the judge"}})
		require.Equal(t, http.StatusOK, a.status, a.body)
		st, _ = b.Load()
		for _, q := range st.Questions {
			assert.True(t, q.Answered, q.Ask)
		}
		if left != "" {
			assert.Equal(t, strings.Repeat("f", 64), st.Rows[0].Sheet.Layout)
		} else {
			assert.NotEqual(t, strings.Repeat("f", 64), st.Rows[0].Sheet.Layout)
		}
		assert.Equal(t, answer == stack.AnswerTwo, len(st.Unnamed) == 1)
	}
}
