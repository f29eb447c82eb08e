package stack_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// paper says how many rows of card 2 hold ink.
func (b *table) paper(rows int) {
	b.t.Helper()
	card := rowRef(2, 1).CardKey
	require.NoError(b.t, b.store.TypeFromPaper(b.t.Context(), store.PaperCard{Card: card, Rows: rows, By: "Cy"}))
}

// row2 lets two people type row 2 of card 2 from the paper: a fault of bib 14 at gate 7.
func (b *table) row2() {
	for _, by := range []string{"Ada", "Bo"} {
		b.types(by, "run1/Blue/card-2/front/row-02.bib", "14")
		b.types(by, "run1/Blue/card-2/front/row-02.code", "F")
		b.types(by, "run1/Blue/card-2/front/row-02.gate", "7")
	}
}

func TestEntered_FewerRowsCountedOnThePaper_TheRowWaits(t *testing.T) {
	b := newTable(t)
	b.paper(2)
	b.row2()
	_, result := b.load()
	require.Len(t, result.Calls, 1)
	require.False(t, result.Calls[0].Waiting)

	b.paper(1)
	s, result := b.load()
	require.NotNil(t, s.Row(rowRef(2, 2)), "two people typed it")
	require.Len(t, s.Questions, 1)
	ask := s.Questions[0].Ask
	assert.Equal(t, "Row 2 of card 2 was entered before, but the number of rows with ink, counted on the paper, is 1 now. Does the row stand on the card?", ask)
	assert.Equal(t, sheetmodel.BibWaiting, s.Row(rowRef(2, 2)).BibState)
	assert.Empty(t, result.Calls, "nothing stands on it meanwhile")
	assert.True(t, open(result, ask))

	b.answer(s.Questions[0].Key, stack.AnswerStands)
	s, result = b.load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Row(rowRef(2, 2)).BibState)
	require.Len(t, result.Calls, 1)
	assert.False(t, result.Calls[0].Waiting)
	assert.False(t, open(result, ask))

	b.answer(s.Questions[0].Key, stack.AnswerNotThere)
	s, result = b.load()
	require.NotNil(t, s.Row(rowRef(2, 2)), "it stays listed, set aside")
	assert.Equal(t, sheetmodel.BibSetAside, s.Row(rowRef(2, 2)).BibState)
	assert.Empty(t, result.Calls)
	assert.Len(t, s.Rows, 2)
	assert.Equal(t, 1, s.Rows[0].Ref.Row)
}

func TestEntered_ThenAPhotoWithoutInkThere_TheRowWaits(t *testing.T) {
	b := newTable(t)
	b.paper(2)
	b.row2()
	photo := b.front(2, "19", "", "21")
	empty := &photo.Read.Reading.Rows[1]
	empty.HasInk = false
	for _, r := range []*sheetmodel.Reading{&empty.Code, &empty.Gate, &empty.Panel} {
		r.Text, r.State = "", sheetmodel.Empty
	}
	b.add(photo)
	s, result := b.load()
	require.Len(t, s.Rows, 3)
	require.Len(t, s.Questions, 1)
	assert.Contains(t, s.Questions[0].Ask, "the photo that counts shows no ink there")
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[1].BibState)
	assert.True(t, open(result, s.Questions[0].Ask))
	for _, c := range result.Calls {
		assert.True(t, c.Waiting)
	}

	// It stands, but no picture shows it: only the judge can say which bib was meant.
	b.answer(s.Questions[0].Key, stack.AnswerStands)
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[1].BibState)
	assert.Equal(t, look.NeedJudge, s.Rows[1].BibSeen.Seen.Next)
	assert.Contains(t, s.Rows[1].Reason, "no ink there")
	_, err := b.store.Settle(t.Context(), store.Entry{
		Reading: s.Rows[1].BibSeen.Key, Text: "14", Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: "Cy", Session: "Cy",
	})
	require.NoError(t, err)
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Rows[1].BibState)
}

// A row was typed from a photo; a person says that a later photo without it counts.
func TestEntered_FromAPhotoThatNoLongerCounts_StaysListed(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14", "19"))
	b.types("Ada", "run1/Blue/card-2/front/row-02.bib", "19")
	b.add(b.front(2, "14"))
	s, _ := b.load()
	require.Len(t, s.Questions, 1)
	b.answer(s.Questions[0].Key, stack.AnswerLater)
	s, result := b.load()
	require.Len(t, s.Rows, 2)
	require.Len(t, s.Questions, 2)
	assert.NotZero(t, s.Questions[1].Earlier, "the photo with its ink is shown")
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[1].BibState)
	assert.True(t, open(result, s.Questions[1].Ask))
	b.answer(s.Questions[1].Key, stack.AnswerNotThere)
	s, result = b.load()
	assert.Equal(t, sheetmodel.BibSetAside, s.Rows[1].BibState)
	assert.False(t, open(result, s.Questions[1].Ask))
	for _, f := range result.Findings {
		assert.NotEqual(t, "row-count", f.Rule, f.Sentence)
	}
}

