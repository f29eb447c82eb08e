package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
	"gatefold/ocr/weights"
	"gatefold/scan/camera"
	"gatefold/scan/scantest"
)

const scoreboard = "../../testdata/bench/results.json"

func readScoreboard(t *testing.T) results {
	t.Helper()
	data, err := os.ReadFile(scoreboard)
	require.NoError(t, err)
	var r results
	require.NoError(t, json.Unmarshal(data, &r))
	return r
}

// A scoreboard of other weights, curves or levels would be a figure that nobody measured.
func TestScoreboard_IsOfTheEmbeddedReader(t *testing.T) {
	r := readScoreboard(t)
	curves, err := calib.Default(weights.Combs())
	require.NoError(t, err)
	assert.Equal(t, camera.LevelsHash(), r.Levels)
	groups := 0
	v := reflect.ValueOf(r)
	for i := range v.NumField() {
		f := v.Field(i)
		if f.Kind() != reflect.Pointer || f.IsNil() || f.Elem().Kind() != reflect.Struct {
			continue
		}
		made, ok := f.Elem().FieldByName("MadeWith").Interface().(MadeWith)
		require.True(t, ok, v.Type().Field(i).Name)
		groups++
		if v.Type().Field(i).Name == "Ticks" {
			// Half a million boxes take hours: the line names the reader that they were counted with, and no tick is read
			// by a net.
			assert.NotEmpty(t, made.Commit)
			continue
		}
		assert.Equal(t, weights.Combs(), made.Weights, "%s: measure again with make bench", v.Type().Field(i).Name)
		assert.NotEmpty(t, made.Commit, v.Type().Field(i).Name)
		if v.Type().Field(i).Name != "Digit" { // digits are read without curves
			assert.Equal(t, curves.Hash(), made.Curves, "%s: measure again with make bench", v.Type().Field(i).Name)
		}
	}
	assert.GreaterOrEqual(t, groups, 8)
}

// Counts must add up, whoever wrote the file.
func TestScoreboard_AddsUp(t *testing.T) {
	r := readScoreboard(t)
	for name, c := range map[string]*scanCounts{"ordinary": r.Scan.Ordinary, "hard": r.Scan.Hard, "impossible": r.Scan.Impossible} {
		assert.Equal(t, c.Total, c.Found+c.Wrong+c.Refused, name)
		assert.Positive(t, c.Total, name)
	}
	for name, g := range map[string]*levelsGroup{"bib1": r.Bib1, "bib2": r.Bib2, "code": r.Code, "gate": r.Gate} {
		for _, c := range []*clearGroup{g.Ordinary, g.Hard} {
			require.NotNil(t, c, name)
			assert.LessOrEqual(t, c.ClearWrong, c.Clear, name)
			assert.InDelta(t, calib.Upper(c.ClearWrong, c.Clear, missed), c.Upper95, 1e-9, name)
			assert.InDelta(t, 1-float64(c.Clear)/float64(c.Total), c.AskedShare, 1e-9, name)
		}
	}
}

func TestAccount_AsksTheLeastCertainFirst(t *testing.T) {
	var s []sample
	for i := range 200 {
		s = append(s, sample{Certainty: float64(i) / 200, Clear: i >= 100, Right: i >= 4 && i != 150, Writer: i % 7, Glyphs: []int{i / 2}})
	}
	g := account(s)
	assert.Equal(t, 200, g.Total)
	assert.Equal(t, 100, g.Clear)
	assert.Equal(t, 1, g.ClearWrong)
	assert.Equal(t, 1, g.WritersBad)
	assert.Equal(t, 50, g.GlyphFree, "each glyph counts once")
	assert.InDelta(t, 5.0/200, g.Curve[0][1], 1e-12, "nothing asked: all errors are left")
	assert.InDelta(t, 1.0/200, *g.WrongAt3pct, 1e-12, "the four least certain are the wrong ones")
	for i := 1; i < len(g.Curve); i++ {
		assert.LessOrEqual(t, g.Curve[i][1], g.Curve[i-1][1], "asking more leaves fewer wrong")
	}
	assert.Nil(t, account(nil))
}

// Shards of one run must not share a card.
func TestUnits_OfTwoShards_ShareNoSeed(t *testing.T) {
	seen := map[unit]bool{}
	for shard := 1; shard <= 4; shard++ {
		for _, u := range unitsOf(shard, shardSizes) {
			assert.False(t, seen[u], "%v", u)
			seen[u] = true
		}
	}
	assert.Len(t, seen, 4*(shardSizes.ordinary+shardSizes.hard+shardSizes.impossible))
}

