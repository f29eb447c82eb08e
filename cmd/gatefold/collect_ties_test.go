package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// neverSure is a judge for whom no two writings are certain enough.
type neverSure struct{}

func (neverSure) Judge(calib.Kind, float64) (sheetmodel.Certainty, bool) {
	return sheetmodel.Certainty{}, false
}

// Two photos of one front came with the same command, and a person may say that the first one counts: what
// its second writing says against it must be known then too.
func TestTie_EveryFrontWithEveryBack(t *testing.T) {
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	in := &intake{store: s}
	add := func(read sheetmodel.SheetReading) {
		photos, err := s.Photos(t.Context())
		require.NoError(t, err)
		p, _, err := s.AddPhoto(t.Context(), "a.jpg", strings.NewReader(fmt.Sprint("\xff\xd8\xff", len(photos))), -1, time.Time{})
		require.NoError(t, err)
		require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader", []store.NewSheet{{
			Part: 1, Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 4}, Read: store.SideRead{Reading: read},
		}}))
	}
	front := func(bib, again string) sheetmodel.SheetReading {
		written := func(text string) sheetmodel.Reading {
			return sheetmodel.Reading{Field: "row-01.bib", Text: text, State: sheetmodel.Clear}
		}
		return sheetmodel.SheetReading{Side: sheetmodel.Front, Rows: []sheetmodel.Row{{Number: 1, HasInk: true, Bib: written(bib), BibAgain: written(again)}}}
	}
	add(front("46", "40"))
	require.NoError(t, in.tieAll(t.Context(), "r", neverSure{}))
	ties, err := s.Ties(t.Context())
	require.NoError(t, err)
	require.Len(t, ties, 1, "a front alone has its second boxes")

	add(front("46", "46"))
	add(sheetmodel.SheetReading{Side: sheetmodel.Back})
	add(sheetmodel.SheetReading{Side: sheetmodel.Back})
	for range 2 { // the second time there is nothing new
		require.NoError(t, in.tieAll(t.Context(), "r", neverSure{}))
	}
	ties, err = s.Ties(t.Context())
	require.NoError(t, err)
	sheets, err := s.Sheets(t.Context())
	require.NoError(t, err)
	differs := map[[2]int64]bool{}
	for _, c := range ties {
		require.Len(t, c.Ties, 1)
		differs[[2]int64{c.Front, c.Back}] = c.Ties[0].Differs
	}
	first, second, b1, b2 := sheets[0].ID, sheets[1].ID, sheets[2].ID, sheets[3].ID
	assert.Equal(t, map[[2]int64]bool{{first, 0}: true, {first, b1}: true, {first, b2}: true, {second, b1}: false, {second, b2}: false}, differs)
	assert.Len(t, ties, 5)

	require.NoError(t, in.tieAll(t.Context(), "better", neverSure{}))
	ties, err = s.Ties(t.Context())
	require.NoError(t, err)
	assert.Len(t, ties, 9, "a better reader looks again")
}

// A card of another make has its drawings beside its rows, and a back for something else. What stands below a drawing is held against the
// row whether the back is in or not: a bib that differs there was no question once it was. Our own logic.
func TestTie_PanelsOnTheFront_AreTiedWithABackToo(t *testing.T) {
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	in := &intake{store: s}
	written := func(text string) sheetmodel.Reading { return sheetmodel.Reading{Text: text, State: sheetmodel.Clear} }
	for i, read := range []sheetmodel.SheetReading{
		{
			Side: sheetmodel.Front, Rows: []sheetmodel.Row{{Number: 1, HasInk: true, Bib: written("46"), Panel: written("A")}},
			Strips: []sheetmodel.StripEntry{{Panel: "A", Entry: 1, Bib: written("40")}},
		},
		{Side: sheetmodel.Back},
	} {
		p, _, err := s.AddPhoto(t.Context(), "a.jpg", strings.NewReader(fmt.Sprint("\xff\xd8\xff", i)), -1, time.Time{})
		require.NoError(t, err)
		require.NoError(t, s.AddSheets(t.Context(), p.ID, "reader", []store.NewSheet{{
			Part: 1, Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 4}, Read: store.SideRead{Reading: read},
		}}))
		require.NoError(t, in.tieAll(t.Context(), "r", neverSure{}))
	}
	ties, err := s.Ties(t.Context())
	require.NoError(t, err)
	require.Len(t, ties, 2)
	for _, c := range ties {
		require.Len(t, c.Ties, 1, "back %d", c.Back)
		assert.Equal(t, "40", c.Ties[0].Second)
		assert.False(t, c.Ties[0].Clear)
		assert.NotEmpty(t, c.Ties[0].Detail)
	}
}
