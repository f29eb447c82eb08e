package store_test

import (
	"bytes"
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

// twoSides adds a photo of two cards without an identity, the one left of the other, as a reader found them.
func (l laptop) twoSides(reader string, left, right int) {
	l.t.Helper()
	p, _, err := l.AddPhoto(l.t.Context(), "both.jpg", bytes.NewReader([]byte("\xff\xd8\xff\xe0 both")), -1, time.Time{})
	require.NoError(l.t, err)
	two := make([]store.NewSheet, 2)
	for place, part := range []int{left, right} {
		side := storetest.Side(1, 1, []string{"46", "17"}[place])
		x := float64(1000 * place)
		side.Card, side.Part, side.Read.Plain = sheetmodel.CardKey{}, part, &store.PlainCard{OneSided: true}
		side.Corners = [4]sheetmodel.PhotoPoint{{X: x, Y: 0}, {X: x + 800, Y: 0}, {X: x + 800, Y: 600}, {X: x, Y: 600}}
		two[part-1] = side
	}
	require.NoError(l.t, l.AddSheets(l.t.Context(), p.ID, reader, two))
}

// Two laptops read one photo of two cards, each by its own reader, and these find the sides in another order. Whoever said on the
// one which card a side is, said it of that sheet of paper and not of the other. Source: our own logic.
func TestJoin_SidesFoundInAnotherOrder_KeepTheirNames(t *testing.T) {
	for _, which := range []string{"into the one that named", "into the other"} {
		dir := filepath.Join(t.TempDir(), "copy")
		a := laptopAt(t, t.TempDir(), 0)
		require.NoError(t, os.CopyFS(dir, os.DirFS(a.Dir())))
		b := laptopAt(t, dir, -time.Hour)
		a.twoSides("reader 1", 1, 2)
		b.twoSides("reader 2", 2, 1)
		photos, err := a.Photos(t.Context())
		require.NoError(t, err)
		for part, card := range []string{card4, card5} { // 46 is on card 4
			require.NoError(t, a.Answer(t.Context(), store.Answer{Question: store.WhichCard(photos[0].ID, part+1), Value: card, By: "Ada"}))
		}
		sheets, err := a.Sheets(t.Context())
		require.NoError(t, err)
		for _, s := range sheets {
			require.True(t, a.typesOn("Bo", store.CardName(s.Card), s.Read.Reading.Rows[0].Bib.Text, s.ID).Blind)
		}
		into, from := a, b
		if which == "into the other" {
			into, from = b, a
		}
		_, err = into.Join(t.Context(), from.Store)
		require.NoError(t, err)
		decisions, err := into.Decisions(t.Context())
		require.NoError(t, err)
		require.Len(t, decisions, 2)
		for _, d := range decisions {
			s, err := into.Sheet(t.Context(), d.Sheet)
			require.NoError(t, err)
			assert.Equal(t, s.Read.Reading.Rows[0].Bib.Text, d.Text, "%s: typed of another sheet of paper", which)
		}
		sheets, err = into.Sheets(t.Context())
		require.NoError(t, err)
		for _, s := range sheets {
			bib := s.Read.Reading.Rows[0].Bib.Text
			if s.Named() {
				assert.Equal(t, map[string]int{"46": 4, "17": 5}[bib], s.Card.Card, "%s: %s", which, bib)
			}
		}
		assert.Len(t, sheets, 2)
	}
}
