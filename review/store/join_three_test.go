package store_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
