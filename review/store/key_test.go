package store_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

func TestKey_ParseKey_ComeBack(t *testing.T) {
	for want, c := range map[string]struct {
		card  sheetmodel.CardKey
		side  sheetmodel.SideName
		field string
	}{
		"run1/Blue/card-4/front/row-03.bib":      {sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 4}, sheetmodel.Front, "row-03.bib"},
		"run2/Nord%2FS%C3%BCd/card-12/back/p.b":  {sheetmodel.CardKey{Run: 2, Course: "Nord/Süd", Card: 12}, sheetmodel.Back, "p.b"},
		"spare/card-201/front/foot.row-count":    {sheetmodel.CardKey{Card: 201}, sheetmodel.Front, "foot.row-count"},
		"run1/Blue%20%28b%29/card-4/front/a.bib": {sheetmodel.CardKey{Run: 1, Course: "Blue (b)", Card: 4}, sheetmodel.Front, "a.bib"},
	} {
		assert.Equal(t, want, store.Key(c.card, c.side, c.field))
		card, side, field, err := store.ParseKey(want)
		require.NoError(t, err)
		assert.Equal(t, c.card, card)
		assert.Equal(t, c.side, side)
		assert.Equal(t, c.field, field)
	}
}

func TestParseKey_AnythingElse_IsRefused(t *testing.T) {
	for _, bad := range []string{
		"", "row-03.bib", "run1/Blue/card-4/front/", "run1/Blue/card-4/top/row-03.bib", "run0/Blue/card-4/front/a", "run1/Blue/card-04/front/a",
		"run1/Blue/card-4/front/a/b", "spare/card-4/front", "run01/Blue/card-4/front/a", "run1/%zz/card-4/front/a", "run0//card-4/front/a",
	} {
		_, _, _, err := store.ParseKey(bad)
		require.ErrorContains(t, err, "not a reading's name", bad)
	}
}

// FuzzParseKey: what parses is exactly what Key writes; nothing has two names.
func FuzzParseKey(f *testing.F) {
	f.Add("run1/Blue/card-4/front/row-03.bib")
	f.Add("spare/card-201/front/row-01.bib")
	f.Add("run2/Nord%2FS%C3%BCd/card-12/back/panel-b.entry-1.bib")
	f.Fuzz(func(t *testing.T, key string) {
		card, side, field, err := store.ParseKey(key)
		if err == nil {
			require.Equal(t, key, store.Key(card, side, field))
		}
	})
}
