package racefolder_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

func TestOpen_CodesGivenOtherMeaningsAfterPrinting_AreNamed(t *testing.T) {
	dir := printedRace(t)
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	for _, spare := range []bool{false, true} {
		l, err := sheetmodel.GateCard().BindRace(f.Race(), "a5", spare)
		require.NoError(t, err)
		_, err = f.SaveLayout(l)
		require.NoError(t, err)
	}
	assert.Empty(t, racefolder.Reused(f.Race()))

	change(t, dir, racefolder.CodesFile, "code: F,", "code: K,", "code: K,", "code: F,")
	f, err = racefolder.Open(dir)
	require.NoError(t, err)
	said := racefolder.Reused(f.Race())
	require.Len(t, said, 2, "once for each code, however many layouts: %q", said)
	assert.Contains(t, said[0], `code F: cards were printed with F "fault", and the code book now says "lost ski"`)
	assert.Contains(t, said[1], `code K: cards were printed with K "lost ski", and the code book now says "fault"`)
	assert.Contains(t, said[1], "write the old words back")

	change(t, dir, racefolder.CodesFile, "code: F,", "code: K,", "code: K,", "code: F,")
	f, err = racefolder.Open(dir)
	require.NoError(t, err)
	assert.Empty(t, racefolder.Reused(f.Race()), "put back")
}

func TestOpen_EffectChangedAfterPrinting_IsNamedUntilPutBackOrPrintedAgain(t *testing.T) {
	dir := printedRace(t)
	reused := func() []string {
		f, err := racefolder.Open(dir)
		require.NoError(t, err)
		return racefolder.Reused(f.Race())
	}
	assert.Empty(t, reused())
	old, other := "effect: hindered", "effect: inform"
	change(t, dir, racefolder.CodesFile, old, other)
	said := reused()
	require.Len(t, said, 1)
	assert.Contains(t, said[0], `code H: it had "effect: hindered" when cards were printed, and the code book now says "effect: inform"; rows with H wait`)
	assert.Contains(t, said[0], "write the old effect back, or, if the new one is meant, print cards again")

	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	require.NoError(t, f.SavePrinted())
	assert.Empty(t, reused(), "printed again: it is meant")
}
