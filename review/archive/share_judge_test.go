package archive_test

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/archive"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// What is handed around proposes what the race proposes and nothing else: a judge who typed their own card and was then asked is
// one person there too, though judges are called by their cards and those who typed by numbers. Source: our own logic.
func TestWrite_HandedAround_JudgeWhoTypedIsOnePersonStill(t *testing.T) {
	b := stacktest.New(t)
	bib := func(card int) string { return stacktest.Key("Blue", card, 1, sheetmodel.PartBib) }
	places := b.Race.Run(1).Course("Blue").Places
	judges := []string{places[0].Judge, "Ida Berg", "Lou Moss", "Cy"}
	places[1].Relief = []sheetmodel.Relief{{At: "10:30", Judge: judges[1]}}
	places[2].Judge = ""
	for i, by := range judges {
		card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: i + 1}
		b.Card("Blue", i+1, stacktest.Row{Bib: "46", Code: "F", Gate: places[i].Gates[1]}) // not what was written: the words below are against it
		if i == 2 {
			require.NoError(t, b.Store.Bind(t.Context(), store.Binding{Card: card, Run: 1, Course: "Blue", Gates: places[i].Gates, Judge: by, Source: "header", By: "Cy"}))
		}
		b.Type(by, bib(i+1), "14")
		b.Ask("Bo", bib(i+1), "14")
	}
	in := input(b)
	proposed := func(names bool) (all []string) {
		in.Names = names
		dir := filepath.Join(t.TempDir(), "archive")
		_, err := archive.Write(t.Context(), dir, in)
		require.NoError(t, err)
		for _, c := range having(records(t, dir, "calls.csv"), "status", "proposed") {
			all = append(all, c["bib"]+": "+c["rows"])
		}
		return all
	}
	require.Equal(t, []string{"14: card 4 row 1"}, proposed(true))
	assert.Equal(t, []string{"14: card 4 row 1"}, proposed(false))
}
