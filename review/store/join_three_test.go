package store_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/jury"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// Two copies say it differently, and a third says what one of them says, without knowing of the other: that is no word of
// somebody who saw both. In whichever order they are joined, and also when the one that was joined says it once more, it
// waits until it is said where the dispute is known. Source: our own logic.
func TestJoin_ThirdCopySaysIt_SettlesNoDispute(t *testing.T) {
	four := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 4}
	for kind, say := range map[store.DisputeKind]func(l laptop, word string){
		store.DisputeAnswer: func(l laptop, word string) {
			require.NoError(t, l.Answer(t.Context(), store.Answer{Question: "two-photos/run1/Blue/card-4/front/a-1/b-1", Value: word, By: "Ada"}))
		},
		store.DisputeGap: func(l laptop, word string) {
			require.NoError(t, l.CloseGap(t.Context(), store.GapReason{Card: four, Reason: word, By: "Ada"}))
		},
		store.DisputePaper: func(l laptop, word string) {
			require.NoError(t, l.TypeFromPaper(t.Context(), store.PaperCard{Card: four, Rows: len(word), By: "Ada"}))
		},
		store.DisputeBinding: func(l laptop, word string) {
			require.NoError(t, l.Bind(t.Context(), store.Binding{Card: four, Run: 1, Course: "Blue", Gates: []string{word}, Source: "header", By: "Ada"}))
		},
	} {
		for _, again := range []bool{false, true} {
			a, b := parted(t)
			dir := filepath.Join(t.TempDir(), "third")
			require.NoError(t, os.CopyFS(dir, os.DirFS(a.Dir())))
			c := laptopAt(t, dir, -2*time.Hour)
			say(a, "later")
			say(b, "early")
			say(b, "earlier")
			require.Len(t, a.joins(b).Disputes, 1, kind)
			if again {
				say(b, "early")
				say(b, "earlier")
				c = b
			} else {
				say(c, "earlier")
			}
			a.joins(c)
			open, err := a.Disputes(t.Context())
			require.NoError(t, err)
			if assert.NotEmpty(t, open, "%s, said again: %v", kind, again) {
				assert.Equal(t, kind, open[0].Kind)
			}
			assert.False(t, a.joins(c).Changed(), "joined once more, nothing is added")

			say(a, "earlier")
			open, err = a.Disputes(t.Context())
			require.NoError(t, err)
			assert.Empty(t, open, kind)
		}
	}
}

// Each time that the sheet for a coach is given away is a fact of its own: two copies that both gave it away don't gainsay each
// other. Leave to show it, given in the one and refused in the other, does. Source: our own logic.
func TestJoin_CoachShownInBothCopies_IsNoDispute(t *testing.T) {
	a, b := parted(t)
	line := jury.Line{Run: 1, Course: "Blue", Group: "girls", Bib: "14"}
	say := func(l laptop, what any) {
		require.NoError(t, l.Answer(t.Context(), store.Answer{Question: jury.Key(line, what), Value: jury.Value(what), By: "Ada"}))
	}
	noon := time.Date(2027, 1, 23, 12, 0, 0, 0, time.UTC)
	say(a, jury.Shown{At: noon, As: "page"})
	say(b, jury.Shown{At: noon.Add(time.Minute), As: "file"})
	joined := a.joins(b)
	assert.Empty(t, joined.Disputes)
	assert.True(t, joined.Changed(), "both stay in the log")
	say(a, jury.Coach{Allowed: true})
	say(b, jury.Coach{})
	assert.Len(t, a.joins(b).Disputes, 1)
}
