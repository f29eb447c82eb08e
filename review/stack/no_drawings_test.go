package stack_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Whether a card has room for drawings its photos tell: a league's card of one side without panels has none, one whose rows can name
// a panel has, and of two sides both must have been seen. Ours has. Source: our own logic.
func TestCard_NoRoomForDrawings_NobodyIsAskedForOne(t *testing.T) {
	for name, c := range map[string]struct {
		plain  *store.PlainCard
		panels bool // a place in each row to name one
		back   bool
		asked  bool
	}{
		"one side, no panels":           {plain: &store.PlainCard{OneSided: true}},
		"one side, rows name panels":    {plain: &store.PlainCard{OneSided: true}, panels: true, asked: true},
		"two sides, one seen":           {plain: &store.PlainCard{}, asked: true},
		"two sides, both without panel": {plain: &store.PlainCard{}, back: true},
		"our own card":                  {asked: true},
	} {
		b := stacktest.New(t)
		sides := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
		for i := range sides {
			sides[i].Read.Plain = c.plain
			if c.plain != nil {
				sides[i].Read.Reading.Strips, sides[i].Read.Reading.Ink = nil, nil
			}
			for r := range sides[i].Read.Reading.Rows {
				if c.plain != nil && !c.panels {
					sides[i].Read.Reading.Rows[r].Panel = sheetmodel.Reading{}
				}
			}
		}
		if !c.back {
			sides = sides[:1]
		}
		keep(t, b, "card.jpg", "reader", sides...)
		if c.plain != nil {
			all, err := b.Store.Sheets(t.Context())
			require.NoError(t, err)
			for _, s := range all {
				require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: store.WhichCard(s.Photo, s.Part), Value: "run1/Blue/card-1", By: "Ada"}))
			}
		}
		_, result := b.Load()
		asked := false
		for _, f := range result.Findings {
			asked = asked || f.Rule == "drawing" && f.Question != nil
		}
		assert.Equal(t, c.asked, asked, name)
	}
}
