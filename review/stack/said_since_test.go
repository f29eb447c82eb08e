package stack_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Somebody says that a row which looks struck out is. A newer reader of the same photo sees no line there any more, and its two writings
// are clear: the row stays struck out, until that word is taken back. Where another photo shows no line, it is asked again. Source: our own logic.
func TestStruckRow_SaidToBe_StaysSoWhereNoLineIsSeenAnyMore(t *testing.T) {
	for again, standing := range map[string]sheetmodel.Standing{"read again": sheetmodel.StandsInform, "photographed again": sheetmodel.StandsWaiting} {
		b := newTable(t)
		looksStruck := b.front(2, "14")
		looksStruck.Read.Reading.Rows[0].Struck = true
		photo, _, err := b.store.AddPhoto(t.Context(), "p.jpg", bytes.NewReader([]byte("\xff\xd8\xff photo")), -1, time.Time{})
		require.NoError(t, err)
		require.NoError(t, b.store.AddSheets(t.Context(), photo.ID, "reader", []store.NewSheet{looksStruck}))
		s, result := b.load()
		require.Equal(t, rules.MayBeStruck, result.Standings[0].Why)
		key, struck := rules.StruckAnswer(rowRef(2, 1))
		require.NoError(t, b.store.Answer(t.Context(), s.OnPaper(store.Answer{Question: key, Value: struck, By: "Ada"})...))

		if again == "read again" {
			require.NoError(t, b.store.AddSheets(t.Context(), photo.ID, "newer reader", []store.NewSheet{b.front(2, "14")}))
		} else {
			b.add(b.front(2, "14"))
			b.laterCounts()
		}
		s, _ = b.load()
		b.said("Bo", s.Rows[0].BibSeen.Key, "14", s.Rows[0].Sheet.ID, false)
		_, result = b.load()
		require.Len(t, result.Standings, 1)
		assert.Equal(t, standing, result.Standings[0].Standing, "%s: %s", again, result.Standings[0].Why)
		assert.Equal(t, again == "photographed again", result.Standings[0].Why == rules.MayBeStruck, again)
		assert.Empty(t, result.Calls, again)

		b.answer(key, "")
		_, result = b.load()
		assert.NotEmpty(t, result.Calls, "%s: the word was taken back", again)
	}
}

// A drawing seems to hold nothing but the gates, and a person says that it shows the path. The back is photographed again, and seems so
// still: what its judge has drawn, or rubbed out, since nobody has seen. Source: our own logic.
func TestDrawing_SaidToShowAPath_IsAskedAgainOfANewerPhoto(t *testing.T) {
	b := newTable(t)
	b.race.Rules.DrawingDemanded = true
	back := func() store.NewSheet {
		n := b.back(2)
		n.Read.Reading.Ink[0].Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtNoPath, Detail: "for this test"}}
		return n
	}
	asked := func() bool {
		_, result := b.load()
		for _, f := range result.Findings {
			if f.Question != nil && f.Question.Key == rules.PathKey(rowRef(2, 1), "B") {
				return true
			}
		}
		return false
	}
	b.add(b.front(2, "14"), back())
	s, _ := b.load()
	b.said("Bo", s.Rows[0].BibSeen.Key, "14", s.Rows[0].Sheet.ID, false)
	require.True(t, asked())
	s, _ = b.load()
	require.NoError(t, b.store.Answer(t.Context(), s.OnPaper(store.Answer{Question: rules.PathKey(rowRef(2, 1), "B"), Value: "path", By: "Ada"})...))
	require.False(t, asked())
	b.add(b.front(2, "14"))
	require.False(t, asked(), "a newer photo of the front shows no drawing")
	b.add(back())
	assert.True(t, asked())
}

// A row is added with a box that lies beside its ink, and two people see nothing written there. It is taken out, and added again with
// a box around the ink: that nothing is written was said of the other box. Source: our own logic.
func TestAddedRow_BoxDrawnAnew_WhatWasSaidOfTheOtherIsNoLook(t *testing.T) {
	for _, typed := range []string{"", "14"} {
		b := newTable(t)
		b.add(b.front(2, "12"))
		s, _ := b.load()
		add := func(box string) {
			require.NoError(t, b.store.Answer(t.Context(), s.OnPaper(store.Answer{Question: stack.AddedKey(rowRef(2, 3).CardKey, 3), Value: box, By: "Ada"})...))
		}
		add("10.0,20.0,80.0,8.0")
		say := func(by string, part sheetmodel.Part) {
			key := store.Key(rowRef(2, 3).CardKey, sheetmodel.Front, stack.RowField(3, part))
			require.NoError(t, b.store.Serve(t.Context(), store.Served{Session: by, Person: by, Readings: []string{key}, Sheet: s.Rows[0].Sheet.ID, What: "test"}))
			e := store.Entry{Reading: key, Text: typed, Basis: sheetmodel.BasisOnPaper, By: by, Session: by, Sheet: s.Rows[0].Sheet.ID}
			if typed == "" {
				e.Basis = sheetmodel.BasisNoWriting
			}
			_, err := b.store.Settle(t.Context(), e)
			require.NoError(t, err)
		}
		for _, by := range []string{"Ada", "Bo"} {
			say(by, sheetmodel.PartBib)
			if typed == "" { // of the whole row
				say(by, sheetmodel.PartCode)
				say(by, sheetmodel.PartGate)
			}
		}
		settled := func() bool {
			s, _ := b.load()
			r := s.Row(rowRef(2, 3))
			require.NotNil(t, r)
			return len(r.Nothing) > 0 || r.BibState == sheetmodel.BibTwoLooks
		}
		require.True(t, settled(), typed)
		add("")
		add("10.0,20.0,80.0,8.0")
		assert.True(t, settled(), "the same box: %q", typed)
		add("")
		add("10.0,30.0,80.0,8.0")
		assert.False(t, settled(), "another box: %q", typed)
	}
}
