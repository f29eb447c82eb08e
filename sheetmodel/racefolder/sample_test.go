package racefolder_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel/racefolder"
)

func TestSample_NamesEachPartUntilItIsFilledIn(t *testing.T) {
	dir := starterRace(t)
	mend := []struct {
		says         string
		file         string
		from, toText string
	}{
		{`race.yaml: name is still "New race"`, racefolder.RaceFile, "name: New race", "name: Spring Cup"},
		{"race.yaml: time_zone is still UTC", racefolder.RaceFile, "time_zone: UTC", "time_zone: Europe/Vienna"},
		{"start list: 6 of 6 starters are the sample's", racefolder.StartListFile, "", "bib,name,club,group\n1,Somebody Else,,girls\n"},
		{`race.yaml: rules, name is still "our league"`, racefolder.RaceFile, "name: our league", "name: Hill League"},
		{"code book: still the one of Three Valleys", racefolder.CodesFile, "name: Three Valleys", "name: Four Valleys"},
	}
	for i, m := range mend {
		f, err := racefolder.Open(dir)
		require.NoError(t, err)
		left := f.Sample()
		require.Len(t, left, len(mend)-i)
		assert.Contains(t, left[0], m.says)
		if m.from == "" {
			require.NoError(t, os.WriteFile(filepath.Join(dir, m.file), []byte(m.toText), 0o644))
			continue
		}
		change(t, dir, m.file, m.from, m.toText)
	}
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	assert.Empty(t, f.Sample())
	f, err = racefolder.Open("../../testdata/demo-race")
	require.NoError(t, err)
	assert.Empty(t, f.Sample(), "the invented league may use its own book")
}
