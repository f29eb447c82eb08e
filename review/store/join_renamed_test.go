package store_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// plainParted is a race with one photo of a side without an identity, taken for card 4, and a copy of it in which
// somebody says that the side is card 5.
func plainParted(t *testing.T) (four, five laptop) {
	t.Helper()
	four = laptopAt(t, t.TempDir(), 0)
	four.plain(1, 4)
	dir := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(dir, os.DirFS(four.Dir())))
	five = laptopAt(t, dir, -time.Hour)
	five.names(1, "run1/Blue/card-5")
	return four, five
}

// plain adds a photo of a side without an identity.
func (l laptop) plain(n, card int) {
	l.t.Helper()
	p, _, err := l.AddPhoto(l.t.Context(), "league.jpg", bytes.NewReader(fmt.Appendf([]byte("\xff\xd8\xff\xe0"), "plain %d", n)), -1, time.Time{})
	require.NoError(l.t, err)
	side := storetest.Side(card, 1, "46")
	side.Part, side.Read.Plain = 1, &store.PlainCard{OneSided: true}
	require.NoError(l.t, l.AddSheets(l.t.Context(), p.ID, "reader", []store.NewSheet{side}))
}

// names says which card the n-th photo shows.
func (l laptop) names(n int, card string) {
	l.t.Helper()
	photos, err := l.Photos(l.t.Context())
	require.NoError(l.t, err)
	require.NoError(l.t, l.Answer(l.t.Context(), store.Answer{Question: store.WhichCard(photos[n-1].ID, 1), Value: card, By: "Ada"}))
}

// typesOn types the bib of row 1 of a card unseen.
func (l laptop) typesOn(by, card, text string, sheet int64) store.Decision {
	l.t.Helper()
	reading := card + "/front/row-01.bib"
	require.NoError(l.t, l.Serve(l.t.Context(), store.Served{Session: session(by), Person: by, Readings: []string{reading}, Sheet: sheet, What: "entry"}))
	return l.settles(store.Entry{Reading: reading, Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: session(by), Sheet: sheet})
}

const card4, card5, card6 = "run1/Blue/card-4", "run1/Blue/card-5", "run1/Blue/card-6"

// Whoever was shown a text on one laptop has typed nothing unseen on the other, whatever the side is called there.
// Source: our own logic.
func TestJoin_RenamedInOneCopy_ShownUnderTheOtherNameIsSeen(t *testing.T) {
	for _, way := range []string{"shown", "taken back", "shown to another"} {
		for _, direction := range []string{"into the one that shows", "into the one that types"} {
			four, five := plainParted(t)
			switch way {
			case "shown":
				four.shows("bo", card4+"/front/row-01.bib")
			case "taken back":
				four.setsAsideOn("Cy", card4)
				d, err := four.Decisions(t.Context())
				require.NoError(t, err)
				require.NoError(t, four.Undo(t.Context(), d[0].ID, "Bo", session("Bo")))
			default:
				four.shows("Di", card4+"/front/row-01.bib")
			}
			require.True(t, five.typesOn("Bo", card5, "46", five.sheet()).Blind)
			into, from := four, five
			if direction == "into the one that types" {
				into, from = five, four
			}
			done := into.joins(from)
			want := 1
			if way == "shown to another" {
				want = 0
			}
			assert.Equal(t, want, done.Sighted, "%s, %s", way, direction)
			all, err := into.Decisions(t.Context())
			require.NoError(t, err)
			for _, d := range all {
				if d.By == "Bo" {
					assert.Equal(t, want == 0, d.Blind, "%s, %s", way, direction)
				}
			}
		}
	}
}

func (l laptop) setsAsideOn(by, card string) {
	l.t.Helper()
	l.settles(store.Entry{Reading: card + "/front/row-01.bib", Basis: sheetmodel.BasisSetAside, Note: "can't be read", By: by, Session: session(by), Sheet: l.sheet()})
}

// What two copies settled differently about one ink is a dispute though they call its card differently, and it goes with
// the ink when that gets another name: it can be settled there, and holds no other sheet of paper. Source: our own logic.
func TestJoin_RenamedInOneCopy_SettledDifferentlyIsADispute(t *testing.T) {
	for _, direction := range []string{"into four", "into five"} {
		four, five := plainParted(t)
		four.typesOn("Bo", card4, "46", four.sheet())
		five.typesOn("Cy", card5, "40", five.sheet())
		into, from := four, five
		if direction == "into five" {
			into, from = five, four
		}
		require.Len(t, into.joins(from).Disputes, 1, direction)
		subjects := func() []string {
			all, err := into.Disputes(t.Context())
			require.NoError(t, err)
			var names []string
			for _, d := range all {
				names = append(names, d.Subject)
			}
			return names
		}
		assert.Equal(t, []string{card5 + "/front/row-01.bib"}, subjects(), "the side is called card 5 in both now")
		into.names(1, card6)
		into.plain(2, 5)
		assert.Equal(t, []string{card6 + "/front/row-01.bib"}, subjects(), "it goes with its ink")
		sheets, err := into.Sheets(t.Context())
		require.NoError(t, err)
		into.typesOn("Di", card5, "46", sheets[1].ID)
		assert.Len(t, subjects(), 1, "an entry about another paper settles nothing")
		into.typesOn("Ed", card6, "46", sheets[0].ID)
		assert.Empty(t, subjects())
	}
}

