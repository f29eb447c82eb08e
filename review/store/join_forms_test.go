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

// forked adds a photo of one paper that was read as two forms.
func (l laptop) forked() {
	l.t.Helper()
	p, _, err := l.AddPhoto(l.t.Context(), "league.jpg", bytes.NewReader([]byte("\xff\xd8\xff\xe0 forked")), -1, time.Time{})
	require.NoError(l.t, err)
	var two []store.NewSheet
	for i := range 2 {
		side := storetest.Side(1, 1, "46")
		side.Card, side.Part, side.Read.Plain = sheetmodel.CardKey{}, i+1, &store.PlainCard{OneSided: true, Or: []int{2 - i}}
		side.Layout = fmt.Sprint("form ", i+1)
		two = append(two, side)
	}
	require.NoError(l.t, l.AddSheets(l.t.Context(), p.ID, "reader", two))
}

// calls says which card the paper is, read as one of its forms; empty: nobody knows any more.
func (l laptop) calls(form int, card string) {
	l.t.Helper()
	photos, err := l.Photos(l.t.Context())
	require.NoError(l.t, err)
	require.NoError(l.t, l.Answer(l.t.Context(), store.Answer{Question: store.WhichCard(photos[0].ID, form), Value: card, By: "Ada"}))
}

// One paper fits two forms. Whoever was shown what stands on it as the one has seen its ink, also when it is read as the other:
// here, on another laptop, and where a name is given again that was taken back. Source: design, section 5.6; our own logic.
func TestNames_OnePaperOfTwoForms_ShownAsOneIsSeenAsTheOther(t *testing.T) {
	for _, way := range []string{"here", "here, given again", "into the one that shows", "into the one that types"} {
		l := laptopAt(t, t.TempDir(), 0)
		l.forked()
		if way == "here" || way == "here, given again" {
			if way == "here, given again" {
				l.calls(1, card5)
				l.calls(1, "")
			}
			l.calls(2, card4)
			l.shows("Bo", card4+"/front/row-01.bib")
			l.calls(2, "")
			l.calls(1, card5)
			assert.False(t, l.typesOn("Bo", card5, "46", l.sheet()).Blind, way)
			continue
		}
		dir := filepath.Join(t.TempDir(), "copy")
		require.NoError(t, os.CopyFS(dir, os.DirFS(l.Dir())))
		o := laptopAt(t, dir, -time.Hour)
		l.calls(2, card4)
		l.shows("Bo", card4+"/front/row-01.bib")
		o.calls(1, card5)
		require.True(t, o.typesOn("Bo", card5, "46", o.sheet()).Blind)
		into, from := l, o
		if way == "into the one that types" {
			into, from = o, l
		}
		_, err := into.Join(t.Context(), from.Store)
		require.NoError(t, err)
		d, err := into.Decisions(t.Context())
		require.NoError(t, err)
		require.Len(t, d, 1)
		assert.False(t, d[0].Blind, way)
	}
}
