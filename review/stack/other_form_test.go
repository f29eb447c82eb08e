package stack_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// asForm takes the front of card 1 for a form with another layout, whose rows lie elsewhere on the paper.
func asForm(b *stacktest.Table, layout string, row stacktest.Row) store.NewSheet {
	front := b.Sheets("Blue", 1, row)[0]
	front.Layout = layout
	return front
}

// Row 1 of one form is another row on another: what was typed or heard of it there is no look at it here, whether another photo or
// a newer reader has the card as the other form. Source: our own logic.
func TestLooks_SaidOfAnotherForm_AreNoLooks(t *testing.T) {
	for name, again := range map[string]string{"another photo": "again.jpg", "read again": "first.jpg"} {
		for _, doubt := range []sheetmodel.DoubtKind{sheetmodel.DoubtLowCertainty, sheetmodel.DoubtNotInGrammar} {
			b := stacktest.New(t)
			keep(t, b, "first.jpg", "reader 1", asForm(b, "one form", stacktest.Row{Bib: "14", Code: "F", Gate: "6"}))
			sheets, err := b.Store.Sheets(t.Context())
			require.NoError(t, err)
			says14(t, b, sheets[0].ID)
			keep(t, b, again, "reader 2", asForm(b, "another form", stacktest.Row{Bib: "19", Code: "F", Gate: "9", State: sheetmodel.Doubtful, Doubt: doubt}))
			st, _ := b.Load()
			for _, q := range st.Questions {
				require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: q.Key, Value: stack.AnswerLater, By: "Ada"}))
			}
			st, _ = b.Load()
			require.Len(t, st.Rows, 1)
			require.Equal(t, "another form", st.Rows[0].Sheet.Layout)
			assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%s, %s: %+v", name, doubt, st.Rows[0].BibSeen.Seen)
		}
	}
}

// One paper is of one form: two photos of a card that show two are of two papers, or one was taken for what it isn't. A person is
// asked, whatever both show, and its rows wait. Source: our own logic.
func TestPhotos_OfTwoForms_AreAskedAbout(t *testing.T) {
	b := stacktest.New(t)
	row := stacktest.Row{Bib: "14", Code: "F", Gate: "6"}
	keep(t, b, "first.jpg", "reader", asForm(b, "one form", row))
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	keep(t, b, "again.jpg", "reader", asForm(b, "another form", row))
	st, _ := b.Load()
	require.Len(t, st.Questions, 1)
	assert.False(t, st.Questions[0].Answered)
	assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState)
	require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: st.Questions[0].Key, Value: stack.AnswerEarlier, By: "Ada"}))
	says14(t, b, sheets[0].ID)
	st, _ = b.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%+v", st.Rows[0].BibSeen.Seen)
}

// A strike that was marked on one form strikes no row of another: where that row is now, a person says, and the rows wait until then.
// Source: our own logic.
func TestMarks_OfAnotherForm_AreAskedAbout(t *testing.T) {
	for name, again := range map[string]string{"another photo": "again.jpg", "read again": "first.jpg"} {
		b := stacktest.New(t)
		keep(t, b, "first.jpg", "reader 1", asForm(b, "one form", stacktest.Row{Bib: "14", Code: "F", Gate: "6"}))
		st, _ := b.Load()
		card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
		require.NoError(t, b.Store.Answer(t.Context(), st.OnPaper(store.Answer{Question: stack.StruckKey(card, 1), Value: stack.Marked, By: "Ada"})...))
		st, _ = b.Load()
		require.True(t, st.Rows[0].Struck)
		keep(t, b, again, "reader 2", asForm(b, "another form", stacktest.Row{Bib: "19", Code: "F", Gate: "9"}))
		st, _ = b.Load()
		for _, q := range st.Questions {
			if q.Side == sheetmodel.Front && q.Earlier != 0 {
				require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: q.Key, Value: stack.AnswerLater, By: "Ada"}))
			}
		}
		st, _ = b.Load()
		require.Len(t, st.Rows, 1)
		assert.False(t, st.Rows[0].Struck, "%s: it is another row", name)
		assert.Equal(t, sheetmodel.BibWaiting, st.Rows[0].BibState, name)
		asked := firstOpen(st)
		require.NotNil(t, asked, name)
		assert.Contains(t, asked.Ask, "taken for another form", name)
		require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: asked.Key, Value: stack.AnswerSeen, By: "Ada"}))
		st, _ = b.Load()
		assert.Nil(t, firstOpen(st), name)
		assert.Equal(t, sheetmodel.BibOneLook, st.Rows[0].BibState, name)
		// Marked anew, it is of the form as it is now.
		require.NoError(t, b.Store.Answer(t.Context(), st.OnPaper(store.Answer{Question: stack.StruckKey(card, 1), Value: stack.Marked, By: "Ada"})...))
		st, _ = b.Load()
		assert.True(t, st.Rows[0].Struck, name)
		assert.Nil(t, firstOpen(st), name)
	}
}

// firstOpen is the first question that nobody has answered.
func firstOpen(st *stack.Stack) *stack.PhotoQuestion {
	for i := range st.Questions {
		if !st.Questions[i].Answered {
			return &st.Questions[i]
		}
	}
	return nil
}

// Another copy of the race has read the same photo as another form: what was typed and heard of its rows there is no look here.
// Source: our own logic.
func TestLooks_SaidOfAnotherFormInAnotherCopy_AreNoLooks(t *testing.T) {
	for _, doubt := range []sheetmodel.DoubtKind{sheetmodel.DoubtLowCertainty, sheetmodel.DoubtNotInGrammar} {
		b := stacktest.New(t)
		row := stacktest.Row{Bib: "?", Code: "F", Gate: "9", State: sheetmodel.Doubtful, Doubt: doubt}
		here := asForm(b, "one form", row)
		here.Read.Reading.Rows[0].Bib.Text = ""
		keep(t, b, "first.jpg", "reader 1", here)
		other := filepath.Join(t.TempDir(), "other")
		require.NoError(t, os.CopyFS(other, os.DirFS(b.Store.Dir())))
		opt := store.Options{Now: storetest.Clock()}
		there, err := store.Open(t.Context(), other, opt)
		require.NoError(t, err)
		copied := *b
		copied.Store = there
		keep(t, &copied, "first.jpg", "reader 2", asForm(b, "another form", stacktest.Row{Bib: "14", Code: "F", Gate: "6"}))
		sheets, err := there.Sheets(t.Context())
		require.NoError(t, err)
		says14(t, &copied, sheets[0].ID)
		require.NoError(t, there.Close())
		keep(t, b, "first.jpg", "reader 3", here) // this copy has read it by itself too, and keeps that
		c, err := store.OpenCopy(t.Context(), other, t.TempDir(), opt)
		require.NoError(t, err)
		_, err = b.Store.Join(t.Context(), c)
		require.NoError(t, errors.Join(err, c.Close()))
		st, _ := b.Load()
		require.Len(t, st.Rows, 1)
		require.Equal(t, "one form", st.Rows[0].Sheet.Layout)
		assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Rows[0].BibState, "%s: %+v", doubt, st.Rows[0].BibSeen.Seen)
	}
}
