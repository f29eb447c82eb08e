package main

import (
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func blankCard(t *testing.T, name string) *sheetmodel.Layout {
	t.Helper()
	file := filepath.Join("../../testdata/blank-cards", name+".yaml")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	l, err := sheetmodel.ParseLayout(file, text)
	require.NoError(t, err)
	return l
}

// A bib below a drawing is that of the one row that names its panel: only then are there two writings to compare.
// Source: our own logic.
func TestSaid_CardWithPanelsBesideItsRows_StripSaysWhatItsRowSays(t *testing.T) {
	side := &blankCard(t, "landscape").Sides[0]
	pairs := 0
	for seed := range uint64(50) {
		out := said(side, rand.New(rand.NewPCG(seed, 1)))
		for _, strip := range side.Fields {
			if strip.Part != sheetmodel.PartBib || strip.Panel == "" {
				continue
			}
			var bibs []string
			for n := 1; n <= side.Rows(); n++ {
				bib, panel := "", ""
				for _, f := range side.RowFields(n) {
					switch f.Part {
					case sheetmodel.PartBib:
						bib = out[f.Name]
					case sheetmodel.PartPanel:
						panel = out[f.Name]
					default:
					}
				}
				if panel == strip.Panel {
					bibs = append(bibs, bib)
				}
			}
			if out[strip.Name] == "" {
				assert.Empty(t, bibs)
				continue
			}
			assert.Equal(t, []string{out[strip.Name]}, bibs)
			pairs++
		}
	}
	assert.Positive(t, pairs)
}

// Entries of a bib: none with two certain writings, one where the ink has no rival and is right, else two. Our own logic.
func TestEntries_CountsWhatPeopleType(t *testing.T) {
	seen := sheetmodel.Reading{Field: "row-01.bib", Text: "14"}
	p := &leaguePhoto{}
	assert.Equal(t, 0, p.entries(seen, "14", true, nil))
	assert.Equal(t, 2, p.entries(seen, "14", false, nil))
	assert.Equal(t, 1, p.entries(seen, "14", false, []string{"row-01.bib"}))
	assert.Equal(t, 0, p.AloneWrong)
	assert.Equal(t, 2, p.entries(seen, "19", false, []string{"row-01.bib"}))
	assert.Equal(t, 1, p.AloneWrong)
}

// Figures of one card by two readers are never put together, and a line that was cut off is no photo. Our own logic.
func TestLeaguesReport_TwoReaders_IsRefused(t *testing.T) {
	s := settings{work: t.TempDir(), out: t.TempDir()}
	require.ErrorContains(t, leaguesReport(t.Context(), s), "holds no leagues-*.jsonl")
	line := func(seed uint64, reader, card string) []byte {
		b, err := json.Marshal(leaguePhoto{Seed: seed, Level: "hard", Card: card, Reader: reader, Read: true, Marks: leagueMarks{Told: 3, Missed: 1}})
		require.NoError(t, err)
		return append(b, '\n')
	}
	path := filepath.Join(s.work, "leagues-hard-1-1-of-1.jsonl")
	require.NoError(t, os.WriteFile(path, append(append(line(1, "a", "plain-table"), line(2, "a", "plain-table")...), []byte(`{"seed":3`)...), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(s.out, sinceFile), []byte("## Since then\n\nTwo more.\n"), 0o600))
	require.NoError(t, leaguesReport(t.Context(), s))
	text, err := os.ReadFile(filepath.Join(s.out, "LEAGUES.md"))
	require.NoError(t, err)
	assert.Contains(t, string(text), "| plain-table | hard | 8 | 6 | 0 (0.00 %) | 0 | 2 |")
	assert.True(t, strings.HasSuffix(string(text), "\n\n## Since then\n\nTwo more.\n"), "what people wrote stays")
	other := filepath.Join(s.work, "leagues-hard-2-1-of-1.jsonl")
	require.NoError(t, appendTo(other, line(8, "b", "photocopy")))
	require.NoError(t, leaguesReport(t.Context(), s))
	text, err = os.ReadFile(filepath.Join(s.out, "LEAGUES.md"))
	require.NoError(t, err)
	assert.Contains(t, string(text), "Reader `a`: plain-table hard.\n\nReader `b`: photocopy hard.\n")
	require.NoError(t, appendTo(other, line(9, "b", "plain-table")))
	require.ErrorContains(t, leaguesReport(t.Context(), s), "with one reader")
}
