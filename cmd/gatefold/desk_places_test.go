package main

import (
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// Judges are placed by two people at once, and race.yaml keeps its comments.
func TestSavePlaceIn_KeepsAllAndTheComments(t *testing.T) {
	race := raceCopy(t)
	file := filepath.Join(race, "race.yaml")
	text := "# mended by hand\n" + string(fileOf(t, file))
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	save := savePlaceIn(race)
	require.NoError(t, save(1, "Blue", sheetmodel.Place{Card: 6}, true))
	var group sync.WaitGroup
	for card := 20; card < 30; card++ {
		group.Go(func() {
			assert.NoError(t, save(1, "Blue", sheetmodel.Place{Card: card, Gates: []string{"3", "4"}, Judge: "Ada Fir"}, false))
		})
	}
	group.Wait()
	require.NoError(t, save(1, "Blue", sheetmodel.Place{Card: 1, Gates: []string{"1", "2"}, Phone: "555 0199"}, false))
	f, err := racefolder.Open(race)
	require.NoError(t, err)
	places := f.Race().Run(1).Course("Blue").Places
	require.Len(t, places, 15)
	assert.Equal(t, sheetmodel.Place{Card: 1, Gates: []string{"1", "2"}, Phone: "555 0199"}, places[0])
	assert.Equal(t, 29, places[14].Card)
	assert.True(t, strings.HasPrefix(string(fileOf(t, file)), "# mended by hand\n"))
	// Where the gates of a course aren't known yet, a range is taken by number.
	require.NoError(t, os.WriteFile(file, []byte(strings.Replace(string(fileOf(t, file)), "gates: 1-34", "gates: not known", 1)), 0o600))
	require.NoError(t, save(1, "Blue", sheetmodel.Place{Card: 30, Gates: []string{"5", "6", "7"}}, false))
	before := fileOf(t, file)
	require.ErrorContains(t, save(1, "Red", sheetmodel.Place{Card: 7, Gates: []string{"99"}}, false), "99")
	require.ErrorIs(t, save(9, "Blue", sheetmodel.Place{Card: 7}, false), racefolder.ErrNoSuchPart)
	assert.Equal(t, before, fileOf(t, file))
}

// A place that is changed on the page keeps who took over there, which is written by hand only. Source: our own logic.
func TestSavePlaceIn_ReliefWrittenByHand_Stays(t *testing.T) {
	race := raceCopy(t)
	f, err := racefolder.Open(race)
	require.NoError(t, err)
	was := f.Race().Run(1).Course("Blue").Places[0]
	file := filepath.Join(race, "race.yaml")
	text := string(fileOf(t, file))
	at := strings.Index(text, "judge: "+was.Judge)
	require.Positive(t, at)
	text = text[:at] + "relief: [{at: \"10:42\", judge: Bo Larch}], " + text[at:]
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	require.NoError(t, savePlaceIn(race)(1, "Blue", sheetmodel.Place{Card: was.Card, Gates: was.Gates, Judge: "Ada Fir"}, false))
	f, err = racefolder.Open(race)
	require.NoError(t, err)
	place := f.Race().Run(1).Course("Blue").Places[0]
	assert.Equal(t, "Ada Fir", place.Judge)
	assert.Equal(t, []sheetmodel.Relief{{At: "10:42", Judge: "Bo Larch"}}, place.Relief)
}
