package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// The law of the project: a text chosen after seeing the machine's is never a look.
func TestLoad_JudgeAskedByWhoeverWasToldTheText_IsNoLook(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14"))
	const key = "run1/Blue/card-2/front/row-01.bib"
	require.NoError(t, b.store.Serve(t.Context(), store.Served{Session: "Ada", Person: "Ada", Readings: []string{key}, Reveals: true, What: "draft"}))
	_, err := b.store.Settle(t.Context(), store.Entry{Reading: key, Text: "14", Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: "Ada", Session: "Ada"})
	require.NoError(t, err)
	s, _ := b.load()
	assert.NotEqual(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState, "told, then 'asked': %+v", s.Rows[0].BibSeen.Seen.Looks)
}

// Unicode Standard Annex 15: names that differ only in normalisation form are one name.
func TestLoad_OneNameInOtherCodePoints_IsOnePerson(t *testing.T) {
	for _, other := range []string{"Ada\u200b", "Ada\u00ad", "Ａda"} {
		b := newTable(t)
		require.NoError(t, b.store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, Rows: 1, By: "Ada"}))
		const key = "run1/Blue/card-2/front/row-01.bib"
		b.types("Ada", key, "14")
		b.types(other, key, "14")
		s, _ := b.load()
		assert.NotEqual(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState, "%q", other)
	}
	// composed and decomposed é
	b := newTable(t)
	require.NoError(t, b.store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 2}, Rows: 1, By: "Ada"}))
	const key = "run1/Blue/card-2/front/row-01.bib"
	b.types("Ren\u00e9", key, "14")
	b.types("Rene\u0301", key, "14")
	s, _ := b.load()
	assert.NotEqual(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState, "NFC/NFD")
}