// The other methods are compared on the photos that gatefold is, or it is no comparison.
func TestScoreboard_AllMethodsHadTheSamePhotos(t *testing.T) {
	r := readScoreboard(t)
	if len(r.Rivals) == 0 {
		t.Skip("the scoreboard has no comparison with other methods")
	}
	require.Len(t, r.Rivals, len(ways()))
	for i, m := range r.Rivals {
		assert.Equal(t, ways()[i].name, m.Name)
		assert.Equal(t, camera.LevelsHash(), m.Levels, m.Name)
		assert.NotContains(t, m.Commit, "dirty", m.Name)
		for _, level := range []string{camera.Ordinary, camera.Hard, camera.Impossible} {
			c, first := *m.level(level), *r.Rivals[0].level(level)
			require.NotNil(t, c, "%s %s", m.Name, level)
			assert.Equal(t, first.Seeds, c.Seeds, "%s %s", m.Name, level)
			assert.GreaterOrEqual(t, c.Seeds[0], uint64(2_000_000), "%s %s: seeds that were looked at", m.Name, level)
			assert.EqualValues(t, c.Seeds[1]-c.Seeds[0]+1, c.Total, "%s %s", m.Name, level)
			assert.Equal(t, c.Total, c.Found+c.Wrong+c.Refused, "%s %s", m.Name, level)
		}
	}
}

func TestRivalCounts_PercentilesAreOfRightOnesAndOfAll(t *testing.T) {
	var c rivalCounts
	c.add(scantest.Outcome{Verdict: scantest.Right, Errors: []float64{0.1, 0.3, 0.2}})
	c.add(scantest.Outcome{Verdict: scantest.Wrong, Errors: []float64{5, math.Inf(1), 7}})
	c.add(scantest.Outcome{Verdict: scantest.Refused})
	c.finish()
	assert.Equal(t, scanCounts{Total: 3, Found: 1, Wrong: 1, Refused: 1}, c.scanCounts)
	assert.InDelta(t, 0.2, *c.FoundMM.P50, 1e-12)
	assert.InDelta(t, 0.3, *c.FoundMM.P99, 1e-12)
	assert.InDelta(t, 5, *c.AllMM.P50, 1e-12)
	_, err := json.Marshal(c)
	require.NoError(t, err, "a corner behind the camera must not spoil the file")
	var b strings.Builder
	rivalsPart(&b, []rivalMethod{{Name: "m", Hard: &c, Impossible: &rivalCounts{scanCounts: scanCounts{Total: 4, Refused: 3}}}})
	assert.Contains(t, b.String(), "| m | hard | 3 | 1 | 1 | 1 | 0.20 | 0.30 | 5.00 | over 100 |")
	assert.Contains(t, b.String(), "m 1 of 4.")
}

// By hand; our own logic.
func TestByDigits(t *testing.T) {
	got := byDigits(map[string][]sample{
		"ordinary": {{Digits: 1, Clear: true, Right: true}, {Digits: 2}, {Clear: true}},
		"hard":     {{Digits: 2, Clear: true}, {Digits: 2, Clear: true, Right: true}},
	})
	require.Len(t, got, 2, "a sample that names no length is left out")
	require.Equal(t, &lengthCount{Total: 3, Clear: 2, ClearWrong: 1, Upper95: got[2].Upper95}, got[2])
	require.InDelta(t, 0.9747, got[2].Upper95, 0.0001, "Clopper and Pearson 1934: seeing at most 1 of 2 has probability 1-p*p")
}

// A shard that was cut off goes on where it was; what was half written, or read by another reader, is done again.
func TestPart_CutOff_GoesOn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "shard-001.part.jsonl")
	p, err := openPart(path, "now")
	require.NoError(t, err)
	first, second := newTally(), newTally()
	first.Rows, second.Rows = 3, 5
	require.NoError(t, p.keep(unit{camera.Hard, 7}, first))
	require.NoError(t, p.keep(unit{camera.Hard, 8}, second))
	require.NoError(t, p.file.Close())
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, data[:len(data)-9], 0o600))

	p, err = openPart(path, "now")
	require.NoError(t, err)
	require.Len(t, p.there, 1)
	assert.Equal(t, 3, p.there[unit{camera.Hard, 7}].Rows)
	require.NoError(t, p.keep(unit{camera.Hard, 8}, second))
	require.NoError(t, p.file.Close())
	total, err := measure(t.Context(), "part", nil, []unit{{camera.Hard, 7}, {camera.Hard, 8}}, &partFile{there: p.there})
	require.NoError(t, err)
	assert.Equal(t, 3, total.Rows)

	p, err = openPart(path, "now")
	require.NoError(t, err)
	assert.Len(t, p.there, 2)
	require.NoError(t, p.file.Close())
	p, err = openPart(path, "another")
	require.NoError(t, err)
	assert.Empty(t, p.there)
	require.NoError(t, p.file.Close())
}