// A better reader finds that the photo shows another card: the one that was typed is missing, not gone.
func TestEntered_OnACardThatNoPhotoShowsAnyMore_IsMissing(t *testing.T) {
	b := newTable(t)
	n := b.front(2, "14")
	n.Card.Card, n.Identity.Card = 77, 77
	b.add(n)
	b.types("Ada", "run1/Blue/card-77/front/row-01.bib", "14")
	photos, err := b.store.Photos(t.Context())
	require.NoError(t, err)
	require.NoError(t, b.store.AddSheets(t.Context(), photos[0].ID, "better reader", []store.NewSheet{b.front(2, "14")}))
	s, result := b.load()
	c := s.Card(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 77})
	require.NotNil(t, c)
	assert.False(t, c.In)
	assert.True(t, slices.ContainsFunc(result.Findings, func(f sheetmodel.Finding) bool { return f.Rule == "missing-card" && f.Card.Card == 77 }))
}

// Somebody counted three rows with ink on the paper; the photo that comes later shows two. The third isn't dropped without a
// word: it is asked about until it is added, or somebody has looked. Source: our own logic.
func TestEntered_FewerRowsInThePhotoThanCounted_AreAskedAbout(t *testing.T) {
	b := newTable(t)
	b.paper(3)
	b.add(b.front(2, "14", "19"), b.back(2))
	s, result := b.load()
	require.Len(t, s.Rows, 2)
	require.Len(t, s.Questions, 1)
	ask := s.Questions[0].Ask
	assert.Contains(t, ask, "3 rows with ink were counted on the paper of card 2 before it was photographed, and 2 are known now")
	assert.True(t, open(result, ask))
	assert.Equal(t, sheetmodel.BibOneLook, s.Rows[0].BibState, "the other rows don't wait for it")

	b.answer(s.Questions[0].Key, stack.AnswerSeen)
	_, result = b.load()
	assert.False(t, open(result, ask))

	b.add(b.front(2, "14", "19"))
	_, result = b.load()
	assert.True(t, open(result, ask), "what was said of one photo is not said of another")
	b.answer(stack.AddedKey(rowRef(2, 3).CardKey, 3), stack.FormatBox(sheetmodel.Rect{X: 10, Y: 10, W: 10, H: 10}))
	s, result = b.load()
	assert.Len(t, s.Rows, 3)
	assert.False(t, open(result, ask))

	b = newTable(t)
	b.paper(1)
	b.add(b.front(2))
	s, _ = b.load()
	require.Len(t, s.Questions, 1)
	assert.Contains(t, s.Questions[0].Ask, "1 row with ink was counted on the paper of card 2")
}

// Somebody says that nothing stands in a row that was entered. Then somebody enters it all the same, as from a page that had lain open, or
// a judge reads it aloud: of two who saw the card otherwise neither is dropped without a word. Source: our own logic, after decision 0006.
func TestEntered_SaidNotToBeThereAndEnteredSince_IsAskedAnew(t *testing.T) {
	key := "run1/Blue/card-2/front/row-02.bib"
	for name, first := range map[string]func(*table){
		"on another photo": func(b *table) {
			b.add(b.front(2, "14", "19"))
			b.types("Ada", key, "19")
			b.add(b.front(2, "14"))
			b.laterCounts()
		},
		"on paper": func(b *table) {
			b.paper(2)
			b.types("Ada", key, "19")
			b.paper(1)
		},
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(t)
			first(b)
			asked := func() *stack.PhotoQuestion {
				s, _ := b.load()
				for i, q := range s.Questions {
					if len(q.Answers) == 2 && q.Answers[1].Value == stack.AnswerNotThere {
						return &s.Questions[i]
					}
				}
				require.Fail(t, "it isn't asked")
				return nil
			}
			require.False(t, asked().Answered)
			b.answer(asked().Key, stack.AnswerNotThere)
			require.True(t, asked().Answered)

			b.types("Bo", key, "19")
			q := asked()
			assert.False(t, q.Answered)
			assert.Contains(t, q.Ask, "Ada said that nothing stands there")
			s, result := b.load()
			assert.Equal(t, sheetmodel.BibWaiting, s.Row(rowRef(2, 2)).BibState)
			assert.True(t, open(result, q.Ask))
			b.answer(q.Key, stack.AnswerNotThere)
			require.True(t, asked().Answered, "said of that entry too")
			s, _ = b.load()
			assert.Equal(t, sheetmodel.BibSetAside, s.Row(rowRef(2, 2)).BibState)

			b.types("Cy", key, "19")
			b.answer(asked().Key, stack.AnswerStands)
			b.types("Di", key, "19")
			assert.True(t, asked().Answered, "that it stands is said of the card")
		})
	}
}

// What an older program kept of that question names no entries: it counts for what had been entered by then.
func TestEntered_AnswerOfAnOlderProgram_CountsForWhatWasEnteredThen(t *testing.T) {
	b := newTable(t)
	b.paper(2)
	b.types("Ada", "run1/Blue/card-2/front/row-02.bib", "19")
	b.paper(1)
	b.answer("row-entered/run1/Blue/card-2/row-02/paper-1", stack.AnswerNotThere)
	s, _ := b.load()
	assert.Equal(t, sheetmodel.BibSetAside, s.Row(rowRef(2, 2)).BibState)
	b.types("Bo", "run1/Blue/card-2/front/row-02.bib", "19")
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibWaiting, s.Row(rowRef(2, 2)).BibState)
}
