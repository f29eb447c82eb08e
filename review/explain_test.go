package review_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/draft"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// Whoever asks for every bib of the race, one after the other, learns nothing of a row that waits: whatever it is
// read as, every answer is the same, word for word.
func TestExplain_AskedForEveryBib_TellsNothingOfARowThatWaits(t *testing.T) {
	inFull(t)
	answers := func(row stacktest.Row) (all []string) {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, row, stacktest.Row{Bib: "9", Code: "U", Gate: "5"})
		b.Card("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "9"}, stacktest.Row{Bib: "22", Code: "U", Gate: "9"})
		for _, person := range []string{"Ada", "Bo"} {
			b.Type(person, stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
		}
		st, result := b.Load()
		shown, said, _ := review.Veil(st, result)
		d, err := draft.New(shown, said, draft.Options{At: time.Date(2027, 1, 16, 12, 0, 0, 0, time.UTC)})
		require.NoError(t, err)
		for n := range 120 {
			all = append(all, fmt.Sprintf("%+v", d.Explain(b.Race, fmt.Sprint(n), "")))
		}
		return all
	}
	for _, row := range []stacktest.Row{
		{Code: "F", Gate: "6", State: sheetmodel.Doubtful}, {Code: "U", Gate: "6", State: sheetmodel.Doubtful}, {Code: "F", Gate: "5"}, {Code: "F", Gate: "6", Struck: true},
	} {
		var first []string
		for _, bib := range []string{"14", "22", "9", "30", "99"} {
			row.Bib = bib
			got := answers(row)
			if first == nil {
				first = got
			}
			assert.Equal(t, first, got, "%+v", row)
		}
	}
}
