package review_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

func plainFront(b *stacktest.Table, card, part int, row stacktest.Row) store.NewSheet {
	front := b.Sheets("Blue", 1, row)[0]
	front.Part = part
	front.Card, front.Read.Plain = sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}, &store.PlainCard{OneSided: true}
	return front
}

// A newer reader finds one more sheet in a photo, to the left of the one that was found before: what was typed of that one is
// typed of its ink, wherever it stands among the sides now. Source: our own logic.
func TestWhich_PartsCountedOtherwiseByAReader_LooksDontGoOver(t *testing.T) {
	b := stacktest.New(t)
	at := func(s store.NewSheet, x float64) store.NewSheet {
		s.Corners = [4]sheetmodel.PhotoPoint{{X: x, Y: 0}, {X: x + 900, Y: 0}, {X: x + 900, Y: 1200}, {X: x, Y: 1200}}
		return s
	}
	right := at(plainFront(b, 1, 1, stacktest.Row{Bib: "14", Code: "F", Gate: "3"}), 1000)
	photo, _, err := b.Store.AddPhoto(t.Context(), "two.jpg", bytes.NewReader(append(right.Page, "two"...)), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "reader", []store.NewSheet{right}))
	ada := sit(t, open(t, b), "Ada")
	ada.typed(ada.get(bibPage(1, 1)), "14", "paper")
	left := at(plainFront(b, 2, 1, stacktest.Row{Bib: "14", Code: "M", Gate: "9"}), 0)
	right.Part = 2
	require.NoError(t, b.Store.AddSheets(t.Context(), photo.ID, "newer", []store.NewSheet{left, right}))
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	require.Len(t, sheets, 2)
	assert.NotEqual(t, sheets[0].Part, sheets[1].Part)
	st, _ := b.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 1)).BibState)
	assert.NotEqual(t, sheetmodel.BibTwoLooks, st.Row(ref(2, 1)).BibState, "nobody has typed it")
}