// A dispute under one name isn't left behind when its side gets another. Source: our own logic.
func TestJoin_DisputedThenRenamed_StillWaits(t *testing.T) {
	a := laptopAt(t, t.TempDir(), 0)
	a.plain(1, 4)
	dir := filepath.Join(t.TempDir(), "copy")
	require.NoError(t, os.CopyFS(dir, os.DirFS(a.Dir())))
	b := laptopAt(t, dir, -time.Hour)
	a.typesOn("Bo", card4, "46", a.sheet())
	b.typesOn("Cy", card4, "40", b.sheet())
	require.Len(t, a.joins(b).Disputes, 1)
	a.names(1, card6)
	assert.Equal(t, []string{"reading " + card6 + "/front/row-01.bib: 46 | 40"}, a.open())
	a.typesOn("Ed", card6, "46", a.sheet())
	assert.Empty(t, a.open())
}

// One laptop holds one paper under two numbers, and somebody who was shown its text under the one has typed it under the
// other; only the other laptop knows that both are one card. Source: our own logic.
func TestJoin_NamedOnTheOtherLaptop_WhatWasShownHereUnderTheOtherNumberWasSeen(t *testing.T) {
	for _, c := range []struct{ typed, shown string }{{card4, card5}, {card5, card4}} {
		for _, direction := range []string{"named there", "named here"} {
			for _, by := range []string{"ada", "Bo"} {
				types := laptopAt(t, t.TempDir(), 0)
				types.plain(1, 4)
				types.plain(2, 5)
				dir := filepath.Join(t.TempDir(), "copy")
				require.NoError(t, os.CopyFS(dir, os.DirFS(types.Dir())))
				names := laptopAt(t, dir, -time.Hour)
				names.names(2, card4)
				sheets, err := types.Sheets(t.Context())
				require.NoError(t, err)
				at := sheets[0].ID
				if c.typed == card5 {
					at = sheets[1].ID
				}
				require.NoError(t, types.Serve(t.Context(), store.Served{Session: "x", Person: by, Readings: []string{c.shown + "/front/row-01.bib"}, Reveals: true, What: "card"}))
				require.True(t, types.typesOn("Ada", c.typed, "46", at).Blind, "two cards, as far as this laptop knows")
				in, other := types, names
				if direction == "named here" {
					in, other = names, types
				}
				in.joins(other)
				all, err := in.Decisions(t.Context())
				require.NoError(t, err)
				require.Len(t, all, 1)
				assert.Equal(t, by == "Bo", all[0].Blind, "%+v, %s, %s", c, direction, by)
			}
		}
	}
}

// Two photos of one card were taken for two others, and then both for the one that they are. Whoever was shown its text on the one
// has typed nothing unseen on the other, though neither photo was ever called as the other was before: on one laptop, and where three
// laptops each know a part of it. Source: our own logic.
func TestRenamed_TwoPhotosThatMeetUnderAThirdNumber_ShownOnTheOneIsSeenOnTheOther(t *testing.T) {
	shows := func(l laptop, by string) { l.shows(by, card4+"/front/row-01.bib") }
	blind := func(l laptop) bool {
		all, err := l.Decisions(t.Context())
		require.NoError(t, err)
		require.Len(t, all, 1)
		return all[0].Blind
	}
	second := func(l laptop) int64 {
		sheets, err := l.Sheets(t.Context())
		require.NoError(t, err)
		return sheets[1].ID
	}
	two := func() laptop {
		l := laptopAt(t, t.TempDir(), 0)
		l.plain(1, 4)
		l.plain(2, 5)
		return l
	}
	for _, by := range []string{"Bo", "Di"} { // who is shown; Bo types
		l := two()
		shows(l, by)
		require.True(t, l.typesOn("Bo", card5, "46", second(l)).Blind, "two cards, as far as anybody knows")
		l.names(1, card6)
		assert.True(t, blind(l), by)
		l.names(2, card6)
		assert.Equal(t, by == "Di", blind(l), "typed, then named; shown to %s", by)

		l = two()
		shows(l, by)
		l.names(1, card6)
		l.names(2, card6)
		assert.Equal(t, by == "Di", l.typesOn("Bo", card6, "46", second(l)).Blind, "named, then typed; shown to %s", by)

		a := two()
		var copies []laptop
		for _, ahead := range []time.Duration{-time.Hour, -2 * time.Hour} {
			dir := filepath.Join(t.TempDir(), "copy")
			require.NoError(t, os.CopyFS(dir, os.DirFS(a.Dir())))
			copies = append(copies, laptopAt(t, dir, ahead))
		}
		b, c := copies[0], copies[1]
		shows(a, by)
		b.typesOn("Bo", card5, "46", second(b))
		b.names(2, card6)
		c.names(1, card6)
		a.joins(c)
		a.joins(b)
		assert.Equal(t, by == "Di", blind(a), "three laptops, shown to %s", by)
	}
}
